"""`measure.limbs`: which branch is which, in several poses and with limbs missing."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace.measure.branches import tree_of_bands
from autoplace.measure.cell_graph import NeighbourPairs
from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.limbs import branches_of, find_limbs, trunk_seed
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.blocks import CELL, block_body
from tests.mesh.capsule_figures import box, capsule, joined, limb_names, mirrored, one_skin

ALL = {("leg", "left"), ("leg", "right"), ("arm", "left"), ("arm", "right"), ("head", None)}
ARMS = {
    "level": (0.48, 0.78, 0.0),
    "raised": (0.36, 1.05, 0.0),
    "hanging": (0.22, 0.42, 0.0),
    "forward": (0.16, 0.78, 0.34),
}


MISSING = {
    ("arm", "right"): ("right_upper_arm", "right_forearm", "right_hand"),
    ("leg", "left"): ("left_thigh", "left_shank", "left_foot"),
}


@cache
def a_figure(missing: tuple[str, ...] = ()) -> Solid:
    """The capsule figure, standing in the working frame as it is made."""
    return fill_solid(*one_skin([name for name in limb_names() if name not in missing]), CELL)


def kinds(limbs: Limbs) -> set[tuple[str, str | None]]:
    return {(limb.kind, limb.side) for limb in limbs.limbs}


def test_a_figure_has_two_legs_two_arms_and_a_head():
    """A capsule figure has its five limbs, and nothing else was taken for one."""
    found = find_limbs(a_figure())
    assert kinds(found) == ALL
    assert len(found.limbs) == 5


def test_limbs_end_where_the_figure_does():
    """Legs end at the toes, arms at the fingertips and the head at the crown, within 3 cells."""
    found = find_limbs(a_figure())
    for side in ("left", "right"):
        hand, foot = mirrored(f"{side}_hand"), mirrored(f"{side}_foot")
        for kind, (start, end, _, radius) in (("arm", hand), ("leg", foot)):
            limb = found.one(kind, side)
            tip = end + radius * (end - start) / np.linalg.norm(end - start)
            assert np.linalg.norm(limb.line[-1] - tip) < 3 * CELL + radius
            near = np.linalg.norm(limb.cells - tip, axis=1).min()
            assert near < 2 * CELL
    assert found.one("head").cells[:, 1].max() == pytest.approx(1.0, abs=CELL)


def test_limbs_begin_at_the_trunk():
    """Every limb leaves from a band within the trunk, and its first point lies beside it."""
    for limb in find_limbs(a_figure()).limbs:
        assert abs(limb.junction[0]) < 0.09
        assert 0.44 < limb.junction[1] < 0.87
        assert np.linalg.norm(limb.line[0] - limb.junction) < 0.2


def test_cells_of_limbs_are_apart():
    """No cell belongs to two limbs, and the left ones lie to the left."""
    found = find_limbs(a_figure())
    keys = [tuple(row) for limb in found.limbs for row in np.round(limb.cells / CELL, 1)]
    assert len(set(keys)) == len(keys)
    for limb in found.limbs:
        if limb.side is not None:
            assert np.sign(np.median(limb.cells[:, 0])) == (1 if limb.side == "left" else -1)


@pytest.mark.parametrize("left", ARMS)
@pytest.mark.parametrize("right", ["level", "hanging"])
def test_arms_are_found_in_any_pose(left, right):
    """Level, raised over the head, hanging or stretched forward, alike or not: two arms."""
    ends = {"left": np.array(ARMS[left]), "right": np.array(ARMS[right]) * [-1, 1, 1]}
    found = find_limbs(block_body(ends))
    assert kinds(found) >= ALL
    for side, end in ends.items():
        assert np.linalg.norm(found.one("arm", side).line[-1] - end) < 0.05


@pytest.mark.parametrize("lost", MISSING, ids=lambda lost: "_".join(reversed(lost)))
def test_a_missing_limb_is_none_and_the_rest_stay(lost):
    """Without an arm or a leg that limb is None and all others are found."""
    found = find_limbs(a_figure(MISSING[lost]))
    assert found.one(*lost) is None
    assert kinds(found) == ALL - {lost}


def test_the_mirror_image_has_the_sides_swapped():
    """The mirrored solid of a figure with one raised arm has the same limbs on the other side."""
    ends = {"left": np.array(ARMS["raised"]), "right": np.array(ARMS["hanging"]) * [-1, 1, 1]}
    solid = block_body(ends)
    count = solid.coverage.shape[0]
    origin = solid.origin * [-1, 1, 1] - [(count - 1) * solid.cell, 0, 0]
    flipped = Solid(np.ascontiguousarray(solid.coverage[::-1]), origin, solid.cell)
    one, other = find_limbs(solid), find_limbs(flipped)
    for kind, side, twin in (("arm", "left", "right"), ("leg", "right", "left")):
        a, b = one.one(kind, side), other.one(kind, twin)
        assert np.linalg.norm(a.line[-1] * [-1, 1, 1] - b.line[-1]) < 2 * CELL
        assert len(a.cells) == pytest.approx(len(b.cells), rel=0.1)


def test_a_short_stump_is_no_limb():
    """A knob shorter than 7 percent of the height is not taken for a limb."""
    knob = capsule(np.array([0.09, 0.62, 0.0]), np.array([0.14, 0.62, 0.0]), 0.02, 0.02)
    vertices, faces = one_skin(limb_names())
    found = find_limbs(fill_solid(*joined((vertices, faces), knob), CELL))
    assert len(found.limbs) == 5


def test_the_seed_lies_in_the_trunk():
    """Distances start inside the trunk near the middle plane, whatever the arms do."""
    for end in ARMS.values():
        solid = block_body({"left": np.array(end)})
        seed = trunk_seed(solid)
        assert abs(seed[0]) < 0.03
        assert 0.48 < seed[1] < 0.62
        assert solid.depth_at(seed) > 0.03


def test_the_longest_limb_of_a_kind_counts():
    """Where two branches claim to be the left arm, the longer one is given."""

    def arm(length):
        line = np.array([[0, 0.7, 0], [length, 0.7, 0]])
        return Limb("arm", "left", line, np.ones(2), line[0], line)

    limbs = Limbs((arm(0.1), arm(0.3), arm(0.2)), np.zeros(3))
    assert limbs.one("arm", "left") is limbs.limbs[1]
    assert limbs.one("arm", "right") is None


def test_a_leg_that_is_stood_on_counts_before_what_hangs():
    """The end of a staff that leads down beside a short leg is longer than it, and no leg."""

    def leg(low, high):
        line = np.array([[0.1, high, 0], [0.1, low, 0]])
        return Limb("leg", "left", line, np.ones(2), line[0], line)

    limbs = Limbs((leg(0.1, 0.4), leg(0.0, 0.2)), np.zeros(3))
    assert limbs.one("leg", "left") is limbs.limbs[1]
    assert Limbs(limbs.limbs[:1], limbs.seed).one("leg", "left") is limbs.limbs[0]


def test_same_solid_same_bytes():
    """Nothing depends on chance."""
    one, two = find_limbs(a_figure()), find_limbs(a_figure())
    assert [a.line.tobytes() for a in one.limbs] == [b.line.tobytes() for b in two.limbs]


def chibi(*more, hand=(0.17, 0.15)):
    """A figure two heads tall: its head reaches down to its middle, its hands below its knees
    unless `hand` puts them elsewhere, aside and up."""
    end, high = hand
    pieces = [
        capsule(np.array((0.0, 0.74, 0.0)), np.array((0.0, 0.76, 0.0)), 0.23, 0.23),
        capsule(np.array((0.0, 0.30, 0.0)), np.array((0.0, 0.48, 0.0)), 0.09, 0.09),
    ]
    for x in (-1.0, 1.0):
        pieces += [
            capsule(np.array((0.05 * x, 0.28, 0.0)), np.array((0.06 * x, 0.04, 0.0)), 0.035, 0.035),
            capsule(np.array((0.06 * x, 0.03, 0.0)), np.array((0.06 * x, 0.03, 0.08)), 0.03, 0.03),
            capsule(np.array((0.06 * x, 0.44, 0.0)), np.array((end * x, high, 0.0)), 0.024, 0.024),
        ]
    return fill_solid(*joined(*pieces, *more), CELL)


def test_the_seed_of_a_large_headed_figure_is_in_its_trunk():
    """With legs that part at a quarter of the height, distances start below the head."""
    seed = find_limbs(chibi()).seed
    assert 0.26 < seed[1] < 0.48


def test_flaps_about_the_legs_leave_the_seed_in_the_trunk():
    """What hangs from the belt of a large-headed figure looks like legs, but clear of the floor."""
    flaps = [
        capsule(np.array((0.08 * x, 0.29, 0.0)), np.array((0.16 * x, 0.10, 0.0)), 0.015, 0.015)
        for x in (-1.0, 1.0)
    ]
    found = find_limbs(chibi(*flaps, hand=(0.32, 0.44)))
    assert 0.26 < found.seed[1] < 0.48
    for side in ("left", "right"):
        assert found.one("leg", side).line[-1, 1] < 0.06


def test_armour_of_the_thighs_is_no_pair_of_legs():
    """What hangs to the knees on both sides of two legs that stand is none, and neither is lost."""
    plates = [
        capsule(np.array((0.07 * x, 0.47, 0.0)), np.array((0.20 * x, 0.24, 0.0)), 0.015, 0.03)
        for x in (-1.0, 1.0)
    ]
    solid = fill_solid(*joined(one_skin(limb_names()), *plates), CELL)
    found = find_limbs(solid)
    legs = [limb for limb in found.limbs if limb.kind == "leg"]
    assert sorted(str(leg.side) for leg in legs) == ["left", "right"]
    assert max(leg.line[-1, 1] for leg in legs) < 0.06


def test_hands_below_the_knees_are_not_feet():
    """Arms of a large-headed figure end lower than an adult's knees and are arms."""
    found = find_limbs(chibi())
    assert kinds(found) >= ALL
    for side, sign in (("left", 1), ("right", -1)):
        assert found.one("arm", side).line[-1, 0] * sign > 0.13
        assert found.one("leg", side).line[-1, 1] < 0.06


