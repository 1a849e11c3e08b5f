"""Builds a whole figure: parts as triangles, joints from its construction."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .body import arm_shape, leg_shape, neck_shape, trunk_shape
from .bones import Bones, make_bones
from .combine import Mirror
from .faces import eyeball_radius, head_shape
from .feet import foot_shape
from .hair import BEARDS, HAIRCUTS
from .hands import hand_shape
from .marching import march, reduce_faces
from .params import FigureParams
from .wardrobe import dressed
from .wearer import Wearer

__all__ = ["DETAIL", "Part", "build_figure", "eyeball"]

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


DETAIL = {
    "full": Detail(0.0014, 22000, 16),
    "draft": Detail(0.0022, 16000, 14),
    "light": Detail(0.0038, 7000, 10),
}


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


def build_figure(
    params: FigureParams, seed: int | None = None, detail: str = "full"
) -> tuple[list[Part], dict[str, FloatArray]]:
    """Make a figure.

    `seed` varies the strands of the hair only; `detail` is a key of `DETAIL`. Returns the parts
    and the joints by name, both in the figure's units, +Y up, +Z forward, floor at y = 0.
    The same arguments give the same numbers.
    """
    level = DETAIL[detail]
    bones = make_bones(params)
    wearer = _skin(params, bones)
    rng = np.random.default_rng(0 if seed is None else seed)
    solids = dressed(wearer)
    if params.hair:
        solids["hair"] = (HAIRCUTS[params.hair](params, bones, rng), 0.17)
    if params.beard:
        solids["beard"] = (BEARDS[params.beard](params, bones, rng), 0.09)
    parts = []
    for name, (shape, share) in solids.items():
        vertices, faces = reduce_faces(*march(shape, level.cell), int(share * level.faces))
        parts.append(Part(name, vertices, faces))
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
