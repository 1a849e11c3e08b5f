"""States a mesh may be in without the figure being another one: turned, torn, refined, reversed.

A state is a function from a character to the changed one. It returns with it the way back: where a
point of the changed mesh lies in the unchanged one, and whether left and right have changed places.
Whatever is random is drawn from a seed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from autoplace.mesh.character import Character, Part
from tests.invariance.cutting import in_parts

__all__ = ["STATES", "Changed", "State", "apply", "height_of"]

SEED = 20260101


@dataclass(frozen=True)
class Changed:
    """A changed character and the way back to the unchanged one."""

    character: Character
    matrix: np.ndarray
    """(3, 3) of x_changed = matrix @ x + shift."""
    shift: np.ndarray
    swapped: bool = False
    """True when left and right have changed places."""

    def back(self, point: np.ndarray) -> np.ndarray:
        """Where a point (3,) of the changed mesh lies in the unchanged one."""
        return np.linalg.solve(self.matrix, point - self.shift)


State = Callable[[Character, Mapping[str, np.ndarray]], Changed]
"""Takes the character, and some joints (3,) by name for the states that cut it up."""


def height_of(character: Character) -> float:
    """Extent of the mesh along the axis up (+Y in all characters used here)."""
    vertices, faces = character.vertices, character.faces
    return float(np.ptp(vertices[np.unique(faces), 1]))


def with_parts(character: Character, parts: list[Part]) -> Character:
    return replace(character, parts=tuple(parts), path=None, sha256=None)


def part_like(part: Part, vertices: np.ndarray, faces: np.ndarray, name: str | None = None) -> Part:
    """A part with new geometry; sources are counted anew."""
    return Part(
        name=name or part.name,
        vertices=np.ascontiguousarray(vertices, dtype=np.float64),
        faces=np.ascontiguousarray(faces, dtype=np.int64),
        source_vertices=np.arange(len(vertices)),
        source_faces=np.arange(len(faces)),
    )


def every_part(change: Callable[[Part, np.random.Generator], Part]) -> State:
    """A state that changes part by part and leaves the figure where it is."""

    def state(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
        draw = np.random.default_rng(SEED)
        parts = [change(part, draw) for part in character.parts]
        return Changed(with_parts(character, parts), np.eye(3), np.zeros(3))

    return state


def moved(matrix: np.ndarray, heights: tuple[float, float, float] = (0, 0, 0)) -> State:
    """Every vertex through a matrix and then moved by so many heights of the unchanged figure."""
    matrix = np.asarray(matrix, dtype=np.float64)

    def state(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
        shift = np.array(heights) * height_of(character)
        mirrored = np.linalg.det(matrix) < 0
        parts = [
            part_like(
                part,
                part.vertices @ matrix.T + shift,
                part.faces[:, ::-1] if mirrored else part.faces,
            )
            for part in character.parts
        ]
        return Changed(with_parts(character, parts), matrix, shift, bool(mirrored))

    return state


def turned_by(seed: int) -> np.ndarray:
    """(3, 3) a rotation drawn evenly from all."""
    q = np.random.default_rng(seed).normal(size=4)
    return quaternion_matrix(q / np.linalg.norm(q))


def quaternion_matrix(q: np.ndarray) -> np.ndarray:
    w, x, y, z = q
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def about(axis: tuple[float, float, float], degrees: float) -> np.ndarray:
    """(3, 3) rotation about an axis."""
    unit = np.array(axis) / np.linalg.norm(axis)
    half = np.radians(degrees) / 2
    return quaternion_matrix(np.r_[np.cos(half), np.sin(half) * unit])


def shuffled(part: Part, draw: np.random.Generator) -> Part:
    order = draw.permutation(len(part.vertices))
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    faces = place[part.faces][draw.permutation(len(part.faces))]
    roll = draw.integers(0, 3, len(faces))
    faces = faces[np.arange(len(faces))[:, None], (np.arange(3) + roll[:, None]) % 3]
    return part_like(part, part.vertices[order], faces)


def unwelded(part: Part, draw: np.random.Generator) -> Part:
    return part_like(
        part, part.vertices[part.faces].reshape(-1, 3), np.arange(part.faces.size).reshape(-1, 3)
    )


def third_flipped(part: Part, draw: np.random.Generator) -> Part:
    flipped = draw.random(len(part.faces)) < 1 / 3
    return part_like(
        part, part.vertices, np.where(flipped[:, None], part.faces[:, ::-1], part.faces)
    )


def inside_out(part: Part, draw: np.random.Generator) -> Part:
    return part_like(part, part.vertices, part.faces[:, ::-1])


def torn(part: Part, draw: np.random.Generator) -> Part:
    return part_like(part, part.vertices, part.faces[draw.random(len(part.faces)) >= 0.02])


def refined(part: Part, draw: np.random.Generator | None = None) -> Part:
    """Every triangle cut into four at the middles of its edges."""
    faces, n = part.faces, len(part.vertices)
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    key = edges[:, 0] * n + edges[:, 1]
    unique, where = np.unique(key, return_inverse=True)
    middle = 0.5 * (part.vertices[unique // n] + part.vertices[unique % n])
    ab, bc, ca = (n + where.reshape(3, -1)).astype(np.int64)
    a, b, c = faces.T
    new = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    return part_like(part, np.concatenate([part.vertices, middle]), new)


def refined_often(times: int) -> Callable[[Part, np.random.Generator], Part]:
    def change(part: Part, draw: np.random.Generator) -> Part:
        for _ in range(times):
            part = refined(part)
        return part

    return change


def reduced(target: int) -> State:
    """Fewer faces by edge collapse, so many in all parts together."""

    def state(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
        import fast_simplification

        share = target / character.face_count
        parts = []
        for part in character.parts:
            wanted = max(int(share * len(part.faces)), 60)
            if wanted < len(part.faces):
                points, faces = fast_simplification.simplify(
                    part.vertices.astype(np.float32),
                    part.faces.astype(np.int32),
                    target_count=wanted,
                )
                part = part_like(part, points.astype(np.float64), faces.astype(np.int64))
            parts.append(part)
        return Changed(with_parts(character, parts), np.eye(3), np.zeros(3))

    return state


def jittered(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
    """Every vertex moved by 0.1 percent of the height (one standard deviation along each axis);
    vertices at one place together, or the mesh would come apart."""
    draw = np.random.default_rng(SEED)
    size = 1e-3 * height_of(character)
    vertices = character.vertices
    _, place = np.unique(np.round(vertices / (1e-3 * size)), axis=0, return_inverse=True)
    place = place.reshape(-1)
    offsets = draw.normal(scale=size, size=(place.max() + 1, 3))[place]
    parts, start = [], 0
    for part in character.parts:
        stop = start + len(part.vertices)
        parts.append(part_like(part, part.vertices + offsets[start:stop], part.faces))
        start = stop
    return Changed(with_parts(character, parts), np.eye(3), np.zeros(3))


def on_ground(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
    """With a level square under the feet, as wide as 30 metres are to a figure of 1.7."""
    vertices = character.vertices[np.unique(character.faces)]
    half = 0.5 * 30.0 / 1.7 * height_of(character)
    low = vertices[:, 1].min()
    corners = np.array(
        [[-half, low, -half], [half, low, -half], [half, low, half], [-half, low, half]]
    )
    plane = part_like(character.parts[0], corners, np.array([[0, 2, 1], [0, 3, 2]]), "ground")
    return Changed(with_parts(character, [*character.parts, plane]), np.eye(3), np.zeros(3))


def one_after_another(*states: State) -> State:
    """Several states, each applied to what the one before made."""

    def state(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
        matrix, shift, swapped = np.eye(3), np.zeros(3), False
        known = dict(joints)
        for step in states:
            changed = step(character, known)
            character = changed.character
            matrix, shift = changed.matrix @ matrix, changed.matrix @ shift + changed.shift
            known = {name: changed.matrix @ p + changed.shift for name, p in known.items()}
            swapped ^= changed.swapped
        return Changed(character, matrix, shift, swapped)

    return state


def apply(name: str, character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
    """The character in the state of that name."""
    return STATES[name](character, joints)


def cut_up(slimmer: float) -> State:
    """Head, torso, arms, legs and hands as parts that overlap, so much slimmer underneath."""

    def state(character: Character, joints: Mapping[str, np.ndarray]) -> Changed:
        return Changed(in_parts(character, joints, slimmer), np.eye(3), np.zeros(3))

    return state


Z_UP = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
X_UP = np.array([[0, 1.0, 0], [0, 0, 1], [1, 0, 0]])

STATES: dict[str, State] = {
    "again": moved(np.eye(3)),
    "+Z up": moved(Z_UP),
    "+X up": moved(X_UP),
    "head down": moved(np.diag([1.0, -1, -1])),
    "facing back": moved(np.diag([-1.0, 1, -1])),
    "tilted by 10 degrees": moved(about((1, 0.3, 0.5), 10.0)),
    "turned by 45 about up": moved(about((0, 1, 0), 45.0)),
    "turned anyhow": moved(turned_by(1)),
    "turned anyhow, again": moved(turned_by(2)),
    "1e-6 times the size": moved(1e-6 * np.eye(3)),
    "1e6 times the size": moved(1e6 * np.eye(3)),
    "moved a little": moved(np.eye(3), (0.31, 0.173, -0.257)),
    "10,000 heights away": moved(np.eye(3), (1e4, -1e4, 1e4)),
    "mirrored": moved(np.diag([-1.0, 1, 1])),
    "shuffled": every_part(shuffled),
    "unwelded": every_part(unwelded),
    "a third flipped": every_part(third_flipped),
    "inside out": every_part(inside_out),
    "2 % of faces gone": every_part(torn),
    "4 times the faces": every_part(refined),
    "5,000 faces": reduced(5000),
    "jittered": jittered,
    "in overlapping parts": cut_up(0.0),
    "in parts, slimmer underneath": cut_up(0.15),
    "on a ground of 30 m": on_ground,
    "unwelded, a third flipped": one_after_another(every_part(unwelded), every_part(third_flipped)),
    "unwelded and jittered": one_after_another(jittered, every_part(unwelded)),
    "turned, torn, flipped, unwelded": one_after_another(
        moved(0.01 * turned_by(3), (3, 1, 2)),
        every_part(torn),
        every_part(third_flipped),
        every_part(shuffled),
        every_part(unwelded),
    ),
}
"""All states by name, but the one of very many faces: see `MANY`."""

MANY = ("64 times the faces", every_part(refined_often(3)))
"""1.75 million faces from a body of 27,000."""