def test_ears_that_hang_are_not_arms():
    """Long ears that begin at the top of the head leave the arms to be the arms."""
    ears = [
        capsule(np.array((0.12 * x, 0.95, 0.0)), np.array((0.33 * x, 0.93, 0.0)), 0.025, 0.025)
        for x in (-1.0, 1.0)
    ] + [
        capsule(np.array((0.33 * x, 0.93, 0.0)), np.array((0.36 * x, 0.45, 0.0)), 0.025, 0.025)
        for x in (-1.0, 1.0)
    ]
    found = find_limbs(chibi(*ears))
    for side in ("left", "right"):
        assert found.one("arm", side).line[-1, 1] < 0.3


def test_cheek_plates_of_a_helmet_are_not_arms():
    """Plates that stand beside the head leave the arms that hang below it to be the arms."""
    plates = [box((x - 0.03, 0.55, -0.12), (x + 0.03, 0.85, 0.12)) for x in (-0.27, 0.27)] + [
        box((-0.27, 0.82, -0.02), (0.27, 0.85, 0.02))
    ]
    found = find_limbs(chibi(*plates))
    for side in ("left", "right"):
        arm = found.one("arm", side)
        assert arm.line[0, 1] < 0.5
        assert arm.line[-1, 1] < 0.3


@pytest.mark.parametrize(("sign", "side"), [(-1.0, "right"), (1.0, "left")])
def test_a_head_that_leans_is_no_arm(sign, side):
    """Laid over one shoulder, it is the head all the same, and the arm of that side is below it."""
    body = one_skin([name for name in limb_names() if name not in ("neck", "head")])
    neck = capsule(np.array([0.03 * sign, 0.80, 0]), np.array([0.12 * sign, 0.88, 0]), 0.035, 0.03)
    head = capsule(np.array([0.13 * sign, 0.9, 0]), np.array([0.16 * sign, 0.97, 0]), 0.05, 0.055)
    found = find_limbs(fill_solid(*joined(body, neck, head), CELL))
    assert kinds(found) == ALL
    assert found.one("arm", side).line[-1, 1] < 0.6
    assert found.one("head").cells[:, 1].max() > 1.0


