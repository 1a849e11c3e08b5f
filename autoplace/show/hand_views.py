"""How a hand is best seen: its palm, its back and its thumb's side, with the fingers' planes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.show.closeups import CloseUp, hand_close_up
from autoplace.show.figure import Figure
from autoplace.skeleton.convention import DEFAULT, recorded
from autoplace.skeleton.names import FINGERS

__all__ = ["BendPlane", "HandViews", "bend_planes", "hand_views"]

FloatArray = NDArray[np.float64]

HALF_BREADTH = 0.15
"""Half the breadth of the strip that shows a finger's plane, share of the finger's length."""
BEYOND = 0.06
"""How far the strip runs on beyond both ends, the same share."""
PAD = 0.05
"""Room about the hand, share of its length."""
FOREARM = 0.22
"""Forearm shown below the wrist, the same share."""


@dataclass(frozen=True)
class BendPlane:
    """The plane a finger bends in. Working frame."""

    finger: str
    """'left_index', ..."""
    corners: FloatArray
    """(4, 3) in turn, of a strip along the finger."""
    axis: FloatArray
    """(3,) unit, the bend axis."""


@dataclass(frozen=True)
class HandViews:
    """Three views of one hand, fingers up, in one scale."""

    views: tuple[tuple[str, CloseUp], ...]
    """What is seen, and how: the first view of each close-up."""
    planes: tuple[BendPlane, ...]


def hand_views(figure: Figure, side: str) -> HandViews | None:
    """Palm, back and thumb's side of a hand; None without a wrist."""
    close = hand_close_up(figure, side)
    if close is None:
        return None
    along, back = close.first[1], close.first[2]
    thumbward = close.second[2]
    planes = bend_planes(figure, side)
    wrist = figure.places[f"{side}_wrist"]
    shown = np.array([figure.places[name] for name in close.names])
    cloud = np.concatenate([close.layers[0][0].vertices, shown, *(p.corners for p in planes)])
    length = max(float(((cloud - wrist) @ along).max()), 1e-6)
    cloud = cloud[(cloud - wrist) @ along > -FOREARM * length]
    views = []
    for title, eye in (("palm", -back), ("back", back), ("thumb's side", thumbward)):
        axes = np.array([np.cross(along, eye), along, eye])
        seen = cloud @ axes[:2].T
        low, high = seen.min(axis=0) - PAD * length, seen.max(axis=0) + PAD * length
        low[1] = float(wrist @ along) - FOREARM * length
        both = np.array([low, low]), np.array([high, high])
        views.append(
            (title, replace(close, first=axes, second=axes, low=both[0], high=both[1], cut=None))
        )
    return HandViews(tuple(views), planes)


def bend_planes(figure: Figure, side: str) -> tuple[BendPlane, ...]:
    """The planes of the fingers, at right angles to the bend axes that the joints have."""
    convention = recorded(figure.skeleton.settings) or DEFAULT
    planes = []
    for finger in FINGERS:
        names = [f"{side}_{finger}_{end}" for end in ("1", "2", "3", "tip")]
        if any(name not in figure.places for name in names):
            continue
        at = np.array([figure.places[name] for name in names])
        axis = figure.to_working @ convention.hinge(figure.skeleton[names[1]].axes)
        line = at[-1] - at[0]
        length = float(np.linalg.norm(line))
        line = line - (line @ axis) * axis
        if length < 1e-9 or np.linalg.norm(line) < 0.1 * length:
            continue
        line = line / np.linalg.norm(line)
        aside = HALF_BREADTH * length * np.cross(axis, line)
        middle = at.mean(axis=0)
        reach = (at - middle) @ line
        start = middle + (float(reach.min()) - BEYOND * length) * line
        end = middle + (float(reach.max()) + BEYOND * length) * line
        corners = np.array([start - aside, end - aside, end + aside, start + aside])
        planes.append(BendPlane(f"{side}_{finger}", corners, axis))
    return tuple(planes)
