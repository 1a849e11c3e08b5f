"""Builds a whole figure: parts as triangles, joints from its construction."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .body import arm_shape, leg_shape, neck_shape, trunk_shape
from .bones import Bones, make_bones
from .combine import Blend, Mirror
from .faces import eyeball_radius, head_shape
from .feet import foot_shape
from .hair import BEARDS, HAIRCUTS
from .hands import hand_shape
from .headgear import BIG_HAIR, HEADGEAR
from .marching import march, reduce_faces
from .params import FigureParams
from .props import PROPS
from .shapes import Shape
from .skirts import HEMS
from .wardrobe import GARMENTS, dressed
from .wearer import Wearer

__all__ = ["DETAIL", "Detail", "Part", "build_figure", "eyeball", "skin_shapes"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Part:
    """One object of a figure's file."""

    name: str
    vertices: FloatArray
    """(N, 3) in the figure's own units; +Y up, +Z forward, floor at 0."""
    faces: IntArray
    """(M, 3) wound outward."""


@dataclass(frozen=True)
class Detail:
    """How finely a figure is made."""

    cell: float
    """Spacing of the sample lattice, fraction of stature."""
    faces: int
    """Faces of the skin after reduction."""
    rings: int
    """Rings of an eyeball."""
    worn: float = 1.0
    """Spacing for what is worn, as a multiple of that for the skin."""
    hand: float = 1.0
    """Spacing for hands that are parts of their own, likewise."""


DETAIL = {
    "full": Detail(0.0014, 22000, 16),
    "draft": Detail(0.0022, 16000, 14),
    "light": Detail(0.0038, 7000, 10),
}


SKIN = ("body", "head", "left_arm", "right_arm", "left_leg", "right_leg")
"""Parts made at the finest spacing."""


def eyeball(
    centre: FloatArray,
    radius: float,
    forward: FloatArray,
    up: FloatArray,
    rings: int,
) -> tuple[FloatArray, IntArray]:
    """A ball with its pole at the pupil, a dished iris and a slight cornea."""
    angle = np.linspace(0, np.pi, rings + 1)[1:-1]
    # iris 5.9 mm of a 12 mm ball: 29 degrees from the axis; dished by a tenth of the radius
    degrees = np.degrees(angle)
    length = np.where(degrees < 28, 0.93 + 0.05 * (degrees / 28) ** 2, 1.0) * radius
    around = np.arange(2 * rings) * np.pi / rings
    side = np.cross(up, forward)
    ring = np.cos(around)[:, None] * side + np.sin(around)[:, None] * up
    body = centre + (
        (length * np.sin(angle))[:, None, None] * ring
        + (length * np.cos(angle))[:, None, None] * forward
    )
    front, back = centre + 0.90 * radius * forward, centre - radius * forward
    vertices = np.concatenate([front[None], body.reshape(-1, 3), back[None]])
    n = 2 * rings
    i = np.arange(n)
    j = (i + 1) % n
    faces = [np.stack([np.zeros(n, int), 1 + i, 1 + j], axis=1)]
    for k in range(len(angle) - 1):
        a, b = 1 + k * n, 1 + (k + 1) * n
        faces += [np.stack([a + i, b + i, b + j], axis=1), np.stack([a + i, b + j, a + j], axis=1)]
    last = 1 + (len(angle) - 1) * n
    faces.append(np.stack([last + i, np.full(n, len(vertices) - 1), last + j], axis=1))
    return vertices, np.concatenate(faces).astype(np.int64)


def _skin(p: FigureParams, bones: Bones) -> Wearer:
    """The bare figure, region by region."""
    uppers, fores, hands, thighs, shanks, feet = [], [], [], [], [], []
    for i in (0, 1):
        wrap = (lambda shape: shape) if i == 0 else Mirror
        upper, fore = arm_shape(p, bones.arms[i])
        thigh, shank = leg_shape(p, bones.legs[i])
        uppers.append(wrap(upper))
        fores.append(wrap(fore))
        hands.append(wrap(hand_shape(p.hand, bones.arms[i])))
        thighs.append(wrap(thigh))
        shanks.append(wrap(shank))
        feet.append(wrap(foot_shape(p, bones.legs[i])))
    return Wearer(
        p,
        bones,
        trunk_shape(p, bones),
        neck_shape(p, bones),
        head_shape(p, bones),
        uppers,
        fores,
        hands,
        thighs,
        shanks,
        feet,
    )


