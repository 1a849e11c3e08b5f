"""The net over half a trunk, on a body whose skin is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.limb_record import Limbs
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_net import ACROSS, BREADTH, EVERY, HEIGHTS, middle_net, trunk_nets
from autoplace.measure.trunk_shape import TrunkShape

CELL = 0.01
HALF, BACK, FRONT = 0.1, -0.06, 0.08
CROTCH, CHIN = 0.45, 0.85


def box(shift=0.0):
    """A trunk that is a box `HALF` wide to each side, moved to the left by `shift`."""
    count = (60, 100, 40)
    x, _, z = ((np.arange(n) + 0.5 - n / 2) * CELL for n in count)
    wide = np.clip((HALF - np.abs(x - shift)) / CELL + 0.5, 0.0, 1.0)
    deep = np.clip(np.minimum(z - BACK, FRONT - z) / CELL + 0.5, 0.0, 1.0)
    cover = np.broadcast_to(wide[:, None, None] * deep[None, None, :], count)
    origin = np.array([x[0], 0.5 * CELL, z[0]])
    return Solid(cover.astype(np.float32), origin, CELL)


def shape():
    y = np.linspace(CROTCH, 1.0, 80)
    even = np.ones_like(y)
    return TrunkShape(
        y=y,
        middle_x=0.0 * even,
        width=2 * HALF * even,
        front=FRONT * even,
        back=BACK * even,
        crotch=np.array([0.0, CROTCH, 0.0]),
        crown=np.array([0.0, 1.0, 0.0]),
        chin=np.array([0.0, CHIN, FRONT]),
        neck=np.array([0.0, 0.82, 0.0]),
        neck_radius=0.03,
        chin_seen=True,
    )


def nets(shift=0.0):
    limbs = Limbs((), seed=np.array([0.0, 0.6, 0.0]))
    return trunk_nets(box(shift), limbs, shape())


def test_a_box_is_read_as_deep_and_broad_as_it_is():
    """Front, back and side of every knot are where the box's skin is, as shares of the trunk."""
    net = nets()["left"]
    trunk, middle = CHIN - CROTCH, 0.5 * (FRONT + BACK)
    knots = net.values[: 2 * len(HEIGHTS) * len(ACROSS)].reshape(2, len(HEIGHTS), len(ACROSS))
    assert knots[0] == pytest.approx(np.full_like(knots[0], (FRONT - middle) / trunk), abs=1e-6)
    assert knots[1] == pytest.approx(np.full_like(knots[1], (BACK - middle) / trunk), abs=1e-6)
    side = net.values[knots.size : knots.size + len(HEIGHTS)]
    assert side == pytest.approx(np.full(len(HEIGHTS), HALF / trunk), abs=1e-6)
    told = np.array([HALF, 0.82 - CROTCH, 0.03, 1.0 - CHIN, CROTCH]) / trunk
    assert net.values[-5:] == pytest.approx(told, abs=1e-6)


@pytest.mark.parametrize(("low", "high", "told"), [(0.0, 0.4, BREADTH), (0.4, 1.0, EVERY)])
def test_a_part_of_a_net_is_what_lies_between_two_heights(low, high, told):
    """Front, back and side of the rows between, then the lengths asked for; places stay."""
    whole = nets()["left"]
    rows = np.array([low <= height <= high for height in HEIGHTS])
    knots = len(HEIGHTS) * len(ACROSS)
    numbered = replace(whole, values=np.arange(2.0 * knots + len(HEIGHTS) + 5))
    part = numbered.between(low, high, told)
    of_knots = np.repeat(rows, len(ACROSS))
    expected = np.r_[of_knots, of_knots, rows, np.isin(np.arange(5), np.arange(5)[told])]
    assert part.values.tolist() == np.flatnonzero(expected).tolist()
    at = np.array([0.2, 0.7, 0.1])
    assert part.point(at) == pytest.approx(whole.point(at))


def test_halves_mirror():
    """Both halves of an even body are the same, and a body shifted to its left is broader there."""
    even = nets()
    assert even["left"].values == pytest.approx(even["right"].values, abs=1e-6)
    moved = nets(0.02)
    sides = [moved[side].values[150:165] * (CHIN - CROTCH) for side in ("left", "right")]
    assert sides[0] == pytest.approx(np.full(15, HALF + 0.02), abs=1e-6)
    assert sides[1] == pytest.approx(np.full(15, HALF - 0.02), abs=1e-6)
    middle = middle_net(list(moved.values()))
    assert middle.values[150:165] * (CHIN - CROTCH) == pytest.approx(np.full(15, HALF), abs=1e-6)


def test_coordinates_go_outward_on_both_sides():
    """A point and its mirror image have the same coordinates, and are found again from them."""
    left, right = nets()["left"], nets()["right"]
    point = np.array([0.06, 0.5, -0.01])
    mirrored = point * [-1.0, 1.0, 1.0]
    assert left.coordinates(point) == pytest.approx(right.coordinates(mirrored))
    assert left.coordinates(point)[0] == pytest.approx(0.06 / 0.4)
    assert right.point(right.coordinates(mirrored)) == pytest.approx(mirrored)
    assert right.axes(np.zeros(3)) @ np.array([1.0, 0, 0]) == pytest.approx([-0.4, 0, 0])