def test_the_seed_is_in_the_trunk_under_a_head_that_hovers():
    """A head apart from its trunk does not hold the seed: the legs are found below the trunk."""
    pieces = [
        capsule(np.array((0.0, 0.76, 0.0)), np.array((0.0, 0.78, 0.0)), 0.22, 0.22),
        capsule(np.array((0.0, 0.30, 0.0)), np.array((0.0, 0.42, 0.0)), 0.09, 0.09),
    ]
    for x in (-1.0, 1.0):
        pieces += [
            capsule(np.array((0.05 * x, 0.28, 0.0)), np.array((0.06 * x, 0.04, 0.0)), 0.035, 0.035),
            capsule(np.array((0.06 * x, 0.42, 0.0)), np.array((0.30 * x, 0.42, 0.0)), 0.03, 0.03),
        ]
    found = find_limbs(fill_solid(*joined(*pieces), CELL))
    assert 0.22 < found.seed[1] < 0.48
    assert {("leg", "left"), ("leg", "right"), ("arm", "left"), ("arm", "right")} <= kinds(found)


def test_arms_of_a_large_headed_figure_begin_low():
    """Shoulders at .27 of the height are shoulders where the legs part at .14."""
    pieces = [
        capsule(np.array((0.0, 0.66, 0.0)), np.array((0.0, 0.70, 0.0)), 0.30, 0.30),
        capsule(np.array((0.0, 0.20, 0.0)), np.array((0.0, 0.36, 0.0)), 0.075, 0.075),
    ]
    for x in (-1.0, 1.0):
        pieces += [
            capsule(np.array((0.04 * x, 0.16, 0.0)), np.array((0.05 * x, 0.03, 0.0)), 0.03, 0.028),
            capsule(np.array((0.05 * x, 0.25, 0.0)), np.array((0.25 * x, 0.19, 0.0)), 0.022, 0.02),
        ]
    found = find_limbs(fill_solid(*joined(*pieces), CELL))
    assert {("leg", "left"), ("leg", "right"), ("arm", "left"), ("arm", "right")} <= kinds(found)


