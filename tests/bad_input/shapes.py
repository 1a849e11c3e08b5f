"""Sound meshes that are no usual character, and characters with something missing.

The damaged characters are made from a demo character with its known joints: a vertex belongs to the
joint nearest to it, so that a hand or an arm can be taken off by name.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from autoplace.data import data_folder
from autoplace.mesh.character import Character
from autoplace.mesh.load import load

Piece = tuple[str, np.ndarray, np.ndarray]
"""Name, vertices (n, 3), triangles (m, 3)."""

FINGERS = ("thumb", "index", "middle", "ring", "pinky")


def write_obj(path: Path, pieces: Sequence[Piece]) -> Path:
    """An OBJ file with one object for each piece."""
    lines, start = [], 1
    for name, vertices, faces in pieces:
        lines.append(f"o {name}")
        lines += [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
        lines += [f"f {a} {b} {c}" for a, b, c in (faces + start).tolist()]
        start += len(vertices)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def plane(cells: int = 20) -> list[Piece]:
    """A flat square sheet standing upright."""
    steps = np.linspace(0.0, 1.0, cells + 1)
    x, y = np.meshgrid(steps, steps, indexing="ij")
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    corner = np.arange(x.size).reshape(x.shape)
    a, b = corner[:-1, :-1].ravel(), corner[1:, :-1].ravel()
    c, d = corner[1:, 1:].ravel(), corner[:-1, 1:].ravel()
    return [("sheet", vertices, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))]


def cube() -> list[Piece]:
    """A cube of eight corners."""
    corners = np.array([[i & 1, i >> 1 & 1, i >> 2] for i in range(8)], dtype=float)
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    faces = [(a, b, c) for a, b, c, _ in quads] + [(a, c, d) for a, _, c, d in quads]
    return [("cube", corners, np.array(faces))]


def ball(rings: int = 24) -> list[Piece]:
    """A sphere."""
    polar = np.linspace(0, np.pi, rings + 1)
    turn = np.linspace(0, 2 * np.pi, 2 * rings, endpoint=False)
    p, t = np.meshgrid(polar, turn, indexing="ij")
    vertices = np.stack([np.sin(p) * np.cos(t), np.cos(p), np.sin(p) * np.sin(t)], axis=-1)
    corner = np.arange(p.size).reshape(p.shape)
    a, b = corner[:-1], np.roll(corner, -1, axis=1)[:-1]
    c, d = np.roll(corner, -1, axis=1)[1:], corner[1:]
    faces = np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)]).reshape(-1, 3)
    return [("ball", vertices.reshape(-1, 3), faces)]


def demo_character(name: str = "keeper") -> tuple[Character, dict[str, np.ndarray]]:
    """A demo character with its known joints (3,), both in the frame of its file."""
    folder = data_folder("meshes")
    truth = json.loads((folder / f"{name}.truth.json").read_text(encoding="utf-8"))
    joints = {joint: np.array(place, dtype=float) for joint, place in truth["joints"].items()}
    return load(folder / f"{name}.obj"), joints


def pieces_of(character: Character) -> list[Piece]:
    """The parts of a character as they are."""
    return [(part.name, part.vertices, part.faces) for part in character.parts]


def nearest_joint(points: np.ndarray, joints: dict[str, np.ndarray]) -> np.ndarray:
    """(n,) name of the joint nearest to each point."""
    names = np.array(list(joints))
    places = np.stack(list(joints.values()))
    return names[np.linalg.norm(points[:, None] - places, axis=2).argmin(axis=1)]


def only_near(
    character: Character, joints: dict[str, np.ndarray], wanted: Callable[[str], bool]
) -> list[Piece]:
    """The triangles all of whose corners are nearest to a wanted joint, cut edges left open."""
    pieces = []
    for name, vertices, faces in pieces_of(character):
        near = np.array([wanted(joint) for joint in nearest_joint(vertices, joints)])
        kept = faces[near[faces].all(axis=1)]
        if len(kept):
            used, local = np.unique(kept, return_inverse=True)
            pieces.append((name, vertices[used], local.reshape(-1, 3)))
    return pieces


def is_of_hand(joint: str, side: str) -> bool:
    """Whether a joint is the wrist or a finger's joint of a side."""
    return joint == f"{side}_wrist" or any(joint.startswith(f"{side}_{f}") for f in FINGERS)


def is_of_arm(joint: str, side: str) -> bool:
    """Whether a joint is beyond the shoulder of a side."""
    return joint == f"{side}_elbow" or is_of_hand(joint, side)


def without_fingers(character: Character, joints: dict[str, np.ndarray]) -> list[Piece]:
    """The same character with every finger pushed back into the palm, the surface still closed."""
    pieces = []
    for name, vertices, faces in pieces_of(character):
        near, moved = nearest_joint(vertices, joints), vertices.copy()
        for side in ("left", "right"):
            wrist = joints[f"{side}_wrist"]
            along = joints[f"{side}_middle_1"] - wrist
            reach = np.linalg.norm(along)
            along = along / reach
            mine = np.array([is_of_hand(str(joint), side) for joint in near])
            offset = vertices - wrist
            depth = offset @ along
            across = offset - np.outer(depth, along)
            width = np.linalg.norm(across, axis=1)
            # the thumb goes into the side of the palm
            narrowed = across * np.minimum(1.0, 0.4 * reach / np.maximum(width, 1e-12))[:, None]
            # and what lies beyond the knuckles is drawn together to a nearly flat end
            beyond = np.clip((depth - reach) / reach, 0.0, 1.0)
            shape = np.outer(np.minimum(depth, reach) + 0.1 * reach * beyond, along)
            shape += narrowed * (1.0 - beyond)[:, None]
            mine &= depth > 0.3 * reach  # a sleeve about the wrist stays as it is
            moved[mine] = (wrist + shape)[mine]
        pieces.append((name, moved, faces))
    return pieces


def eye_parts(character: Character) -> set[str]:
    """Names of the parts that hold the eyeballs."""
    return {part.name for part in character.parts if "eye" in part.name and "brow" not in part.name}


def without_eyes(character: Character, sides: Sequence[str], joints: dict[str, np.ndarray]):
    """The character without the eyeballs of some sides."""
    eyes, pieces = eye_parts(character), []
    lost = [f"{side}_eye" for side in sides]
    both = {name: joints[name] for name in ("left_eye", "right_eye")}
    for name, vertices, faces in pieces_of(character):
        if name in eyes:
            gone = np.isin(nearest_joint(vertices, both), lost)
            faces = faces[~gone[faces].any(axis=1)]
        if len(faces):
            used, local = np.unique(faces, return_inverse=True)
            pieces.append((name, vertices[used], local.reshape(-1, 3)))
    return pieces
