"""How the head and each eye are best seen on the face sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.ellipsoid_fit import EllipsoidFit, fit_ellipsoid
from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.place.eyes import EyePlace, EyeSurface, eye_surfaces, place_eyes
from autoplace.show.closeups import CloseUp, face_close_up
from autoplace.show.eye_globe import Globe
from autoplace.show.figure import FRONT, SIDE, TOP, Figure
from autoplace.show.region import within
from autoplace.skeleton.names import family, side_of

__all__ = ["EyeView", "eye_joints", "eye_views", "head_views"]

FloatArray = NDArray[np.float64]

OTHER_SIDE: FloatArray = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])
"""Rows right, up and toward the eye, as in the other views: from the character's right."""
ROOM = 1.9
"""Of an eye's close-up, from its middle, in radii."""
GUESSED_RADIUS = 0.0069
"""Fraction of height, of an eye without a ball (12 mm of 1.74 m, references section 6)."""


@dataclass(frozen=True)
class EyeView:
    """One eye in close-up. Working frame."""

    joint: str
    place: EyePlace | None
    """What was fitted; None for a joint without an eyeball."""
    globe: Globe | None
    close: CloseUp
    """From ahead, and from the eye's outer side with what is nearer than its middle cut away."""


def eye_joints(figure: Figure) -> list[str]:
    """Names of the eye joints, the character's right first, as they are seen from ahead."""
    names = [joint.name for joint in figure.skeleton if family(joint.name) == "eye"]
    return sorted(names, key=lambda name: float(figure.places[name][0]))


def head_views(figure: Figure) -> tuple[tuple[str, CloseUp], ...]:
    """The head from ahead, from both sides and from above; none without a head joint."""
    close = face_close_up(figure)
    if close is None:
        return ()
    eyes = eye_joints(figure)
    names = tuple(n for n in ("head_top", *eyes, "head", "neck") if n in figure.places)
    used = [part.vertices for part, kind in close.layers if kind != "veil" and len(part.vertices)]
    cloud = np.concatenate([*used, np.array([figure.places[n] for n in names])])
    base = float(figure.places["neck" if "neck" in names else "head"][1])
    size = max(float(cloud[:, 1].max()) - base, 1e-6)
    cloud = cloud[cloud[:, 1] > base - 0.1 * size]
    head = cloud[cloud[:, 1] > base + 0.15 * size]
    views = []
    for title, axes, wanted in (
        ("from the right", OTHER_SIDE, [n for n in names if side_of(n) != "left"]),
        ("from ahead", FRONT, list(names)),
        ("from the left", SIDE, [n for n in names if side_of(n) != "right"]),
        ("from above", TOP, list(eyes)),
    ):
        seen = (head if len(head) else cloud) @ axes[:2].T
        low, high = seen.min(axis=0) - 0.06 * size, seen.max(axis=0) + 0.06 * size
        if axes is not TOP:
            low[1] = base - 0.1 * size
        views.append(
            (
                title,
                replace(
                    close,
                    names=tuple(wanted),
                    context=(),
                    first=axes,
                    second=axes,
                    low=np.array([low, low]),
                    high=np.array([high, high]),
                    cut=None,
                ),
            )
        )
    return tuple(views)


def eye_views(
    figure: Figure, character: Character, roles: Roles, frame: Frame
) -> tuple[EyeView, ...]:
    """A close-up of each eye joint with the ball that is fitted to its pieces.

    `character`, `roles` and `frame` are those of the figure.
    """
    working = [frame.to_working(part.vertices) for part in character.parts]
    surfaces = eye_surfaces(character, roles, working)
    placed = place_eyes(surfaces).by_joint()
    views = []
    for name in eye_joints(figure):
        place = placed.get(name)
        at = figure.places[name]
        radius = max(GUESSED_RADIUS, figure.spreads[name]) if place is None else place.radius
        look = figure.gazes.get(name, np.array([0.0, 0.0, 1.0]))
        globe = None if place is None else _globe(place, look, surfaces)
        outer = SIDE if at[0] > 0 else OTHER_SIDE
        layers = tuple(
            (within(part, np.array([at]), 1.6 * ROOM * radius), kind)
            for part, kind in figure.layers()
        )
        half = np.full(2, ROOM * radius)
        both = [axes[:2] @ at for axes in (FRONT, outer)]
        close = CloseUp(
            names=(name,),
            context=(),
            first=FRONT,
            second=outer,
            layers=layers,
            low=np.array(both) - half,
            high=np.array(both) + half,
            cut=float(outer[2] @ at),
        )
        views.append(EyeView(name, place, globe, close))
    return tuple(views)


def _globe(place: EyePlace, look: FloatArray, surfaces: tuple[EyeSurface, ...]) -> Globe:
    """The ball of a place, with the faces of the pieces about it."""
    near = [s for s in surfaces if s.side == place.side]
    gap = [float(np.abs(np.linalg.norm(s.vertices - place.center, axis=1)).min()) for s in near]
    near = [s for s, away in zip(near, gap, strict=True) if away < 2.0 * place.radius]
    corners = np.concatenate([s.vertices[s.faces] for s in near]) if near else np.zeros((0, 3, 3))
    middles = corners.mean(axis=1)
    reach = np.linalg.norm(corners - middles[:, None], axis=2).max(axis=1)
    side = np.cross([0.0, 1.0, 0.0], look)
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    axes, lengths = np.array([side, np.cross(look, side), look]), np.full(3, place.radius)
    if place.shape == "ellipsoid":
        oval = fit_ellipsoid(max(near, key=lambda s: len(s.faces)).vertices)
        if isinstance(oval, EllipsoidFit):
            axes, lengths = _turned(oval.axes, oval.lengths, look)
    return Globe(
        place.center, axes, lengths, middles, float(np.median(reach)) if len(reach) else 0.0
    )


def _turned(
    axes: FloatArray, lengths: FloatArray, look: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """An oval's axes with the one nearest to the look last, along it."""
    last = int(np.argmax(np.abs(axes @ look)))
    order = [i for i in range(3) if i != last] + [last]
    axes, lengths = axes[order].copy(), lengths[order]
    if axes[2] @ look < 0:
        axes[2] = -axes[2]
    return axes, lengths
