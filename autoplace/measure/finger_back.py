"""The skin along the back of a finger and of the hand behind it: it bends over the joints.

Over a knuckle the back of the hand turns down into the finger, and there is a bump besides; over
the middle joint there is a smaller one. Both show as a place where the skin, followed from the
wrist to the fingertip, turns towards the palm. The amount of turn at a place is the hinge that
least-squares fits to the skin on either side of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_line import FingerLine
from autoplace.measure.hand_region import HandRegion

__all__ = ["BackProfile", "trace_back"]

FloatArray = NDArray[np.float64]

STEP = 0.15
"""Distance of the places on the skin, in radii of the finger."""
HINGE = 2.0
"""Length of skin on either side of a place that its turn is fitted to, in radii: shorter than the
shortest bone, a little finger's end bone at about three (references: 16 mm by 5 mm)."""
REACH = 5.0
"""How far from the path the skin may lie, in radii."""
WAY = 0.06
"""Step of the search for the skin, in radii."""
WEB_PULL = 1.5
"""How far the web pulls a finger's sections to its side, in radii from where the gap is filled: the
edge of the skin lies a radius beyond that, and the line is smoothed over half a radius."""


@dataclass(frozen=True)
class BackProfile:
    """The skin along the back of one finger and of its metacarpal. Working frame."""

    arc: FloatArray
    """(n,) length along the finger's line from the web; negative on the back of the hand."""
    skin: FloatArray
    """(n, 3) the skin there."""
    back: FloatArray
    """(n, 3) unit, from the path to the skin."""
    turn: FloatArray
    """(n,) turn of the skin towards the palm, radians; NaN near the ends."""
    path: FloatArray
    """(n, 3) the path underneath: the finger's line, then straight to the metacarpal's base."""

    def at(self, arc: float) -> tuple[FloatArray, FloatArray]:
        """Skin (3,) and the direction towards it (3,) at a length along the line."""
        skin = np.array([np.interp(arc, self.arc, self.skin[:, i]) for i in range(3)])
        back = np.array([np.interp(arc, self.arc, self.back[:, i]) for i in range(3)])
        return skin, back / np.linalg.norm(back)


def trace_back(
    region: HandRegion,
    line: FingerLine,
    base: FloatArray,
    palm_normal: FloatArray,
    thumb: bool = False,
) -> BackProfile | None:
    """Follow the skin of the back from the metacarpal's base to the fingertip.

    Args:
        region: the hand's volume.
        line: the finger's centreline, working frame.
        base: (3,) where its metacarpal begins, working frame.
        palm_normal: (3,) unit, out of the palm.
        thumb: the finger is a thumb: no web of two fingers pulls at it, and it never folds over.

    Returns:
        The profile, or None when no skin is found along most of the way.
    """
    radius = line.typical_radius()
    root = line.at(0.0)
    behind = float(np.linalg.norm(root - base))
    straight = (root - base) / behind
    arc = np.arange(-0.9 * behind, line.arc[-1] - 0.4 * radius, STEP * radius)
    if len(arc) < 12:
        return None
    # at its knuckle the finger still lies in the axis of its part that is free of the web
    middle, aim = line.axis_from(0.0 if thumb else WEB_PULL * radius)
    side = np.cross(palm_normal, straight)
    side /= np.linalg.norm(side)
    # the more a finger points out of the hand's plane, the less it tells of where its knuckle is
    flat = float(np.clip(2.0 * np.dot(aim, straight), 0.0, 1.0))
    pull = flat * float((middle + aim * np.dot(root - middle, aim) - root) @ side) * side
    # a finger's plane holds its knuckle and the palm's normal: seen along that it is a line
    splay = flat * float(np.arctan2(aim @ side, abs(aim @ straight)))
    turned = np.cos(splay) * straight + np.sin(splay) * side
    inner = line.at(np.maximum(arc, 0.0))
    if not thumb:
        inner += np.clip(1.0 - arc / (WEB_PULL * radius), 0.0, 1.0)[:, None] * pull
    path = inner + np.minimum(arc, 0.0)[:, None] * turned
    along = np.gradient(path, axis=0)
    # the corner at the web is rounded, lest the search directions cross
    window = np.ones(2 * int(1.0 / STEP) + 1)
    along = np.stack(
        [
            np.convolve(np.pad(along[:, i], len(window) // 2, mode="edge"), window, "valid")
            for i in range(3)
        ],
        axis=1,
    )
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    back = along * (along @ palm_normal)[:, None] - palm_normal
    if not thumb:
        # the back of a finger turns over with it when it is folded
        back = np.cross(side, along)
    back /= np.linalg.norm(back, axis=1, keepdims=True)
    ways = np.arange(0.0, REACH, WAY) * radius
    places = region.to_hand(path[:, None] + ways[:, None] * back[:, None])
    height, good = _heights(region.solid.sample(places), arc)
    if good < 0.6:
        return None
    skin = path + (height * WAY * radius)[:, None] * back
    # the turn is a difference of differences: it needs the skin without the noise of the cells
    height, _ = _heights(region.smooth.sample(places), arc)
    even = path + (height * WAY * radius)[:, None] * back
    return BackProfile(arc, skin, back, _turn(even, back), path)


def _heights(share: FloatArray, arc: FloatArray) -> tuple[FloatArray, float]:
    """Height of the skin over each place (n,), in steps of the coverage (n, k) looked through, and
    the share of places where it was found; between them where it was not."""
    inside = share >= 0.5
    out = np.argmax(~inside, axis=1)
    good = inside[:, 0] & (out > 0)
    if not good.any():
        return np.zeros(len(arc)), 0.0
    rows = np.arange(len(arc))
    before, after = share[rows, np.maximum(out - 1, 0)], share[rows, out]
    part = np.clip((before - 0.5) / np.maximum(before - after, 1e-6), 0.0, 1.0)
    height = out - 1 + part
    height[~good] = np.interp(arc[~good], arc[good], height[good])
    return height, float(good.mean())


def _turn(skin: FloatArray, back: FloatArray) -> FloatArray:
    """(n,) least-squares hinge of the skin at every place, as an angle towards the palm."""
    half = round(HINGE / STEP)
    x = np.arange(-half, half + 1, dtype=np.float64)
    columns = np.stack([np.ones_like(x), x, np.maximum(x, 0.0)], axis=1)
    kernel, slope = np.linalg.pinv(columns)[[2, 1]]
    turn = np.full(len(skin), np.nan)
    if len(skin) < len(x):
        return turn
    windows = np.lib.stride_tricks.sliding_window_view(skin, len(x), axis=0)
    hinge, before = windows @ kernel, windows @ slope
    centre = slice(half, half + len(hinge))
    rise = -(hinge * back[centre]).sum(axis=1)
    ahead = np.linalg.norm(before + 0.5 * hinge, axis=1)
    turn[centre] = rise / np.maximum(ahead, 1e-12)
    return turn
