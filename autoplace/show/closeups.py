"""From where the hands, the face and the feet are best seen, worked out from the joints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.show.figure import FRONT, SIDE, Figure
from autoplace.show.glyphs import FINGERS

__all__ = ["CloseUp", "face_close_up", "foot_close_up", "hand_close_up"]

FloatArray = NDArray[np.float64]


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
    points: FloatArray
    """(k, 3) what the region lies around."""
    reach: float
    """How far from the points the surface belongs to it, in heights."""
    low: FloatArray
    high: FloatArray
    """(2, 2) lowest and highest right and up coordinates to show: one row per view."""
    rivals: FloatArray
    """(r, 3) joints whose surroundings do not belong to it."""


def hand_close_up(figure: Figure, side: str) -> CloseUp | None:
    """The hand from its back, fingers up, and from the thumb's side; None without a wrist."""
    places = figure.places
    wrist = places.get(f"{side}_wrist")
    if wrist is None:
        return None
    names = [f"{side}_wrist"] + [
        f"{side}_{finger}_{part}"
        for finger in FINGERS
        for part in ("1", "2", "3", "tip")
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
    length = max(float(((shown - wrist) @ along).max()), 0.03)
    arm = -along if elbow is None else _unit(elbow - wrist)
    stretch = np.array([wrist + arm * length * t for t in (0.15, 0.3, 0.45)])
    lines = _between(figure, names, 3)
    points = np.concatenate([shown, lines, stretch])
    # the flesh about a hand's bones is thinner than a third of its length (from memory)
    reach = 0.33 * length
    low, high = _bounds(
        np.concatenate([shown, wrist[None] + arm * 0.25 * length]), from_back, from_thumb
    )
    pad = 0.13 * length
    low, high = low - pad, high + pad
    low[0, 1] += pad
    fingertip = ((shown - wrist) @ along).max() + wrist @ along
    high[0, 1] = fingertip + 0.06 * length
    return CloseUp(
        names=tuple(names),
        context=(),
        first=from_back,
        second=from_thumb,
        points=points,
        reach=reach,
        low=low,
        high=high,
        rivals=_others(figure, (f"{side}_hip", f"{side}_knee", "pelvis"), ("hip", "knee")),
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
        top = head + np.array([0.0, 0.1, 0.0])
    names = [n for n in ("head_top", "left_eye", "right_eye", "head", "neck") if n in places]
    size = max(float(np.linalg.norm(top - neck)), 0.05)
    points = np.array([neck + (top - neck) * t for t in np.linspace(0, 1, 5)])
    reach = 0.75 * size
    seen = [part.near(points, reach) for part, _ in figure.layers()]
    cloud = [
        part.vertices[np.unique(part.faces)] for part in seen[:1] + seen[2:] if len(part.faces)
    ]
    cloud.append(np.array([places[name] for name in names]))
    everything = np.concatenate(cloud)
    floor = float(neck[1]) - 0.12 * size
    everything = everything[
        (everything[:, 1] >= floor) & (everything[:, 1] >= neck[1] + 0.25 * size)
    ]
    everything = np.concatenate([everything, cloud[-1]])
    low, high = _bounds(everything, FRONT, SIDE)
    low[:, 1] = floor
    pad = 0.05 * size
    low[:, 0] -= pad
    high += pad
    return CloseUp(
        names=tuple(names),
        context=("chest", "left_clavicle", "right_clavicle"),
        first=FRONT,
        second=SIDE,
        points=points,
        reach=reach,
        low=low,
        high=high,
        rivals=np.zeros((0, 3)),
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
    length = max(length, 0.05)
    upward = np.array([0.0, 1.0, 0.0])
    outward = np.cross(upward, ahead) * (1.0 if side == "left" else -1.0)
    from_outside = np.array([np.cross(upward, outward), upward, outward])
    from_above = np.array([from_outside[0], np.cross(upward, from_outside[0]), upward])
    heel = ankle - ahead * 0.3 * length
    # sole and heel lie within about 0.6 of the ankle-to-toe length of the bones (from memory)
    reach = 0.6 * length
    points = np.concatenate([shown, _between(figure, names, 3), heel[None]])
    rivals = _others(
        figure, (), ("ankle", "ball", "toe_tip"), "right" if side == "left" else "left"
    )
    seen = figure.body.near(points, reach, rivals)
    cloud = seen.vertices[np.unique(seen.faces)]
    cloud = np.concatenate([cloud[cloud[:, 1] < ankle[1] + 0.25 * length], shown])
    low, high = _bounds(cloud, from_outside, from_above)
    high[0, 1] = ankle[1] + 0.30 * length
    pad = 0.06 * length
    return CloseUp(
        names=tuple(names),
        context=(),
        first=from_outside,
        second=from_above,
        points=np.concatenate([points, ankle + np.outer((0.2, 0.4, 0.6), upward) * length]),
        reach=reach,
        low=low - pad,
        high=high + pad,
        rivals=rivals,
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


def _least_along(direction: FloatArray) -> FloatArray:
    """The axis that is least along a direction."""
    axis: FloatArray = np.eye(3)[int(np.abs(direction).argmin())]
    return axis
