"""Where the camera stands for each view of a character.

Everything here is in the working frame: +Y up, +Z where the character faces, +X its left, height 1.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.names import family, finger_of, side_of

__all__ = ["FIELD_OF_VIEW", "CameraPlace", "camera_places", "near_joint"]

FloatArray = NDArray[np.float64]

FIELD_OF_VIEW = np.radians(30.0)
"""Of the camera, from top to bottom: about that of a portrait lens, which leaves the proportions
of a figure as they are (common practice, no source)."""
ROOM = 1.15
"""What a view shows, as a multiple of what it is about."""
OFF_UPRIGHT = 1e-3
"""How far a camera straight above or below is set to the front, so that up on the screen is told:
the way the character faces is down on it, as on a plan laid before its feet."""


@dataclass(frozen=True)
class CameraPlace:
    """One view: where the camera stands and what it looks at, working frame; +Y is up."""

    look_at: FloatArray
    """(3,)"""
    direction: FloatArray
    """(3,) unit, from what is looked at to the camera."""
    extent: tuple[float, float]
    """Width and height of what must be seen, heights."""
    depth: float = 0.0
    """How far what must be seen comes toward the camera from `look_at`, heights."""

    def position(self, aspect: float) -> FloatArray:
        """(3,) where the camera stands, in a window `aspect` times as wide as high."""
        width, height = self.extent
        half = 0.5 * ROOM * max(height, width / max(aspect, 0.1))
        return self.look_at + self.direction * (half / np.tan(0.5 * FIELD_OF_VIEW) + self.depth)


def camera_places(
    names: Sequence[str], positions: FloatArray, low: FloatArray, high: FloatArray
) -> dict[str, CameraPlace]:
    """The views that a skeleton has something to show in, by name, in the order of the buttons.

    Args:
        names: of the joints.
        positions: (n, 3) of the joints, working frame.
        low, high: (3,) corners of the box around character and skeleton, working frame.
    """
    middle, size = 0.5 * (low + high), high - low
    wide, tall, deep = (float(extent) for extent in size)
    views = {
        "front": _view(middle, (0.0, 0.0, 1.0), wide, tall, 0.5 * deep),
        "side": _view(middle, (1.0, 0.0, 0.0), deep, tall, 0.5 * wide),
        "top": _view(middle, (0.0, 1.0, 0.0), wide, deep, 0.5 * tall),
        "perspective": _view(middle, (0.55, 0.25, 0.8), wide, tall, 0.35 * wide),
    }
    at = dict(zip(names, positions, strict=True))
    for side in ("left", "right"):
        hand = _points(at, partial(_is_finger_on, side))
        if len(hand) and f"{side}_wrist" in at:
            views[f"{side} hand"] = _hand(np.vstack([hand, at[f"{side}_wrist"]]), side)
    head = _points(at, lambda name: family(name) in ("head", "eye"))
    if len(head):
        views["face"] = _face(head, at)
    feet = _points(at, lambda name: family(name) == "foot")
    if len(feet):
        spread = float(np.ptp(feet[:, 0]))
        views["feet"] = _view(feet.mean(axis=0), (0.15, 0.45, 0.9), spread + 0.09, 0.16)
    return views


def near_joint(position: FloatArray, direction: FloatArray, reach: float) -> CameraPlace:
    """A close view of a joint, as seen from the camera's present side.

    Args:
        position: (3,) of the joint.
        direction: (3,) from the joint to where the camera is; any length but zero.
        reach: how far around the joint is to be seen, heights.
    """
    return _view(position, direction, 2.0 * reach, 2.0 * reach)


def _view(
    look_at: FloatArray,
    direction: Sequence[float] | FloatArray,
    width: float,
    height: float,
    depth: float = 0.0,
) -> CameraPlace:
    toward = np.asarray(direction, dtype=np.float64)
    length = float(np.linalg.norm(toward))
    toward = np.array([0.0, 0.0, 1.0]) if length == 0.0 else toward / length
    if abs(toward[0]) + abs(toward[2]) < OFF_UPRIGHT:
        toward = toward + np.array([0.0, 0.0, OFF_UPRIGHT])
        toward = toward / np.linalg.norm(toward)
    return CameraPlace(np.asarray(look_at, dtype=np.float64), toward, (width, height), depth)


def _points(at: Mapping[str, FloatArray], wanted: Callable[[str], bool]) -> FloatArray:
    """(k, 3) places of the joints whose names are wanted."""
    chosen = [point for name, point in at.items() if wanted(name)]
    return np.array(chosen).reshape(-1, 3)


def _is_finger_on(side: str, name: str) -> bool:
    return side_of(name) == side and finger_of(name) is not None


def _hand(points: FloatArray, side: str) -> CameraPlace:
    """A hand from its flat side: from above where the palm lies flat, else from the outside."""
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    _, _, across = np.linalg.svd(points - points.mean(axis=0))
    normal = across[2]
    outside = np.array([0.6 if side == "left" else -0.6, 1.0, 0.3])
    if normal @ outside < 0.0:
        normal = -normal
    size = float(np.ptp((points - middle) @ across[0])) * 1.1
    return _view(middle, normal, size, size)


def _face(head: FloatArray, at: Mapping[str, FloatArray]) -> CameraPlace:
    """The head from the front, from the neck to the crown."""
    eyes = _points(at, lambda name: family(name) == "eye")
    top = float(head[:, 1].max())
    low = min(float(at["neck"][1]) if "neck" in at else top, float(head[:, 1].min()), top - 0.06)
    nearest = eyes if len(eyes) else head
    middle = np.array([nearest[:, 0].mean(), 0.5 * (low + top), nearest[:, 2].max()])
    size = 1.1 * (top - low)
    return _view(middle, (0.0, 0.0, 1.0), size, size)
