"""Which way a figure faces: toes reach ahead of the shin, a face is ahead of the neck.

Each clue gives a number between -1 and 1 and has a weight; the sum decides, and its size says how
sure the answer is. The weights are common practice, no source: feet point ahead in nearly every
character, while hoods, hair and helmets mislead about the head. What no clue tells clearly follows
the directions in use.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from autoplace.measure.footprints import beside_the_middle
from autoplace.measure.mirror_plane import cross
from autoplace.measure.samples import sample_surface

__all__ = ["Facing", "find_facing"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

EYES, FEET, HEAD, DETAIL, CUSTOM = 2.5, 1.0, 0.5, 0.5, 0.14
"""Weights of: the eyeballs (more than all else together); the feet; the head against the neck;
where the head's triangles are small; the directions in use."""
CLEAR = 0.15
"""A sum beyond this is clear."""
BEYOND_SHIN = 0.35
"""Share of its length by which a foot is longer than the shin is deep, from which on it counts in
full: a bare foot .6, a boot .4; a leg that ends flat has none (common practice, no source)."""
OVER_FOOT = 0.3
"""The shin is looked for over the foot and this share of its length ahead and behind: a cape or a
coat's tails that hang behind the legs are none (common practice, no source)."""
ABOVE_FOOT = 0.12
"""The shin's depth is taken below this height, where a large-headed figure has a shin still."""
SAMPLED = 1e-3
"""A plane may be off by this share of the height, and halves may end this near to it."""
LOWEST_TOP = 0.5
"""The figure's top on its middle plane is above this share of its height; ears, horns and raised
hands stand beside the plane above it (common practice, no source)."""
BIG = 0.2
"""Depth of a head of which more than the upper fifth of the figure is head, fraction of height."""
LEAST_DETAIL = 16
"""Triangles of a head from which on their sizes say anything."""
POINTS = 900
"""Samples on the lower legs, and on the head."""


@dataclass(frozen=True)
class Facing:
    """The answer and how sure it is."""

    forward: FloatArray
    """(3,) unit."""
    clear: bool
    why: str
    """What spoke for it, in plain words."""


