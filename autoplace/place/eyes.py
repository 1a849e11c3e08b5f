"""Place the eye joints: the centre of the sphere that each eyeball piece is a part of.

A sphere-fitted centre is a fair pivot to about 2 mm on a human eye (references section 6: the
rotation centre and the geometric centre of the globe differ by 1 to 3 mm), and it is what an
animator expects of a modelled ball, however much of it the modeller made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.fits import RadiusPrior
from autoplace.measure.not_found import NotFound
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.place.eye_fit import Ball, fit_ball, look_of
from autoplace.skeleton.model import Evidence

__all__ = [
    "EyePlace",
    "EyeSurface",
    "EyesFound",
    "eye_surfaces",
    "eyes_from_head",
    "place_eyes",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SMALL_CAP = 0.12
"""Share of the sphere below which a cap leaves its radius open (40 degrees of half-angle;
references section 11.2) and the other eye's radius is used if that is better known."""
RADIUS_ALIKE = 0.05
"""Left and right eye of one person differ by less than this share in radius (common practice, no
source)."""

ON_MIDDLE = 0.75
"""An eye less than so many of its radii from the middle plane is on it: half the least distance of
two eyes."""
LOOKS_ALIKE = 25.0
"""Degrees between the two looks, parallel or in mirror, beyond which neither is believed (common
practice, no source)."""

EYE_LEVEL = 0.5
"""Height of the eyes in the head, from chin to top: 'eyes at half the head height', .481 +- .023
and .490 +- .022 from the top measured (ANSUR2; references section 6)."""
EYE_LEVEL_SD = 0.023
"""Of the head height, same source."""
EYE_DISTANCE = 0.415
"""Distance between the eyes over head breadth (ANSUR2; references section 6)."""
EYE_DISTANCE_SD = 0.022
"""Over head breadth: 3.4 mm of 64 (ANSUR2)."""
EYE_BEHIND_GLABELLA = 0.088
"""Eye centre behind the brow's front over head height: 20 mm (an ergonomics handbook; references
section 6, weak) of 228 mm."""
GLOBE_RADIUS = 0.0526
"""Of the head height: 12 mm of 228 (Bekerman et al. 2014; references section 6)."""
DEPTH_SD = 0.03
"""Of the head height; common practice, no source."""


@dataclass(frozen=True)
class EyeSurface:
    """One piece of an eye in the working frame."""

    side: str | None
    """'left', 'right', or None for an eye on the middle or beside a pair."""
    vertices: FloatArray
    """(n, 3)"""
    faces: IntArray
    """(m, 3)"""


@dataclass(frozen=True)
class EyePlace:
    """Where an eye joint goes, working frame (height = 1)."""

    side: str | None
    center: FloatArray
    """(3,)"""
    radius: float
    spread: float
    """One standard deviation of the centre: from how far the piece is from a sphere, and how
    little of one it shows."""
    look: FloatArray | None
    """(3,) unit direction the eye looks along, where its shape shows it; else None."""
    look_from: str
    """What showed it, in plain words; empty when nothing did."""
    share_seen: float
    """Share of the sphere that was modelled, 0 when the place is a guess."""
    evidence: tuple[Evidence, ...]
    residual: float = 0.0
    """Root mean square distance of the piece's surface from the fitted one, where it belongs."""
    shape: str = "sphere"
    """What the place was taken from: 'sphere', 'ellipsoid', 'box', 'face' or 'proportions'."""


