"""From where each pose of the bend test is best seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.show.closeups import CloseUp, face_close_up, foot_close_up, hand_close_up
from autoplace.show.figure import FRONT, SIDE, Figure
from autoplace.show.shade import Surface
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.names import SIDES, family
from autoplace.skeleton.pose import Pose, skin

__all__ = ["Shot", "posed_figure", "shots_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

Shot = tuple[Figure, CloseUp]

HAND_TESTS = ("finger_curl", "finger_spread", "thumb", "fist")
TURNED_AWAY = {"elbow": 20.0, "knee": 70.0, "hip": 60.0, "spine_curl": 75.0}
"""Degrees that the eye goes round the figure to its left, from straight before it; 0 unsaid."""
RAISED = {"elbow": 55.0}
"""Degrees that the eye rises over the figure: forearms that fold to the front lie one behind the
other from straight before them."""
EYE_ROOM, EYE_GUESS = 2.2, 0.007
"""Room about the eyes in radii, and the radius of an eye without a ball (12 mm of 1.74 m, Bekerman
et al. 2014)."""
SHOULDERS = 0.6
"""What is seen to each side of the chest in a picture of head and shoulders, share of the way from
the chest to the top of the head."""
PAD = 0.03
"""Room about a view, share of its greater extent."""


def posed_figure(
    subject: Subject, layers: Mapping[str, IntArray], pose: Pose, marked: Mapping[str, str]
) -> Figure:
    """The character in a pose, ready to be drawn.

    `layers` are triangles (m, 3) of the subject's flesh: 'body', 'veil' (hair, garments) and
    'eye'. `marked` are joints with their level of finding.
    """
    posed = subject.posed(pose)
    vertices = np.zeros((0, 3))
    if subject.flesh is not None:
        vertices = skin(subject.flesh.vertices, subject.flesh.binding, posed)
    surfaces = [_surface(vertices, layers.get(kind)) for kind in ("body", "veil", "eye")]
    skeleton = posed.of(subject.skeleton)
    places = {joint.name: np.asarray(joint.position) for joint in skeleton}
    eyes = [joint.name for joint in skeleton if family(joint.name) == "eye"]
    return Figure(
        body=surfaces[0],
        veil=surfaces[1],
        eyes=surfaces[2],
        skeleton=skeleton,
        places=places,
        spreads=dict.fromkeys(places, 0.0),
        eye_radius=_radii(subject),
        gazes={name: subject.axis(name, "aim", posed) for name in eyes},
        height=1.0,
        marked=dict(marked),
    )


def shots_of(figures: Sequence[Figure], test: str) -> list[list[Shot]]:
    """Rows of pictures for a test, from the figure in each of its poses; none when there is nothing
    to see. Of each close-up the first view is meant."""
    if len(figures) > 1:
        found = [
            (figure, view) for figure in figures for row in _views(figure, test) for view in row
        ]
        return [found[start : start + 2] for start in range(0, len(found), 2)]
    return [[(figure, view) for view in row] for figure in figures for row in _views(figure, test)]


def _views(figure: Figure, test: str) -> list[list[CloseUp]]:
    if test in HAND_TESTS:
        hands = [hand_close_up(figure, side) for side in reversed(SIDES)]
        found = [hand for hand in hands if hand is not None]
        rows = [[_from_palm(hand) for hand in found]]
        if test != "finger_spread":
            rows.append([_second(hand) for hand in found])
        return [row for row in rows if row]
    if test == "wrist":
        hands = [hand_close_up(figure, side) for side in reversed(SIDES)]
        return [[_second(hand)] for hand in hands if hand is not None]
    if test == "toe_roll":
        feet = [foot_close_up(figure, side) for side in reversed(SIDES)]
        return [[foot] for foot in feet if foot is not None]
    if test == "eyes":
        return _eyes(figure)
    if test in ("head_turn", "head_nod"):
        return _bust(figure, FRONT if test == "head_turn" else SIDE)
    return [[_whole(figure, _from(TURNED_AWAY.get(test, 0.0), RAISED.get(test, 0.0)))]]


def _surface(vertices: FloatArray, faces: IntArray | None) -> Surface:
    if faces is None or not len(faces):
        return Surface.of(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    used, local = np.unique(faces, return_inverse=True)
    return Surface.of(vertices[used], local.reshape(-1, 3))


def _radii(subject: Subject) -> dict[str, float]:
    """Typical distance of an eyeball's vertices from its joint."""
    if subject.flesh is None:
        return {}
    return {
        name: float(np.median(np.linalg.norm(ball - subject.place(name), axis=1)))
        for name, ball in subject.flesh.eyeballs.items()
    }


