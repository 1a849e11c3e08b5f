"""From where a page looks at a character: the whole of it, its hands, face and feet.

Working frame; lengths are percent of the height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show.closeups import CloseUp, face_close_up, hand_close_up
from autoplace.show.figure import FRONT, SIDE, TOP, Figure
from autoplace.show.glyphs import is_finger
from autoplace.skeleton.names import family, side_of, stem

__all__ = ["PageView", "page_views", "view_for"]

FloatArray = NDArray[np.float64]

BACK: FloatArray = np.array([[-1.0, 0, 0], [0, 1, 0], [0, 0, -1]])
FEET_TURN = np.radians(35.0)
"""The feet are looked at from in front and so far above, where both the length of a foot and the
height of its joints show (common practice, no source)."""
FOOT_ROOM = 4.0
"""Flesh about the joints of a foot, percent of the height: half the breadth of a foot (from
memory)."""


@dataclass(frozen=True)
class PageView:
    """A direction to look from and a box to show."""

    key: str
    """Short and without spaces; also in the page's address of the button."""
    label: str
    """What the button says."""
    axes: FloatArray
    """(3, 3) unit rows: right, up, toward the eye."""
    low: FloatArray
    high: FloatArray
    """(2,) lowest and highest right and up coordinate to show."""
    depth: float
    """Coordinate toward the eye of the point that the figure is turned about."""


def page_views(figure: Figure) -> tuple[PageView, ...]:
    """The views that the figure has: those of hands, face and feet only where their joints are."""
    # long props and scenery may run out of the picture, the figure may not
    cloud = [surface.vertices for surface in (figure.body, figure.eyes) if len(surface.vertices)]
    cloud += [np.array(list(figure.places.values())).reshape(-1, 3)]
    points = np.concatenate(cloud)
    if len(figure.veil.vertices):
        low, high = points.min(axis=0) - 0.15, points.max(axis=0) + 0.15
        points = np.concatenate([points, np.clip(figure.veil.vertices, low, high)])
    views = [
        _whole(key, label, axes, points)
        for key, label, axes in (
            ("front", "Front", FRONT),
            ("side", "Left side", SIDE),
            ("back", "Back", BACK),
            ("top", "Top", TOP),
        )
    ]
    for side in ("left", "right"):
        views += _close(f"{side}_hand", f"{side} hand".capitalize(), hand_close_up(figure, side))
    views += _close("face", "Face", face_close_up(figure))
    views += _feet(figure)
    return tuple(views)


def view_for(name: str) -> str:
    """Key of the view that shows a joint best."""
    side = side_of(name)
    if side is not None and (is_finger(name) or stem(name) == "wrist"):
        return f"{side}_hand"
    kind = family(name)
    if kind in ("head", "eye"):
        return "face"
    if kind == "foot":
        return "feet"
    # hinges that bend forward and back, and the spine's curve, are seen from the side
    return "side" if kind in ("leg", "trunk") and stem(name) not in ("hip", "pelvis") else "front"


def _whole(key: str, label: str, axes: FloatArray, points: FloatArray) -> PageView:
    seen = 100.0 * points @ axes.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    return PageView(key, label, axes, low[:2], high[:2], float(low[2] + high[2]) / 2)


def _close(key: str, label: str, close: CloseUp | None) -> list[PageView]:
    if close is None:
        return []
    shown = np.array(
        [p for surface, kind in close.layers if kind != "veil" for p in surface.vertices]
    ).reshape(-1, 3)
    depth = float(np.median(shown @ close.first[2])) if len(shown) else 0.0
    low, high = 100.0 * close.low[0], 100.0 * close.high[0]
    return [PageView(key, label, close.first, low, high, 100.0 * depth)]


def _feet(figure: Figure) -> list[PageView]:
    names = [name for name in figure.places if family(name) == "foot"]
    if not names:
        return []
    turn = np.array(
        [
            [1.0, 0.0, 0.0],
            [0.0, np.cos(FEET_TURN), -np.sin(FEET_TURN)],
            [0.0, np.sin(FEET_TURN), np.cos(FEET_TURN)],
        ]
    )
    seen = 100.0 * np.array([figure.places[name] for name in names]) @ turn.T
    low, high = seen.min(axis=0) - FOOT_ROOM, seen.max(axis=0) + FOOT_ROOM
    return [PageView("feet", "Feet", turn, low[:2], high[:2], float(low[2] + high[2]) / 2)]