@dataclass(frozen=True)
class EyesFound:
    """Both eyes; a false `NotFound` stands where there is none."""

    left: EyePlace | NotFound
    right: EyePlace | NotFound
    others: tuple[EyePlace, ...] = ()
    """Further eyes: a third one, or a single one in the middle."""

    def of(self, side: str) -> EyePlace | NotFound:
        """The eye of 'left' or 'right'."""
        return self.left if side == "left" else self.right

    def by_joint(self) -> dict[str, EyePlace]:
        """The eyes by the names of their joints.

        'left_eye' and 'right_eye'; one on the middle is 'middle_eye'; more of a kind are numbered
        from 2 on: 'left_eye_2'.
        """
        named = {
            f"{side}_eye": eye
            for side in ("left", "right")
            if isinstance(eye := self.of(side), EyePlace)
        }
        for eye in self.others:
            x = float(eye.center[0])
            aside = "left" if x > 0 else "right"
            stem = f"{'middle' if abs(x) < ON_MIDDLE * eye.radius else aside}_eye"
            numbered = (f"{stem}_{number}" for number in range(2, 100))
            name = (
                stem
                if stem == "middle_eye" and stem not in named
                else next(n for n in numbered if n not in named)
            )
            named[name] = eye
        return named


def eye_surfaces(
    character: Character, roles: Roles, working_vertices: Sequence[FloatArray]
) -> tuple[EyeSurface, ...]:
    """The eyeball pieces of a character; `working_vertices` are (n, 3) per part."""
    surfaces = []
    for piece in roles.of("eyeball"):
        faces = character.parts[piece.part_index].faces[piece.face_ids]
        used, local = np.unique(faces, return_inverse=True)
        vertices = np.asarray(working_vertices[piece.part_index], dtype=np.float64)[used]
        surfaces.append(EyeSurface(piece.side, vertices, local.reshape(-1, 3)))
    return tuple(_sides_by_place(surfaces))


def _sides_by_place(surfaces: Sequence[EyeSurface]) -> list[EyeSurface]:
    """The same with left at the larger x: the frame may have turned since the roles were given."""
    x = {
        side: [float(s.vertices[:, 0].mean()) for s in surfaces if s.side == side]
        for side in ("left", "right")
    }
    if not x["left"] or not x["right"] or np.mean(x["left"]) > np.mean(x["right"]):
        return list(surfaces)
    swap = {"left": "right", "right": "left", None: None}
    return [replace(s, side=swap[s.side]) for s in surfaces]


def place_eyes(surfaces: Sequence[EyeSurface]) -> EyesFound:
    """Fit a sphere to the eyeball of each side. Working frame.

    Of the pieces of one side the one that is the best ball is fitted (a sclera rather than the
    cornea over it); where only a small cap of one eye was made, the other's radius helps. A piece
    that is no ball (a cartoon's oval, a box) gives the middle of its box with a wider spread.
    """
    found: dict[str, EyePlace | NotFound] = {}
    for side in ("left", "right"):
        mine = [s for s in surfaces if s.side == side]
        found[side] = (
            _place(mine, side)
            if mine
            else NotFound(f"{side} eye", "no piece of the mesh on that side is an eyeball")
        )
    for side, other in (("left", "right"), ("right", "left")):
        one, two = found[side], found[other]
        if isinstance(one, EyePlace) and isinstance(two, EyePlace):
            less_seen = 0 < one.share_seen < min(SMALL_CAP, 0.8 * two.share_seen)
            if less_seen:
                prior = RadiusPrior(two.radius, RADIUS_ALIKE * two.radius)
                found[side] = _place([s for s in surfaces if s.side == side], side, prior)
    _drop_crossed_looks(found)
    others = [_place([s], None) for s in surfaces if s.side is None]
    return EyesFound(
        found["left"], found["right"], tuple(o for o in others if isinstance(o, EyePlace))
    )


def _drop_crossed_looks(found: dict[str, EyePlace | NotFound]) -> None:
    """Forget the look of two eyes that do not look alike: what showed them was no pupil."""
    left, right = found["left"], found["right"]
    if not isinstance(left, EyePlace) or not isinstance(right, EyePlace):
        return
    if left.look is None or right.look is None:
        return
    straight = float(left.look @ right.look)
    mirrored = float(left.look @ (right.look * [-1.0, 1.0, 1.0]))
    if max(straight, mirrored) < np.cos(np.radians(LOOKS_ALIKE)):
        found["left"] = replace(left, look=None, look_from="")
        found["right"] = replace(right, look=None, look_from="")


