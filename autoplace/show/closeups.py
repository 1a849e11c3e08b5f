"""From where the hands, the face and the feet are best seen, worked out from the joints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show.figure import FRONT, SIDE, Figure
from autoplace.show.glyphs import FINGERS
from autoplace.show.region import connected, within
from autoplace.show.shade import Surface

__all__ = ["CloseUp", "face_close_up", "foot_close_up", "hand_close_up"]

FloatArray = NDArray[np.float64]
Layer = tuple[Surface, str]


MOST_FLESH = 0.12
"""Nothing about a wrist or an ankle is thicker than this, in heights (from memory)."""


@dataclass(frozen=True)
class CloseUp:
    """A region of the figure and two directions to look at it from. Working frame."""

    names: tuple[str, ...]
    """Joints to show and name."""
    context: tuple[str, ...]
    """Joints shown without a name, for the bones that lead into the region."""
    first: FloatArray
    """(3, 3) axes of the main view."""
    second: FloatArray
    """(3, 3) axes of the other view."""
    layers: tuple[Layer, ...]
    """What is to be painted."""
    low: FloatArray
    high: FloatArray
    """(2, 2) lowest and highest right and up coordinates to show: one row per view."""
    cut: float | None = None
    """How far toward the eye the solid is kept in the second view; None for all of it."""


def hand_close_up(figure: Figure, side: str) -> CloseUp | None:
    """The hand from its back, fingers up, and from the thumb's side; None without a wrist."""
    places = figure.places
    wrist = places.get(f"{side}_wrist")
    if wrist is None:
        return None
    names = [f"{side}_wrist"] + [
        f"{side}_{finger}_{part}"
        for finger in FINGERS
        for part in ("metacarpal", "1", "2", "3", "tip")
        if f"{side}_{finger}_{part}" in places
    ]
    bases = {f: places[f"{side}_{f}_1"] for f in FINGERS if f"{side}_{f}_1" in places}
    elbow = places.get(f"{side}_elbow")
    along = _hand_direction(wrist, bases, elbow)
    # the side the thumb is on: from the last finger's knuckle to the first one's
    row = [bases[f] for f in FINGERS[1:] if f in bases]
    if len(row) > 1:
        thumbward = row[0] - row[-1]
    elif "thumb" in bases:
        thumbward = bases["thumb"] - wrist
    else:
        thumbward = np.array([0.0, 0.0, 1.0])
    thumbward = thumbward - along * (thumbward @ along)
    if np.linalg.norm(thumbward) < 1e-9:
        thumbward = np.cross(along, _least_along(along))
    thumbward = _unit(thumbward)
    back = np.cross(thumbward, along) * (1.0 if side == "left" else -1.0)
    from_back = np.array([np.cross(along, back), along, back])
    from_thumb = np.array([np.cross(back, thumbward), back, thumbward])

    shown = np.array([places[name] for name in names])
    length = float(((shown - wrist) @ along).max())
    if len(names) == 1:
        length = _flesh_beyond(figure, wrist, along)
    flesh = _flesh_about(figure, wrist)
    length = max(length, 0.02, 1.5 * flesh)
    arm = -along if elbow is None or np.allclose(elbow, wrist) else _unit(elbow - wrist)
    stretch = [wrist + arm * length * t for t in (0.15, 0.3, 0.45)]
    middle = [wrist + along * length * t for t in (0.25, 0.5, 0.75)]
    points = np.concatenate([shown, _between(figure, names, 3), stretch, middle])
    # wide enough for a glove and for the forearm that the picture shows (from memory)
    reach = max(0.6 * length, 2.5 * flesh)
    layers = _region(figure, points, reach, _others(figure, ("pelvis",), ("hip", "knee")))
    cloud = np.concatenate([_vertices(layers), _with_spreads(figure, names, 0.2 * length)])
    cloud = cloud[(cloud - wrist) @ along > -0.2 * length]
    low, high = _bounds(cloud, from_back, from_thumb)
    pad = 0.07 * length
    low, high = low - pad, high + pad
    # the forearm may run out of the picture, the hand may not
    low[0, 1] = wrist @ along - 0.25 * length
    return CloseUp(
        names=tuple(names),
        context=(),
        first=from_back,
        second=from_thumb,
        layers=layers,
        low=low,
        high=high,
    )