@dataclass(frozen=True)
class _Figure:
    """The surface in a rough frame: across, along (up), ahead; the plane at across = 0."""

    across: FloatArray
    along: FloatArray
    ahead: FloatArray
    faces: IntArray
    normals: FloatArray
    area: FloatArray
    middle: FloatArray
    """(m,) height of each triangle's middle, share of the figure's height."""
    low: float
    span: float
    top: float
    """Height of the uppermost triangle that meets the plane, share of the figure's height."""

    def points(self, chosen: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Across, height share and ahead of samples on some of the triangles."""
        vertices = np.stack([self.across, self.along, self.ahead], axis=1)
        found = sample_surface(
            vertices, self.faces[chosen], POINTS, self.normals[chosen], self.area[chosen]
        ).points
        return found[:, 0], (found[:, 1] - self.low) / self.span, found[:, 2]


def find_facing(
    vertices: FloatArray,
    faces: IntArray,
    normals: FloatArray,
    area: FloatArray,
    frame: tuple[FloatArray, float, FloatArray],
    front: FloatArray | None,
) -> Facing:
    """Where a figure faces.

    Args:
        vertices: (n, 3), faces: (m, 3), normals: (m, 3) and area: (m,) of its surface.
        frame: the symmetry plane's unit normal (3,) and offset, and up (3,).
        front: (k, 3) points known to lie at the front of the head (eyeballs), or None.
    """
    normal, offset, up = frame
    ahead = cross(normal, up)
    along = vertices @ up
    a, b, c = (along[faces[:, corner]] for corner in range(3))
    low = float(min(a.min(), b.min(), c.min()))
    span = max(float(max(a.max(), b.max(), c.max())) - low, 1e-300)
    middle = ((a + b + c) / 3.0 - low) / span
    across = vertices @ normal - offset
    top = _top(across, along, faces, (low, span))
    figure = _Figure(across, along, vertices @ ahead, faces, normals, area, middle, low, span, top)
    eyes = 0.0
    if front is not None and len(front):
        eyes = _eyes(figure, (float(np.median(front @ up)) - low) / span, front @ ahead)
    feet = _feet(figure)
    head, detail = _head(figure)
    custom = _custom(up, ahead)
    total = EYES * eyes + FEET * feet + HEAD * head + DETAIL * detail + CUSTOM * custom
    sign = 1.0 if total >= 0 else -1.0
    clues = (
        ("eyes", eyes),
        ("toes", feet),
        ("head", head),
        ("face", detail),
    )
    said = [name for name, value in clues if sign * value > 0.1]
    words = " and ".join([*filter(None, [", ".join(said[:-1])]), *said[-1:]])
    why = f"{words} point there" if said else "nothing speaks clearly against it"
    return Facing(sign * ahead, abs(total) > CLEAR, why)


def _top(
    across: FloatArray, along: FloatArray, faces: IntArray, ends: tuple[float, float]
) -> float:
    """Height of the uppermost triangle that meets the plane, share of the figure's height; the
    figure's own where none is high enough for a head."""
    sides = [across[faces[:, corner]] for corner in range(3)]
    near = SAMPLED * ends[1]
    meets = np.minimum(np.minimum(*sides[:2]), sides[2]) <= near
    meets &= np.maximum(np.maximum(*sides[:2]), sides[2]) >= -near
    if not meets.any():
        return 1.0
    top = (float(along[faces[meets]].max()) - ends[0]) / ends[1]
    return top if top > LOWEST_TOP else 1.0


def _eyes(figure: _Figure, level: float, ahead: FloatArray) -> float:
    """How far eyeballs are ahead of the middle of the head at their height: nothing up to a
    twelfth of its depth (the sides of a bird's head), 1 from a fifth on."""
    near = np.abs(figure.middle - level) < 0.06
    if not near.any():
        return 0.0
    across, _, head = figure.points(near)
    back, front = np.percentile(head, [2, 98])
    beyond = float(np.median(ahead)) - _middle_of_outline(across, head)
    share = beyond / max(float(front - back), 1e-300)
    return float(np.sign(share) * np.clip((abs(share) - 1 / 12) / (1 / 5 - 1 / 12), 0.0, 1.0))


def _middle_of_outline(across: FloatArray, ahead: FloatArray) -> float:
    """Where the middle of the area lies that points (k,) draw a cord around. Under hair the skin is
    often a mask without a back, whose own middle lies in the face before the eyes."""
    points = np.stack([across, ahead], axis=1)
    try:
        ring = points[ConvexHull(points).vertices]
    except QhullError:  # a flat card
        return float(np.median(ahead))
    after = np.roll(ring, -1, axis=0)
    # the shoelace formula for the centre of a polygon's area
    twice = ring[:, 0] * after[:, 1] - after[:, 0] * ring[:, 1]
    return float((twice * (ring[:, 1] + after[:, 1])).sum() / (3.0 * twice.sum()))


def _feet(figure: _Figure) -> float:
    """Toes reach further ahead of the shin than the heel behind it; share of the foot's length."""
    lower = figure.middle < 0.24
    if not lower.any():
        return 0.0
    across, share, ahead = figure.points(lower)
    feet = share < 0.05
    at = np.stack([across[feet], figure.span * share[feet], ahead[feet]], axis=1)
    feet[feet] = beside_the_middle(at)
    votes = []
    for side in (across < 0.0, across >= 0.0):
        foot = side & feet
        if foot.sum() < 12:
            continue
        place = np.median(across[foot])
        # only the shin that stands over this foot: the other leg may be raised behind
        reach = max(float(np.ptp(np.percentile(across[foot], [5, 95]))), 0.05 * figure.span)
        back, front = np.percentile(ahead[foot], [2, 98])
        length = max(float(front - back), 1e-300)
        over = side & (np.abs(across - place) < reach)
        over &= (ahead > back - OVER_FOOT * length) & (ahead < front + OVER_FOOT * length)
        shank = over & (share > 0.07) & (share < 0.2)
        if shank.sum() < 8:
            continue
        # a shin leans over its foot where the knee is bent: it is met where it ends
        slope, shin = np.polyfit(share[shank] - 0.06, ahead[shank], 1)
        low = shank & (share < ABOVE_FOOT)
        beside = ahead[low] - slope * (share[low] - 0.06) if low.sum() > 8 else ahead[shank]
        deep = float(np.ptp(np.percentile(beside, [2, 98])))
        # a raised foot shows its toes alone; what it says counts as little as it is long
        sound = min(length / (0.08 * figure.span), 1.0)
        sound *= float(np.clip((length - deep) / (BEYOND_SHIN * length), 0.0, 1.0))
        votes.append(sound * np.clip((front + back - 2.0 * shin) / length, -1.0, 1.0))
    return float(np.mean(votes)) if votes else 0.0


def _head(figure: _Figure) -> tuple[float, float]:
    """How far the head is ahead of the neck, and its small triangles of its surface; shares of
    its depth."""
    middle = figure.middle / figure.top
    upper = (middle > 0.75) & (middle < 1.0)
    if not upper.any():
        return 0.0, 0.0
    across, share, ahead = figure.points(upper)
    share = share / figure.top
    near = (np.abs(across) < 0.1 * figure.span) & (share <= 1.0)
    head, neck = ahead[near & (share > 0.9)], ahead[near & (share > 0.8) & (share < 0.87)]
    big = _is_big(ahead[near & (share > 0.8)], figure)
    if len(head) < 20:
        return 0.0, 0.0
    depth = max(float(np.ptp(np.percentile(head, [2, 98]))), 1e-300)
    # means, since of a box's front and back the median is either
    lean = float(head.mean() - neck.mean()) / depth if len(neck) >= 20 else 0.0
    if big:
        lean = 0.0  # it has no neck at the height of people's
    high = (middle > 0.85) & (middle < 1.0)
    rows = figure.faces[high]
    centre_across = np.abs(figure.across[rows].mean(axis=1))
    own = centre_across < 0.15 * figure.span
    if own.sum() < LEAST_DETAIL:
        return float(np.clip(lean, -1, 1)), 0.0
    middles = figure.ahead[rows[own]].mean(axis=1)
    by_area = figure.area[high][own]
    detail = float(middles.mean() - middles @ by_area / max(float(by_area.sum()), 1e-300)) / depth
    return float(np.clip(lean, -1, 1)), float(np.clip(2.0 * detail, -1, 1))


def _is_big(ahead: FloatArray, figure: _Figure) -> bool:
    """Is what lies in the upper fifth so deep that it is part of a big head alone?"""
    return len(ahead) > 0 and float(np.ptp(np.percentile(ahead, [2, 98]))) > BIG * figure.span


def _custom(up: FloatArray, ahead: FloatArray) -> float:
    """Figures that stand on +Y mostly face +Z, those that stand on +Z mostly -Y."""
    if up[1] > 0.99:
        return float(np.sign(ahead[2])) if abs(ahead[2]) > 0.99 else 0.0
    if up[2] > 0.99:
        return -float(np.sign(ahead[1])) if abs(ahead[1]) > 0.99 else 0.0
    return 0.0
