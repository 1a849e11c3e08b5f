"""Figures without eyes of their own, in many proportions, and where their eyes should be.

All stand in one frame: +Y up, +Z ahead, +X their own left; the units differ.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from autoplace import load
from autoplace.measure.frame import AXES
from autoplace.skeleton.model import Joint, Skeleton, Source
from meshes.family import family
from tests.family.built import built
from tests.light_figure import light_figure
from tests.mesh import capsule_figures
from tests.mesh.capsule_figures import capsule, joined

Mesh = tuple[np.ndarray, np.ndarray]
MESHES = Path(__file__).resolve().parents[2] / "meshes"
HIDDEN_EYES = ("bubble", "closed helmet")
"""Headgear of the invented family that leaves no face to see."""


@dataclass(frozen=True)
class Host:
    """A figure without eyeballs."""

    name: str
    parts: dict[str, Mesh]
    left: np.ndarray
    """(3,) where its left eye belongs."""
    right: np.ndarray
    radius: float
    """Of the eyeballs that belong there."""
    top: np.ndarray
    """(3,) of the head."""
    chin: float
    """Height of the chin."""
    height: float
    face: str
    """'plain': a smooth ball of a head; 'lids': sockets and lids were shaped."""

    @property
    def head(self) -> float:
        """Height of the head."""
        return float(self.top[1]) - self.chin

    def skeleton(self) -> Skeleton:
        """Just enough of a skeleton to stand the figure in its frame."""
        foot, middle = float(self.top[1]) - self.height, 0.5 * (self.left[0] + self.right[0])
        joints = [
            Joint("pelvis", None, np.array([middle, foot + 0.5 * self.height, 0.0])),
            Joint("head", "pelvis", np.array([middle, self.chin + 0.2 * self.head, 0.0])),
            Joint("head_top", "head", self.top),
        ]
        return Skeleton(tuple(joints), Source(self.name, None, "+Y", "+Z", self.height))

    def surface(self, x: float, y: float, sideways: float = 0.0) -> np.ndarray:
        """(3,) the outermost point of the figure at a height, seen from ahead or `sideways`.

        `sideways` degrees to the left of ahead; `x` is measured across that line of sight.
        """
        s, c = np.sin(np.radians(sideways)), np.cos(np.radians(sideways))
        ahead, across = np.array([s, 0.0, c]), np.array([c, 0.0, -s])
        middle = np.array([0.5 * (self.left[0] + self.right[0]), 0.0, 0.0])
        best = None
        for vertices, faces in self.parts.values():
            flat = np.stack([(vertices - middle) @ across - x, vertices[:, 1] - y], axis=1)
            a, b, c_ = (flat[faces[:, k]] for k in range(3))
            u, v = b - a, c_ - a
            area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
            safe = np.where(area == 0, 1.0, area)
            p = (-a[:, 0] * v[:, 1] + a[:, 1] * v[:, 0]) / safe
            q = (-a[:, 1] * u[:, 0] + a[:, 0] * u[:, 1]) / safe
            hit = (area != 0) & (p >= 0) & (q >= 0) & (p + q <= 1)
            if not hit.any():
                continue
            corner = vertices[faces[hit]]
            w = np.stack([1 - p - q, p, q], axis=1)[hit]
            points = (w[:, :, None] * corner).sum(axis=1)
            point = points[np.argmax(points @ ahead)]
            if best is None or point @ ahead > best @ ahead:
                best = point
        assert best is not None, f"{self.name}: nothing stands at this height"
        return best


def _without_eyes(parts: dict[str, Mesh], eyes: np.ndarray, height: float) -> dict[str, Mesh]:
    """The parts that do not lie wholly about the eyes (2, 3)."""
    kept = {}
    for name, (vertices, faces) in parts.items():
        away = np.linalg.norm(vertices[:, None] - eyes[None], axis=2).min(axis=1)
        if away.max() > 0.06 * height:
            kept[name] = (vertices, faces)
    return kept


def _made(name: str, parts: dict[str, Mesh], joints: dict[str, np.ndarray], height: float) -> Host:
    """A host from a figure with known joints, its eyeballs taken away."""
    eyes = np.array([joints["left_eye"], joints["right_eye"]])
    bare = _without_eyes(parts, eyes, height)
    top = joints["head_top"]
    eye_y = float(eyes[:, 1].mean())
    chin = float(2 * eye_y - top[1])
    # eyeballs an adult's size against the head (references: 12 of 228 mm), more on a large head
    balls = [v for n, (v, _) in parts.items() if n not in bare]
    radius = (
        float(
            np.median(
                np.linalg.norm(np.concatenate(balls)[:, None] - eyes[None], axis=2).min(axis=1)
            )
        )
        if balls
        else 0.06 * (float(top[1]) - chin)
    )
    return Host(name, bare, eyes[0], eyes[1], radius, np.asarray(top), chin, height, "lids")


@cache
def plain_host(size: float) -> Host:
    """A capsule figure whose head is a smooth ball `size` times an adult's."""
    limbs = {n: capsule(*capsule_figures.mirrored(n)) for n in capsule_figures.limb_names()}
    base = np.array([0.0, 0.86, 0.0])
    head = limbs.pop("head")
    head = (base + (head[0] - base) * size, head[1])
    body = joined(head, *limbs.values())
    eye = base + (capsule_figures.EYE_PLACE - base) * size
    top = base + np.array([0.0, 0.14, 0.01]) * size
    left = eye
    radius = capsule_figures.EYE_RADIUS * size
    return Host(
        f"plain{size:g}",
        {"Object001": body},
        left,
        left * [-1.0, 1.0, 1.0],
        radius,
        top,
        float(base[1] - 0.01 * size),
        float(body[0][:, 1].max() - body[0][:, 1].min()),
        "plain",
    )


@cache
def demo_host(name: str) -> Host:
    """One of the demo characters."""
    record = json.loads((MESHES / f"{name}.truth.json").read_text(encoding="utf-8"))
    up, ahead = AXES[record["up"]], AXES[record["forward"]]
    turn = np.stack([np.cross(up, ahead), up, ahead], axis=1)
    joints = {n: np.array(p, dtype=float) @ turn for n, p in record["joints"].items()}
    character = load(MESHES / f"{name}.obj")
    parts = {p.name: (p.vertices @ turn, p.faces) for p in character.parts}
    return _made(name, parts, joints, float(record["height"]))


@cache
def light_host() -> Host:
    """The coarse figure of the tests."""
    character, joints = light_figure()
    return _made("light", {p.name: (p.vertices, p.faces) for p in character.parts}, joints, 1.74)


def family_hosts(even: bool, count: int) -> Iterator[Host]:
    """Members of the invented family whose faces show; those of even or of odd number."""
    members = [
        m
        for number, m in enumerate(family())
        if (number % 2 == 0) == even
        and m.traits["top"] not in HIDDEN_EYES
        and m.traits["skin"] != "robot"
        and m.traits["faces"] != "1200"
    ]
    for row in np.linspace(0, len(members) - 1, count).round().astype(int):
        member = members[row]
        one = built(member)
        turn = one.file_axes
        parts = {p.name: (p.vertices @ turn, p.faces) for p in one.character.parts}
        joints = {n: p @ turn for n, p in one.joints.items()}
        yield _made(member.name, parts, joints, one.height)


def dataset_host() -> Host:
    """A body of the open dataset that may be looked at."""
    from tests.dataset.bodies import build, open_spec

    body = build(open_spec(2, "rest", 0, 0))
    parts = {p.name: (p.vertices, p.faces) for p in body.character.parts}
    return _made("dataset", parts, body.joints, body.height)