def face_close_up(figure: Figure) -> CloseUp | None:
    """Head and neck from the front and from the left; None without a head joint."""
    places = figure.places
    head = places.get("head")
    if head is None:
        return None
    neck = places.get("neck", head)
    top = places.get("head_top")
    if top is None:
        highest = figure.body.vertices[:, 1].max() if len(figure.body.vertices) else 0.0
        top = np.array([head[0], max(float(highest), float(head[1]) + 0.05), head[2]])
    names = [n for n in ("head_top", "left_eye", "right_eye", "head", "neck") if n in places]
    size = max(float(np.linalg.norm(top - neck)), 0.05)
    points = np.array([neck + (top - neck) * t for t in np.linspace(-0.3, 1, 6)])
    layers = _region(figure, points, 0.9 * size, _others(figure, (), ("elbow", "wrist")))
    cloud = _vertices(layers)
    cloud = cloud[cloud[:, 1] >= neck[1] + 0.25 * size]
    cloud = np.concatenate([cloud, _with_spreads(figure, names, 0.2 * size)])
    hair = layers[1][0].vertices
    if len(hair):
        # long hair or a brimmed hat may run out of the picture
        edge = 0.25 * size
        hair = np.clip(hair, cloud.min(axis=0) - edge, cloud.max(axis=0) + edge)
        cloud = np.concatenate([cloud, hair])
    low, high = _bounds(cloud, FRONT, SIDE)
    pad = 0.05 * size
    low[:, 1] = float(neck[1]) - 0.12 * size
    low[:, 0] -= pad
    high += pad
    return CloseUp(
        names=tuple(names),
        context=("chest", "left_clavicle", "right_clavicle"),
        first=FRONT,
        second=SIDE,
        layers=layers,
        low=low,
        high=high,
    )


def foot_close_up(figure: Figure, side: str) -> CloseUp | None:
    """The foot from above and from its outer side; None without an ankle."""
    places = figure.places
    ankle = places.get(f"{side}_ankle")
    if ankle is None:
        return None
    names = [n for n in (f"{side}_ankle", f"{side}_ball", f"{side}_toe_tip") if n in places]
    shown = np.array([places[name] for name in names])
    ahead = shown[-1] - ankle
    ahead[1] = 0.0
    length = float(np.linalg.norm(ahead))
    ahead = ahead / length if length > 0.01 else np.array([0.0, 0.0, 1.0])
    flesh = _flesh_about(figure, ankle)
    length = max(length, 0.05, 1.5 * flesh)
    upward = np.array([0.0, 1.0, 0.0])
    outward = np.cross(upward, ahead) * (1.0 if side == "left" else -1.0)
    from_outside = np.array([np.cross(upward, outward), upward, outward])
    from_above = np.array([from_outside[0], np.cross(upward, from_outside[0]), upward])
    heel = ankle - ahead * 0.3 * length
    points = np.concatenate(
        [
            shown,
            _between(figure, names, 3),
            heel[None],
            ankle + np.outer((0.2, 0.4), upward) * length,
        ]
    )
    rivals = _others(
        figure, (), ("ankle", "ball", "toe_tip"), "right" if side == "left" else "left"
    )
    # sole and heel lie within about 0.6 of the ankle-to-toe length of the bones (from memory)
    reach = max(0.7 * length, 2.5 * flesh)
    layers = _region(figure, points, reach, rivals)
    cloud = np.concatenate([_vertices(layers), _with_spreads(figure, names, 0.2 * length)])
    cloud = cloud[cloud[:, 1] < ankle[1] + 0.25 * length]
    low, high = _bounds(cloud, from_outside, from_above)
    high[0, 1] = ankle[1] + 0.30 * length
    pad = 0.06 * length
    return CloseUp(
        names=tuple(names),
        context=(),
        first=from_outside,
        second=from_above,
        layers=layers,
        low=low - pad,
        high=high + pad,
        cut=float(ankle[1] + 0.30 * length),
    )


