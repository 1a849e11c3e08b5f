"""A hem is told from a crotch by how much of the body ends there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.measure.hem import find_hem, limbs_below
from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.limbs import find_limbs
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.trunk_ends import parting_of_legs
from autoplace.measure.trunk_shape import measure_trunk
from autoplace.mesh.load import character_from_arrays
from autoplace.pipeline import place
from tests.measure.blocks import CELL, CROTCH, LEG_HALF, LEG_X, T_ARM, block_meshes, limb_of
from tests.mesh.capsule_figures import Mesh, box, capsule, joined
from tests.place.test_leg_cover import tube

WAIST = 0.56


def skirt(hem: float, slope: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """A closed cone from the waist to a hem, twice as wide there; the hem rises to the front by
    `slope` of its depth."""
    sides = tube(0.24, hem, WAIST)
    sides[..., [0, 2]] *= np.interp(sides[..., 1:2], [hem, WAIST], [1.0, 0.4])
    rim = tube(0.24, hem, hem + 1e-9)[:32, [1, 0]]
    lid = np.concatenate([rim, np.tile([[[0.0, hem, 0.0]]], (len(rim), 1, 1))], axis=1)
    top = tube(0.096, WAIST, WAIST + 1e-9)[:32, :2]
    cap = np.concatenate([top, np.tile([[[0.0, WAIST, 0.0]]], (len(top), 1, 1))], axis=1)
    corners = np.concatenate([sides, lid, cap])
    low = np.interp(corners[..., 1], [hem, WAIST], [1.0, 0.0])
    corners[..., 1] += low * slope * (corners[..., 2] + 0.24)
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def figure(hem: float | None, slope: float = 0.0) -> tuple[Solid, Limbs]:
    """The block figure with a waist, in a skirt or without one, and its two arms."""
    meshes = block_meshes()
    if hem is not None:
        meshes.append(skirt(hem, slope))
    solid = fill_solid(*joined(*meshes), CELL)
    arms = []
    for side, sign in (("left", 1.0), ("right", -1.0)):
        line = np.array([[0.10, 0.78, 0.0], T_ARM]) * [sign, 1.0, 1.0]
        arms.append(limb_of(solid, "arm", side, line, 0.04))
    return solid, Limbs(tuple(arms), np.array([0.0, 0.65, 0.0]))


def found(hem: float | None, slope: float = 0.0):
    solid, limbs = figure(hem, slope)
    return find_hem(solid, limbs, measure_trunk(solid, limbs)), solid, limbs


def test_legs_to_the_crotch_have_no_hem():
    """Two thighs below a trunk are no hem."""
    assert found(None)[0] is None


@pytest.mark.parametrize("height", [0.15, 0.25])
def test_hem_is_where_the_skirt_ends(height):
    """The hem is found to a cell, and both feet show below it where they stand."""
    hem, _, _ = found(height)
    assert hem is not None
    assert hem.height == pytest.approx(height, abs=1.5 * CELL)
    assert set(hem.shown) == {"left", "right"}
    assert hem.shown["left"].top[0] == pytest.approx(LEG_X, abs=CELL)
    assert hem.shown["left"].high[0] == pytest.approx(LEG_X + LEG_HALF, abs=1.5 * CELL)


@pytest.mark.parametrize("slope", [0.1, 0.2, 0.3])
def test_hem_that_slopes_is_one(slope):
    """A skirt longer behind than in front has its hem between the two ends."""
    hem, _, _ = found(0.15, slope)
    assert hem is not None
    assert 0.15 < hem.height < 0.15 + 0.48 * slope
    assert set(hem.shown) == {"left", "right"}


def test_skirt_to_the_floor_has_its_hem_there():
    """What reaches the floor as one mass has its hem at zero, and no leg shows."""
    hem, _, _ = found(0.0)
    assert hem is not None
    assert hem.height == 0.0
    assert hem.shown == {}
    assert hem.narrowing > 0.95  # the block trunk has no waist


def test_without_two_arms_or_a_head_nothing_is_called_a_skirt():
    """A mass on the floor with one arm and nothing over it may be anything."""
    solid, limbs = figure(0.0)
    one = Limbs(limbs.limbs[:1], limbs.seed)
    trunk = replace(measure_trunk(solid, limbs), chin_seen=False)
    assert find_hem(solid, one, trunk) is None


def unlike(solid: Solid, limbs: Limbs) -> list[Limb]:
    """A whole arm, and of the other only what is below the elbow, from a hip with a hand on it."""
    line = np.array([[-0.13, 0.5, 0.0], [-0.18, 0.53, 0.02]])
    return [limbs.limbs[0], limb_of(solid, "arm", "right", line, 0.04)]


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("height", [0.0, 0.15])
@pytest.mark.parametrize("chin", [True, False], ids=["chin", "branch"])
def test_a_head_over_arms_that_are_unlike_tells_a_skirt(height, count, chin):
    """A hem is found in any pose of the arms, if one of them shows with a head above it, and the
    waist below the higher one."""
    solid, limbs = figure(height)
    arms = unlike(solid, limbs)[:count]
    head = limb_of(solid, "head", None, np.array([[0.0, 0.86, 0.0], [0.0, 0.97, 0.0]]), 0.05)
    trunk = replace(measure_trunk(solid, limbs), chin_seen=chin)
    hem = find_hem(solid, Limbs((*arms, *([] if chin else [head])), limbs.seed), trunk)
    assert hem is not None
    assert hem.height == pytest.approx(height, abs=1.5 * CELL)
    assert hem.waist > 0.5


def test_an_arm_below_the_hem_may_be_a_leg():
    """A leg that was taken for an arm leaves half of the legs below broad hips, and their crotch is
    no hem for it."""
    hips = box((-0.15, CROTCH, -0.07), (0.15, WAIST, 0.06))
    solid, limbs = fill_solid(*joined(*block_meshes(), hips), CELL), figure(None)[1]
    leg = limb_of(solid, "arm", "right", np.array([[-0.06, 0.46, 0.0], [-0.06, 0.02, 0.0]]), 0.06)
    odd = Limbs((limbs.limbs[0], leg), limbs.seed)
    trunk = measure_trunk(solid, limbs)
    assert trunk.chin_seen
    assert find_hem(solid, odd, trunk) is None


def straight_gown(neck: float, arms: tuple[float, ...] = (1.0, -1.0)) -> Mesh:
    """A column that ends at the ankles of two feet, with a neck at a height, a head, and arms on
    the sides that are told."""
    feet = [
        box((x - 0.04, low, -0.05), (x + 0.04, high, front))
        for x in (LEG_X, -LEG_X)
        for low, high, front in ((0.0, 0.1, 0.035), (0.0, 0.04, 0.1))
    ]
    shoulder, head = neck - 0.04, 0.6 * (1.0 - neck)
    gown = box((-0.11, 0.065, -0.07), (0.11, shoulder, 0.06))
    throat = box((-0.03, shoulder - 0.02, -0.035), (0.03, neck + 0.02, 0.025))
    skull = box((-head, neck, -head), (head, 1.0, 1.2 * head))
    rods = [
        capsule(
            np.array([0.08 * x, shoulder - 0.05, 0.0]),
            T_ARM * [x, 0, 1] + [0, shoulder, 0],
            0.03,
            0.025,
        )
        for x in arms
    ]
    return joined(*feet, gown, throat, skull, *rods)


def test_a_straight_gown_under_a_grown_head_hides_the_legs():
    """A body under a small head that parts at the ankles has its legs in a gown that is no broader
    at the hem than at the waist; under a head of half the height these are its legs."""
    for neck, hidden in ((0.86, True), (0.5, False)):
        solid = fill_solid(*straight_gown(neck), CELL)
        assert (parting_of_legs(solid) is None) == hidden
        limbs = find_limbs(solid)
        hem = find_hem(solid, limbs, measure_trunk(solid, limbs))
        assert (hem is not None) == hidden


def test_a_gown_with_one_arm_is_a_figure_however_it_is_turned():
    """The other arm is held against the body, and the file turns it on the spot: the gown is seen
    before it is judged how many limbs stand out."""
    hangs = capsule(np.array([0.09, 0.77, 0.0]), np.array([0.22, 0.48, 0.02]), 0.03, 0.025)
    vertices, faces = joined(straight_gown(0.86, arms=()), hangs)
    turned = Rotation.from_euler("y", 20.0, degrees=True).apply(vertices)
    character = character_from_arrays({"skin": (turned, faces)})
    found = place(character, roles={"skin": "body"})
    for side in ("left", "right"):
        assert 0.4 < found.skeleton[f"{side}_hip"].position[1] < 0.6
    assert "left_wrist" in found.skeleton


def test_folds_of_a_skirt_are_no_legs():
    """A branch that runs down inside the skirt is dropped, a leg that shows below it is kept."""
    hem, solid, limbs = found(0.25)
    assert hem is not None
    fold = limb_of(solid, "leg", "left", np.array([[0.05, 0.5, 0.1], [0.1, 0.27, 0.1]]), 0.04)
    leg = limb_of(solid, "leg", "right", np.array([[-0.06, 0.22, 0.0], [-0.06, 0.02, 0.0]]), 0.05)
    kept = limbs_below(Limbs((*limbs.limbs, fold, leg), limbs.seed), hem)
    assert [limb.side for limb in kept.limbs if limb.kind == "leg"] == ["right"]
    assert len([limb for limb in kept.limbs if limb.kind == "arm"]) == 2
