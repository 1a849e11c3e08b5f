"""What the pictures are made of: surfaces and joints in the working frame, and views of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.show.ink import Box
from autoplace.show.shade import Surface
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import family

__all__ = ["FRONT", "SIDE", "TOP", "Figure", "View", "fit_view", "gather"]

FloatArray = NDArray[np.float64]
Point = tuple[float, float]

FRONT: FloatArray = np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, 1]])
"""Rows: right, up and toward the eye, in the working frame (X the character's left)."""
SIDE: FloatArray = np.array([[0.0, 0, -1], [0, 1, 0], [1, 0, 0]])
"""From the character's left; it faces to the picture's left."""
TOP: FloatArray = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
"""From above, the face downward, so that it stands over the front view like a plan."""

BODY_ROLES = ("body", "unknown")
VEIL_ROLES = ("hair", "garment", "accessory", "left_out")


@dataclass(frozen=True)
class Figure:
    """A character and its skeleton, ready to be drawn. Working frame, height 1."""

    body: Surface
    veil: Surface
    eyes: Surface
    skeleton: Skeleton
    places: dict[str, FloatArray]
    """Joint positions (3,)."""
    spreads: dict[str, float]
    """One standard deviation, in heights."""
    eye_radius: dict[str, float]
    """Radius of the eyeball about an eye joint, for eyes whose ball is known."""
    gazes: dict[str, FloatArray]
    """(3,) unit look direction of eye joints where it was seen."""
    height: float
    """Of the character, in input units."""
    marked: dict[str, str]
    """Worst level of finding ('error', 'warning', 'note') per joint."""
    to_working: FloatArray = field(default_factory=lambda: np.eye(3))
    """(3, 3) rows: the working axes in the input frame, for directions such as joints' axes."""

    def layers(self) -> tuple[tuple[Surface, str], ...]:
        """Surfaces in the order of painting."""
        return (self.body, "body"), (self.veil, "veil"), (self.eyes, "eye")

    def joints(self, names: list[str]) -> list[Joint]:
        """The joints among `names` that exist, in the skeleton's order."""
        wanted = set(names)
        return [joint for joint in self.skeleton if joint.name in wanted]

    def extent(self) -> tuple[FloatArray, FloatArray]:
        """Lowest and highest corner of all that is drawn: surfaces and joints."""
        used = [part.vertices for part, _ in self.layers() if len(part.vertices)]
        used += [place[None] for place in self.places.values()]
        if not used:
            return np.zeros(3), np.ones(3)
        return (
            np.min([v.min(axis=0) for v in used], axis=0),
            np.max([v.max(axis=0) for v in used], axis=0),
        )


@dataclass(frozen=True)
class View:
    """An orthographic view into a box of the page."""

    axes: FloatArray
    """(3, 3) unit rows: right, up, toward the eye; working frame."""
    middle: FloatArray
    """(2,) right and up coordinate shown at the box's centre."""
    scale: float
    """Page pixels per height."""
    box: Box
    """left, top, right, bottom on the page; whole numbers."""

    def point(self, place: FloatArray) -> Point:
        """A working-frame point (3,) on the page."""
        right, up = self.axes[:2] @ place
        left, top, far_right, bottom = self.box
        return (
            float((left + far_right) / 2 + (right - self.middle[0]) * self.scale),
            float((top + bottom) / 2 - (up - self.middle[1]) * self.scale),
        )

    def nearness(self, place: FloatArray) -> float:
        """How far toward the eye a point lies, in heights."""
        return float(self.axes[2] @ place)

    def holds(self, place: FloatArray, margin: float = 0.0) -> bool:
        """True when the point falls inside the box less the margin (pixels)."""
        x, y = self.point(place)
        left, top, right, bottom = self.box
        return left + margin <= x <= right - margin and top + margin <= y <= bottom - margin


def fit_view(axes: FloatArray, low: FloatArray, high: FloatArray, box: Box) -> View:
    """The largest view in which the rectangle from `low` to `high` (2,) fits the box."""
    span = np.maximum(high - low, 1e-9)
    scale = float(min((box[2] - box[0]) / span[0], (box[3] - box[1]) / span[1]))
    return View(axes, (low + high) / 2, scale, box)


def gather(character: Character, roles: Roles, frame: Frame, skeleton: Skeleton) -> Figure:
    """Bring mesh and skeleton (both in the input frame) into the working frame."""
    parts = []
    for wanted in (BODY_ROLES, VEIL_ROLES, ("eyeball",)):
        vertices, faces = roles.surface(character, wanted)
        vertices = frame.to_working(vertices)
        parts.append(Surface.of(vertices, faces))
    places = {j.name: frame.to_working(np.asarray(j.position, dtype=float)) for j in skeleton}
    marked: dict[str, str] = {}
    for level in ("note", "warning", "error"):
        for finding in skeleton.findings:
            if finding.joint is not None and finding.level == level:
                marked[finding.joint] = level
    return Figure(
        body=parts[0],
        veil=parts[1],
        eyes=parts[2],
        skeleton=skeleton,
        places=places,
        spreads={j.name: float(j.spread) / frame.height for j in skeleton},
        eye_radius=_eye_radii(parts[2].vertices, places),
        gazes={
            j.name: frame.direction_to_working(np.asarray(j.look, dtype=float))
            for j in skeleton
            if j.look is not None
        },
        height=frame.height,
        marked=marked,
        to_working=frame.rotation,
    )


def _eye_radii(balls: FloatArray, places: dict[str, FloatArray]) -> dict[str, float]:
    """Typical distance of the eyeballs' vertices from the eye joint they are nearest to."""
    names = [name for name in places if family(name) == "eye"]
    if not names or not len(balls):
        return {}
    gaps = np.stack([np.linalg.norm(balls - places[name], axis=1) for name in names])
    nearest = gaps.argmin(axis=0)
    radii: dict[str, float] = {}
    for index, name in enumerate(names):
        mine = gaps[index][nearest == index]
        # a ball wider than a fifth of the height belongs to something else (from memory)
        if len(mine) and np.median(mine) < 0.1:
            radii[name] = float(np.median(mine))
    return radii