def _hand_direction(
    wrist: FloatArray, bases: dict[str, FloatArray], elbow: FloatArray | None
) -> FloatArray:
    """Unit vector from the wrist to the middle of the knuckles, or on from the forearm."""
    row = [place for finger, place in bases.items() if finger != "thumb"] or list(bases.values())
    if row:
        ahead = np.mean(row, axis=0) - wrist
        if np.linalg.norm(ahead) > 1e-6:
            return _unit(ahead)
    if elbow is not None and np.linalg.norm(wrist - elbow) > 1e-6:
        return _unit(wrist - elbow)
    return np.array([0.0, -1.0, 0.0])


def _flesh_beyond(figure: Figure, wrist: FloatArray, along: FloatArray) -> float:
    """How far the body goes on from the wrist in a direction, in a cone of 45 degrees."""
    if not len(figure.body.vertices):
        return 0.0
    offset = figure.body.vertices - wrist
    ahead = offset @ along
    beside = np.linalg.norm(offset - ahead[:, None] * along, axis=1)
    # a hand is about a tenth of the height long; twice that belongs to something else
    inside = (ahead > 0) & (ahead < 0.2) & (beside < ahead)
    return float(ahead[inside].max()) if inside.any() else 0.0


def _flesh_about(figure: Figure, place: FloatArray) -> float:
    """How thick the body is about a joint: the usual gap to its vertices in the six directions."""
    offset = figure.body.vertices - place
    gap = np.abs(offset).max(axis=1, initial=0.0)
    close = gap < MOST_FLESH
    offset, gap = offset[close], gap[close]
    if not len(gap):
        return 0.0
    main = np.abs(offset).argmax(axis=1)
    ahead = offset[np.arange(len(offset)), main] > 0
    gaps = [
        gap[(main == axis) & (ahead == way)].min(initial=MOST_FLESH)
        for axis in range(3)
        for way in (False, True)
    ]
    return float(np.median(gaps))


def _region(
    figure: Figure, points: FloatArray, reach: float, rivals: FloatArray
) -> tuple[Layer, ...]:
    """The body as far as it hangs together about the points, and whatever else is near them."""
    return (
        (connected(figure.body, points, reach, rivals), "body"),
        (within(figure.veil, points, reach), "veil"),
        (within(figure.eyes, points, reach), "eye"),
    )


def _vertices(layers: tuple[Layer, ...]) -> FloatArray:
    """(k, 3) vertices of the body and the eyes among the layers."""
    found = [part.vertices for part, kind in layers if kind != "veil"]
    return np.concatenate([*found, np.zeros((0, 3))])


def _between(figure: Figure, names: list[str], count: int) -> FloatArray:
    """(k, 3) points between each joint and its parent, where both are among the names."""
    found = []
    for joint in figure.joints(names):
        if joint.parent in names:
            start, end = figure.places[joint.parent], figure.places[joint.name]
            found += [start + (end - start) * t for t in np.linspace(0, 1, count + 2)[1:-1]]
    return np.array(found).reshape(-1, 3)


def _others(
    figure: Figure, whole: tuple[str, ...], bases: tuple[str, ...], side: str = ""
) -> FloatArray:
    """(r, 3) places of the named joints that exist, both sides of `bases` unless one is given."""
    sides = (side,) if side else ("left", "right")
    names = [*whole, *(f"{s}_{base}" for s in sides for base in bases)]
    return np.array([figure.places[n] for n in names if n in figure.places]).reshape(-1, 3)


def _bounds(points: FloatArray, *axes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest right and up coordinate of points (k, 3) in each view: (views, 2) each."""
    seen = [points @ a[:2].T for a in axes]
    return np.array([s.min(axis=0) for s in seen]), np.array([s.max(axis=0) for s in seen])


def _unit(vector: FloatArray) -> FloatArray:
    """The vector with length 1."""
    result: FloatArray = vector / np.linalg.norm(vector)
    return result


def _with_spreads(figure: Figure, names: Sequence[str], most: float) -> FloatArray:
    """(k, 3) the joints with points one standard deviation about them, `most` at most."""
    found = []
    for name in names:
        reach = min(figure.spreads[name], most)
        found += [figure.places[name] + step * reach for step in (*np.eye(3), *-np.eye(3))]
    return np.array(found).reshape(-1, 3)


def _least_along(direction: FloatArray) -> FloatArray:
    """The axis that is least along a direction."""
    axis: FloatArray = np.eye(3)[int(np.abs(direction).argmin())]
    return axis