def test_short_legs_under_a_high_hat_are_legs():
    """Legs that part at a tenth of the height, and are as thick as the trunk above, are found."""
    pieces = [
        capsule(np.array((0.0, 0.70, 0.0)), np.array((0.0, 0.90, 0.0)), 0.12, 0.08),
        capsule(np.array((0.0, 0.46, 0.0)), np.array((0.0, 0.48, 0.0)), 0.18, 0.18),
        capsule(np.array((0.0, 0.16, 0.0)), np.array((0.0, 0.26, 0.0)), 0.07, 0.07),
    ]
    for x in (-1.0, 1.0):
        pieces += [
            capsule(np.array((0.045 * x, 0.13, 0.0)), np.array((0.055 * x, 0.03, 0.0)), 0.03, 0.03),
            capsule(np.array((0.05 * x, 0.24, 0.0)), np.array((0.22 * x, 0.15, 0.0)), 0.022, 0.02),
        ]
    found = find_limbs(fill_solid(*joined(*pieces), CELL))
    assert {("leg", "left"), ("leg", "right")} <= kinds(found)
    assert found.seed[1] < 0.3


@pytest.mark.parametrize("half", [0.18, 0.20])
def test_where_the_head_parts_from_a_short_arm_no_fingers_do(half):
    """Less of an arm ahead is left beyond the band in which the neck parts from the shoulders than
    fingers are of a hand; it is an arm, and begins beyond that band."""
    pieces = [
        box((-0.1, 0.45, -0.06), (0.1, 0.8, 0.06)),
        box((-half, 0.74, -0.05), (half, 0.84, 0.05)),
        box((-0.05, 0.83, -0.06), (0.05, 1.0, 0.06)),
        box((half - 0.05, 0.6, -0.03), (half, 0.8, 0.03)),
        box((-half, 0.75, -0.03), (0.05 - half, 0.8, 0.23)),
        box((0.02, 0.0, -0.04), (0.1, 0.5, 0.04)),
        box((-0.1, 0.0, -0.04), (-0.02, 0.5, 0.04)),
    ]
    found = find_limbs(fill_solid(*joined(*pieces), CELL))
    assert kinds(found) == ALL
    assert abs(found.one("arm", "right").line[0][0]) > 0.1


def test_short_arms_that_hardly_leave_the_trunk_are_arms():
    """Of stubby arms of a large-headed figure a twentieth of its height is clear of the trunk."""
    found = find_limbs(chibi(hand=(0.17, 0.38)))
    for side, sign in (("left", 1), ("right", -1)):
        arm = found.one("arm", side)
        assert arm is not None
        assert arm.line[-1, 0] * sign > 0.14


def test_bands_may_begin_at_several_places():
    """Two lines of points, each begun at its own end, are a branch each; once, that never ended."""
    steps = np.arange(20)
    points = np.stack([np.r_[steps, steps], np.repeat([0.0, 5.0], 20), np.zeros(40)], axis=1)
    first = np.r_[steps[:-1], steps[:-1] + 20]
    pairs = NeighbourPairs(np.arange(40)[:, None], first, first + 1, np.ones(38))
    tree = tree_of_bands(pairs, points, np.array([0, 20]), np.zeros(2), 1.0)
    branches = branches_of(tree, 2.0)
    assert sorted(round(float(tree.centre[nodes[-1], 1])) for nodes in branches) == [0, 5]
    assert all(round(float(tree.centre[nodes[-1], 0])) == 19 for nodes in branches)
