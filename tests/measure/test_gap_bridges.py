"""Bridges over the gaps between pieces of one body."""

from __future__ import annotations

import numpy as np

from autoplace.measure.cell_graph import neighbour_pairs
from autoplace.measure.gap_bridges import bridge_gaps


def boxes(*spans):
    """Cells of boxes along one axis: each span is a range of x, four by four cells across."""
    inside = np.zeros((40, 4, 4), dtype=bool)
    for low, high in spans:
        inside[low:high] = True
    return neighbour_pairs(inside)


def added(pairs, bridged):
    """The bridges' pairs as x indices."""
    extra = slice(len(pairs.first), None)
    ends = [pairs.index[i[extra], 0] for i in (bridged.first, bridged.second)]
    return set(zip(*ends, strict=True)), bridged.length[extra]


def test_one_piece_needs_no_bridge():
    """Cells that hang together are left as they are."""
    pairs = boxes((0, 20))
    assert bridge_gaps(pairs, 10.0) is pairs


def test_a_gap_is_bridged_at_its_own_width():
    """Two boxes three cells apart are joined over the gap, and the way across is four cells."""
    pairs = boxes((0, 10), (13, 20))
    ends, length = added(pairs, bridge_gaps(pairs, 5.0))
    assert {tuple(sorted(pair)) for pair in ends} == {(9, 13)}
    assert length.min() == 4.0


def test_a_wide_gap_stays():
    """A piece farther off than allowed is left alone."""
    pairs = boxes((0, 10), (20, 30))
    assert bridge_gaps(pairs, 5.0) is pairs


def test_pieces_are_joined_in_a_chain():
    """Three boxes in a row get two bridges, none over the middle one."""
    pairs = boxes((0, 10), (13, 20), (23, 30))
    ends, _ = added(pairs, bridge_gaps(pairs, 30.0))
    assert {tuple(sorted(pair)) for pair in ends} == {(9, 13), (19, 23)}


def test_crumbs_are_left_alone():
    """A piece of a few cells is not worth a bridge."""
    inside = np.zeros((40, 4, 4), dtype=bool)
    inside[:10] = True
    inside[12, 1, 1] = True
    pairs = neighbour_pairs(inside)
    assert bridge_gaps(pairs, 5.0) is pairs


def test_pieces_of_one_side_are_joined_before_those_of_both():
    """Two shanks nearer to one another than to their thighs hang from their thighs, with a trunk
    over both; without a known middle they hang together."""
    inside = np.zeros((20, 30, 4), dtype=bool)
    inside[2:18, 24:30] = True  # trunk
    for low in (2, 11):
        inside[low : low + 7, 13:20] = True  # thighs, four cells below it
        inside[low : low + 7, 0:9] = True  # shanks, four cells below these and two apart
    pairs = neighbour_pairs(inside)

    def level(bridged) -> set[bool]:
        extra = slice(len(pairs.first), None)
        ends = [pairs.index[i[extra]] for i in (bridged.first, bridged.second)]
        return {bool(one[1] == other[1]) for one, other in zip(*ends, strict=True)}

    assert level(bridge_gaps(pairs, 8.0, middle=9.5)) == {False}
    assert True in level(bridge_gaps(pairs, 8.0))


def test_a_long_piece_is_joined_by_its_end():
    """A forearm that hangs three cells beside the hip and five below its upper arm is joined to
    that, and the upper arm to the trunk."""
    inside = np.zeros((24, 50, 4), dtype=bool)
    inside[:10, :25] = True  # hips
    inside[:10, 27:50] = True  # chest
    inside[12:16, 30:50] = True  # upper arm
    inside[12:16, 5:26] = True  # forearm
    pairs = neighbour_pairs(inside)
    bridged = bridge_gaps(pairs, 8.0)
    extra = slice(len(pairs.first), None)
    ways = pairs.index[bridged.second[extra]] - pairs.index[bridged.first[extra]]
    along = {tuple(np.abs(way)) for way in ways if abs(way[1]) > 0}
    assert (0, 5, 0) in along  # over the elbow
    forearm = (pairs.index[bridged.first[extra]][:, 1] < 26) & (
        pairs.index[bridged.first[extra]][:, 0] >= 12
    )
    sideways = (np.abs(ways[:, 0]) > 0) & forearm
    assert not sideways.any()