def _eyes(figure: Figure) -> list[list[CloseUp]]:
    """The eyes from ahead, with a little of the face about them."""
    close = face_close_up(figure)
    names = [joint.name for joint in figure.skeleton if family(joint.name) == "eye"]
    if close is None or not names:
        return []
    at = np.array([figure.places[name] for name in names])
    reach = EYE_ROOM * max(figure.eye_radius.values(), default=EYE_GUESS)
    reach = max(reach, 0.25 * float(np.ptp(at[:, 0])))
    low, high = at[:, :2].min(axis=0) - reach, at[:, :2].max(axis=0) + reach
    close = replace(close, names=tuple(names), context=())
    return [[replace(close, low=np.array([low, low]), high=np.array([high, high]))]]


def _bust(figure: Figure, axes: FloatArray) -> list[list[CloseUp]]:
    """Head and shoulders."""
    if "head" not in figure.places:
        return []
    base = figure.places.get("chest", figure.places.get("neck", figure.places["head"]))
    top = figure.places.get("head_top", figure.places["head"])
    tall = max(float(np.linalg.norm(top - base)), 0.05)
    cloud = np.concatenate([part.vertices for part, _ in figure.layers()] + [top[None]])
    reach = tall * np.array([SHOULDERS, 2.0, SHOULDERS])
    cloud = np.clip(cloud[cloud[:, 1] > base[1]], base - reach, base + reach)
    return [[_seen(_all_of(figure, axes), cloud)]]


def _from(degrees: float, raised: float) -> FloatArray:
    """(3, 3) right, up and toward the eye, for an eye that went round to the figure's left and then
    rose."""
    turn, rise = np.radians(degrees), np.radians(raised)
    right = np.cos(turn) * FRONT[0] + np.sin(turn) * SIDE[0]
    level = np.cos(turn) * FRONT[2] + np.sin(turn) * SIDE[2]
    up = FRONT[1]
    return np.array(
        [right, np.cos(rise) * up - np.sin(rise) * level, np.cos(rise) * level + np.sin(rise) * up]
    )


def _whole(figure: Figure, axes: FloatArray) -> CloseUp:
    cloud = [part.vertices for part, _ in figure.layers()]
    points = np.concatenate([*cloud, np.array(list(figure.places.values())).reshape(-1, 3)])
    return _seen(_all_of(figure, axes), points)


def _all_of(figure: Figure, axes: FloatArray) -> CloseUp:
    nowhere = np.zeros((2, 2))
    return CloseUp(tuple(figure.places), (), axes, axes, figure.layers(), nowhere, nowhere)


def _from_palm(hand: CloseUp) -> CloseUp:
    """The hand from its palm, fingers up."""
    along, back = hand.first[1], hand.first[2]
    axes = np.array([np.cross(along, -back), along, -back])
    low, high = hand.low[0].copy(), hand.high[0].copy()
    low[0], high[0] = -hand.high[0, 0], -hand.low[0, 0]
    return replace(hand, first=axes, low=np.array([low, low]), high=np.array([high, high]))


def _second(close: CloseUp) -> CloseUp:
    """The other view of a close-up."""
    return replace(
        close,
        first=close.second,
        low=close.low[[1, 1]],
        high=close.high[[1, 1]],
        cut=None,
    )


def _seen(close: CloseUp, points: FloatArray) -> CloseUp:
    """The close-up showing all of the points (k, 3)."""
    flat = points @ close.first[:2].T
    low, high = flat.min(axis=0), flat.max(axis=0)
    pad = PAD * float((high - low).max())
    return replace(close, low=np.array([low, low]) - pad, high=np.array([high, high]) + pad)