def _add(solids: dict[str, tuple[Shape, float]], name: str, shape: Shape, share: float) -> None:
    """A part more, or with "skin:" before its name a growth of the body or the head."""
    if not name.startswith("skin:"):
        solids[name] = (shape, share)
        return
    host = "body" if "body" in solids and "head" not in solids else "head"
    old, old_share = solids[host]
    solids[host] = (Blend([old, shape], 0.006), old_share)


def _solids(wearer: Wearer, rng: np.random.Generator) -> dict[str, tuple[Shape, float]]:
    """All parts but the eyeballs by name: shape and share of the face budget."""
    params, bones = wearer.params, wearer.bones
    solids = dressed(wearer)
    if params.hair:
        cut = HAIRCUTS[params.hair] if params.hair in HAIRCUTS else BIG_HAIR[params.hair]
        solids["hair"] = (cut(params, bones, rng), 0.17)
    if params.beard:
        solids["beard"] = (BEARDS[params.beard](params, bones, rng), 0.09)
    for name in params.headgear:
        maker, share = HEADGEAR[name.removeprefix("skin:")]
        _add(solids, name, maker(params, bones, rng), share)
    for name in params.props:
        _, carried, share = PROPS[name.removeprefix("skin:")]
        _add(solids, name, carried(wearer), share)
    return solids


def skin_shapes(params: FigureParams, bones: Bones, seed: int | None = None) -> list[Shape]:
    """All that the figure is and wears, without eyeballs, at a stature of one."""
    rng = np.random.default_rng(0 if seed is None else seed)
    return [shape for shape, _ in _solids(_skin(params, bones), rng).values()]


def _open_below(
    vertices: FloatArray, faces: IntArray, hem: float, near: float
) -> tuple[FloatArray, IntArray]:
    """Without the bottom at the height `hem`, so that a skirt is a sheet and not a lump."""
    kept = faces[(vertices[faces][:, :, 1] > hem + near).any(axis=1)]
    used, place = np.unique(kept, return_inverse=True)
    return vertices[used], place.reshape(-1, 3)


def build_figure(
    params: FigureParams, seed: int | None = None, detail: str | Detail = "full"
) -> tuple[list[Part], dict[str, FloatArray]]:
    """Make a figure.

    `seed` varies hair and headgear only; `detail` is a key of `DETAIL`, or a detail. Returns the
    parts and the joints by name, both in the figure's units, +Y up, +Z forward, floor at y = 0.
    The same arguments give the same numbers.
    """
    level = DETAIL[detail] if isinstance(detail, str) else detail
    bones = make_bones(params)
    wearer = _skin(params, bones)
    rng = np.random.default_rng(0 if seed is None else seed)
    hems = {GARMENTS[name][0]: HEMS[name](wearer) for name in params.outfit if name in HEMS}
    parts = []
    for name, (shape, share) in _solids(wearer, rng).items():
        cell = level.cell
        if name.endswith("_hand"):
            cell *= level.hand
        elif name not in SKIN:
            cell *= level.worn
        vertices, faces = march(shape, cell)
        if name in hems:
            vertices, faces = _open_below(vertices, faces, hems[name], 0.3 * cell)
        parts.append(Part(name, *reduce_faces(vertices, faces, int(share * level.faces))))
    parts += _eyes(params, bones, level.rings)
    scale = params.height
    joints = {name: at * scale for name, at in bones.joints().items()}
    if params.eyes == "none":
        joints = {n: at for n, at in joints.items() if not n.endswith("_eye")}
    return [replace(part, vertices=part.vertices * scale) for part in parts], joints


def _eyes(params: FigureParams, bones: Bones, rings: int) -> list[Part]:
    if params.eyes == "none":
        return []
    radius = eyeball_radius(params)
    _, up, forward = bones.head.axes
    balls = [eyeball(at, radius, forward, up, rings) for at in bones.eyes]
    if params.eyes == "apart":
        return [Part(f"eye_{s}", *ball) for s, ball in zip(("left", "right"), balls, strict=True)]
    (va, fa), (vb, fb) = balls
    return [Part("eyes", np.concatenate([va, vb]), np.concatenate([fa, fb + len(va)]))]
