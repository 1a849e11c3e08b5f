"""What hangs from a belt is told from the arms, and a waist from a neck."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.arm_gap import find_piece_arms
from autoplace.measure.belted import Hanging, belted
from autoplace.measure.limbs import find_limbs
from autoplace.measure.piece_arms import limbs_with_pieces
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.trunk_ends import neck_height
from tests.measure.blocks import CELL
from tests.mesh.capsule_figures import box, capsule, joined

SIDES = {"left": 1.0, "right": -1.0}


def wasp(neck: float, arm_end: tuple[float, float, float], *, flaps: bool = True):
    """A figure broad of chest over a narrow waist, with a neck so broad, arms and flaps that hang
    from its belt: its meshes."""
    meshes = [
        box((-0.12, 0.44, -0.08), (0.12, 0.53, 0.08)),
        box((-0.06, 0.52, -0.06), (0.06, 0.60, 0.06)),
        box((-0.16, 0.59, -0.10), (0.16, 0.80, 0.10)),
        box((-neck, 0.79, -neck), (neck, 0.86, neck)),
        box((-0.08, 0.85, -0.09), (0.08, 1.0, 0.09)),
    ]
    for x in SIDES.values():
        meshes += [
            capsule(np.array((0.07 * x, 0.46, 0)), np.array((0.08 * x, 0.05, 0)), 0.05, 0.04),
            capsule(np.array((0.13 * x, 0.75, 0)), np.array(arm_end) * [x, 1, 1], 0.04, 0.03),
        ]
        if flaps:
            meshes.append(
                capsule(np.array((0.11 * x, 0.49, 0)), np.array((0.2 * x, 0.24, 0)), 0.018, 0.018)
            )
    return meshes


def solid_of(meshes) -> Solid:
    return fill_solid(*joined(*meshes), CELL)


@pytest.mark.parametrize("neck", [0.03, 0.07], ids=["a neck", "hardly a neck"])
@pytest.mark.parametrize("end", [(0.40, 0.50, 0.0), (0.46, 0.75, 0.0)], ids=["A", "T"])
def test_arms_are_found_over_flaps_and_a_waist(neck, end):
    """Though the waist is narrower than the neck, the arms are the arms and the flaps none."""
    found = find_limbs(solid_of(wasp(neck, end)))
    for side, sign in SIDES.items():
        arms = [limb for limb in found.limbs if limb.kind == "arm" and limb.side == side]
        assert len(arms) == 1
        tip = np.array(end) * [sign, 1, 1]
        assert np.linalg.norm(arms[0].cells - tip, axis=1).min() < 3 * CELL


def test_flaps_that_are_pieces_are_no_arms():
    """Pieces of the mesh that hang from the belt do not take the arms' place."""
    meshes = wasp(0.03, (0.40, 0.50, 0.0))
    solid = solid_of(meshes)
    flaps = find_piece_arms(solid, [v[f] for v, f in meshes if v[:, 1].max() < 0.55])
    assert {piece.side for piece in flaps} == set(SIDES)
    _, limbs = limbs_with_pieces(solid, flaps)
    for side, sign in SIDES.items():
        assert limbs.one("arm", side).line[-1, 0] * sign > 0.35


def test_without_flaps_nothing_is_lost():
    """The same figure without flaps has its two arms."""
    found = find_limbs(solid_of(wasp(0.03, (0.40, 0.50, 0.0), flaps=False)))
    assert all(found.one("arm", side) is not None for side in SIDES)


def test_wings_leave_the_arms_to_be_the_arms():
    """Wings are longer than arms, but leave the trunk to the back and not to its side."""
    meshes = wasp(0.03, (0.34, 0.48, 0.0), flaps=False)
    for x in SIDES.values():
        root, tip = np.array((0.04 * x, 0.70, -0.08)), np.array((0.55 * x, 0.85, -0.30))
        bend = np.array((0.06 * x, 0.72, -0.2))
        meshes += [capsule(root, bend, 0.02, 0.02), capsule(bend, tip, 0.02, 0.015)]
    found = find_limbs(solid_of(meshes))
    for side in SIDES:
        assert found.one("arm", side).line[-1, 1] < 0.6


def test_what_a_hand_ends_in_does_not_cost_the_arm():
    """Below a waist that passes for a neck, a long finger is no arm that begins lower than it."""
    meshes = wasp(0.09, (0.34, 0.52, 0.0), flaps=False)
    for x in SIDES.values():
        for z in (-0.05, 0.05):
            end = np.array((0.38 * x, 0.43, z))
            meshes.append(capsule(np.array((0.34 * x, 0.52, 0)), end, 0.015, 0.012))
    solid = solid_of(meshes)
    assert neck_height(solid) < 0.62
    found = find_limbs(solid)
    for side in SIDES:
        assert found.one("arm", side).line[0, 1] > 0.6


def test_a_thing_hangs_from_a_belt_only_below_a_longer_thicker_arm():
    """Each of these keeps a thing from being a flap: that it begins high, that it reaches farther,
    that it is thicker, that it lies on the other side."""
    solid = solid_of(wasp(0.03, (0.40, 0.50, 0.0)))
    arm = Hanging("left", 0.70, 0.75, 0.45, 0.40, 900)

    def is_hung(begins=0.5, reach=0.3, cells=300, side="left"):
        thing = Hanging(side, begins, begins, reach, 0.2, cells)
        return bool(belted([arm], [thing], solid, 0.82, 0.44)[0])

    assert is_hung()
    assert not is_hung(begins=0.68)
    assert not is_hung(reach=0.5)
    assert not is_hung(cells=3700)
    assert not is_hung(side="right")


def test_flaps_of_both_sides_go_together():
    """Where the other side's arm does not show, its flap at the same height goes too."""
    solid = solid_of(wasp(0.03, (0.40, 0.50, 0.0)))
    arm = Hanging("left", 0.70, 0.75, 0.45, 0.40, 900)
    flaps = [Hanging(side, 0.5, 0.5, 0.3, 0.2, 300) for side in SIDES]
    assert belted([arm], flaps, solid, 0.82, 0.44).tolist() == [True, True]
    assert belted([], flaps, solid, 0.82, 0.44).tolist() == [False, False]


def test_a_short_arm_below_the_neck_is_an_arm_though_a_flap_is_thicker():
    """Where the neck hides over the arm, it is told by its thickness."""
    solid = solid_of(wasp(0.03, (0.40, 0.50, 0.0)))
    arm = Hanging("left", 0.70, 0.75, 0.45, 0.40, 200)
    flap = Hanging("left", 0.5, 0.5, 0.3, 0.2, 300)
    assert belted([arm], [flap], solid, 0.82, 0.44).tolist() == [True]
    assert belted([arm], [flap], solid, np.inf, 0.44).tolist() == [False]