def _place(
    pieces: Sequence[EyeSurface], side: str | None, prior: RadiusPrior | None = None
) -> EyePlace | NotFound:
    label = f"{side} eye" if side else "eye"
    balls: list[tuple[float, int, Ball]] = []
    for index, piece in enumerate(pieces):
        ball = fit_ball(piece.vertices, piece.faces, prior)
        if ball is not None:
            balls.append((ball.merit, index, ball))
    if not balls:
        return _box_middle(pieces, side, label)
    _, index, ball = max(balls, key=lambda one: (one[0], -one[1]))
    look, look_from = look_of(
        ball,
        pieces[index].vertices,
        pieces[index].faces,
        [p.vertices for i, p in enumerate(pieces) if i != index],
    )
    kind = f"{ball.shape}_fit"
    evidence = Evidence(kind, ball.center, ball.spread, 1.0, _words(ball, prior is not None))
    return EyePlace(
        side,
        ball.center,
        ball.radius,
        ball.spread,
        look,
        look_from,
        ball.share_seen,
        (evidence,),
        ball.residual,
        ball.shape,
    )


def _words(ball: Ball, helped: bool) -> str:
    """What was fitted, for a person."""
    seen = "a whole ball" if ball.share_seen > 0.95 else f"{ball.share_seen:.0%} of a ball"
    size = f"sphere of radius {ball.radius:.4f} of height"
    if ball.oval is not None:
        half = " by ".join(f"{length:.4f}" for length in ball.oval.lengths[::-1])
        size = f"ellipsoid of half axes {half} of height"
    note = f"{size} through {seen}, residual {ball.residual / ball.radius:.2%} of the radius"
    return note + (", radius helped by the other eye's" if helped else "")


def _box_middle(pieces: Sequence[EyeSurface], side: str | None, label: str) -> EyePlace | NotFound:
    """The middle of the largest piece's box, for an eye that is no ball."""
    sizes = [float(np.prod(np.ptp(p.vertices, axis=0))) for p in pieces]
    piece = pieces[int(np.argmax(sizes))]
    low, high = piece.vertices.min(axis=0), piece.vertices.max(axis=0)
    half = 0.5 * (high - low)
    if half.max() <= 0:
        return NotFound(label, "its piece has no size")
    center = 0.5 * (low + high)
    radius = float(np.median(half))
    # the centre of a flat or cut piece may lie anywhere within its depth
    spread = float(half.max()) / 3.0
    note = "middle of the eye's box: the piece is not part of a sphere"
    evidence = Evidence("box_middle", center, spread, 1.0, note)
    return EyePlace(side, center, radius, spread, None, "", 0.0, (evidence,), shape="box")


def eyes_from_head(
    low: FloatArray, high: FloatArray, brow_z: float | None = None
) -> tuple[EyePlace, EyePlace]:
    """Left and right eye where published head proportions put them, for a head without eyeballs.

    Args:
        low, high: (3,) corners of the head's box from chin to top, ears left out, working frame.
        brow_z: z of the brow's front on the middle line; the box's front when None.

    Returns:
        The two places, each with the wide spread of the proportions.
    """
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    size = high - low
    front = float(high[2]) if brow_z is None else brow_z
    middle = 0.5 * (low[0] + high[0])
    aside = 0.5 * EYE_DISTANCE * size[0]
    y = low[1] + EYE_LEVEL * size[1]
    z = front - EYE_BEHIND_GLABELLA * size[1]
    spread = float(
        np.sqrt(
            (EYE_LEVEL_SD * size[1]) ** 2
            + (EYE_DISTANCE_SD * size[0]) ** 2
            + (DEPTH_SD * size[1]) ** 2
        )
    )
    note = "half the head height, .415 of its breadth apart; no eyeball was found"
    places = []
    for side, sign in (("left", 1.0), ("right", -1.0)):
        center = np.array([middle + sign * aside, y, z])
        evidence = Evidence("head_proportions", center, spread, 1.0, note)
        radius = GLOBE_RADIUS * float(size[1])
        places.append(
            EyePlace(side, center, radius, spread, None, "", 0.0, (evidence,), shape="proportions")
        )
    return places[0], places[1]
