"""Where two legs join, whichever side of the middle plane they are on.

In a stride, or with the weight on one leg, a leg crosses the middle plane, which then seems to lie
in the trunk from the knee up. The level cuts tell better: two legs are two regions of like area, or
two lobes of one where the thighs touch, from the shanks up to the crotch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.trunk_gaps import HEM_LOSS, SLOPE

__all__ = ["legs_join"]

BoolArray = NDArray[np.bool_]

ABOVE_SOLES = 0.06
"""Two legs are looked for from this height up, over shoes and trains (common practice, no
source)."""
HIGHEST = 0.62
"""A crotch lies below this height: legs of a drawn figure take .6 of it."""
MOST = 0.8
"""Share of a cut that two legs have at least: with more beside them, arms, a cape or a long tail,
they are not told apart (common practice, no source)."""
ALIKE = 0.3
"""Area of the smaller of two legs over that of the larger one, at least: a shank beside the other
leg's thigh has half of it (common practice, no source)."""
LOBES = 0.6
"""Two thighs touch where the cut between them is thinner than this share of both (as
`trunk_shape.CONTACT`)."""
GROWTH = 1.25
"""Two legs have at most so many times the area that they have one level lower; at a hem the skirt
is added to them, at a raised knee the thigh (common practice, no source; thighs grow by a fiftieth
from one level of the body's grid to the next)."""
LEAST_RUN = 0.1
"""Height over which two legs are apart at least: a stretch of leg, and no gap between two straps
or the fingers of a hand (common practice, no source)."""
LEAST_HIGHER = 0.03
"""Legs that join so much above where the middle plane is left have one of them in it; less is the
crotch's own shape (common practice, no source)."""


@dataclass(frozen=True)
class _Pair:
    """The regions of two legs in one level cut, (nx, nz) each."""

    one: BoolArray
    other: BoolArray
    area: int
    """Cells of the cut's regions that they are, or are lobes of."""


def legs_join(inside: BoolArray, low: int, cell: float) -> int | None:
    """The level at which two legs join, if that is clearly above where the middle plane is left.

    Args:
        inside: (nx, ny, nz) cells of the body, the floor at its lowest filled level.
        low: lowest level of the trunk as the middle plane shows it. cell: size, fraction of height.

    Returns:
        The lowest level of the trunk above them, or None where the middle plane shows it.
    """
    floor = int(np.argmax(inside.any(axis=(0, 2))))
    row, top = floor + round(ABOVE_SOLES / cell), floor + round(HIGHEST / cell)
    start = max(low, row)
    while row <= start:
        legs = _pair(inside[:, row])
        begin = row
        while legs is not None and row < top:
            row += 1
            above = _followed(inside[:, row], legs)
            if above is None:
                far = (row - begin) * cell >= LEAST_RUN and (row - low) * cell > LEAST_HIGHER
                over = inside[:, row : row + round(SLOPE / cell)]
                if far and _joined(inside[:, row], legs) and not _is_hem(over, legs):
                    return row
            legs = above
        row += 1
    return None


def _pair(cut: BoolArray) -> _Pair | None:
    """Two regions of like area that have nearly all of a level cut."""
    labels, count = ndimage.label(cut)
    if count < 2:
        return None
    sizes = np.bincount(labels.ravel())[1:]
    order = np.argsort(-sizes, kind="stable")
    large, small = int(sizes[order[0]]), int(sizes[order[1]])
    if small < ALIKE * large or large + small < MOST * int(sizes.sum()):
        return None
    return _Pair(labels == order[0] + 1, labels == order[1] + 1, large + small)


def _followed(cut: BoolArray, below: _Pair) -> _Pair | None:
    """The same two legs one level higher, as regions or as lobes of one; None where they join, one
    of them ends, or something else is added to them."""
    labels, _ = ndimage.label(cut)
    found = [_most_common(labels[leg]) for leg in (below.one, below.other)]
    one, other = labels == found[0], labels == found[1]
    area = int((one | other).sum())
    if not all(found) or area > GROWTH * below.area:
        return None
    if found[0] != found[1]:
        return _Pair(one, other, area)
    # how far each cell lies inside, and where that is most within each leg
    depth = ndimage.distance_transform_edt(np.pad(one, 1))[1:-1, 1:-1]
    peaks = [np.where(leg, depth, 0.0) for leg in (below.one, below.other)]
    thick = min(float(peak.max()) for peak in peaks)
    lobes, _ = ndimage.label(depth > LOBES * thick)
    at = [int(lobes.ravel()[int(peak.argmax())]) for peak in peaks]
    if not all(at) or at[0] == at[1]:
        return None
    return _Pair(lobes == at[0], lobes == at[1], area)


def _joined(cut: BoolArray, below: _Pair) -> bool:
    """Are two legs one region in this cut?"""
    labels, _ = ndimage.label(cut)
    one, other = _most_common(labels[below.one]), _most_common(labels[below.other])
    return one == other > 0


def _is_hem(cuts: BoolArray, below: _Pair) -> bool:
    """Does a skirt end over two legs, rather than thighs meet a trunk? `cuts` (nx, n, nz) are the
    levels over them, as many as a hem may slope."""
    region, fullest = below.one | below.other, 0
    for row in range(cuts.shape[1]):
        labels, _ = ndimage.label(cuts[:, row])
        found = _most_common(labels[region])
        if not found:
            break
        region = labels == found
        fullest = max(fullest, int(region.sum()))
    return fullest > HEM_LOSS * below.area


def _most_common(labels: NDArray[np.integer]) -> int:
    """The label above zero that most have; zero where none has one."""
    counts = np.bincount(labels[labels > 0]) if (labels > 0).any() else np.zeros(1, dtype=np.int64)
    return int(counts.argmax())
