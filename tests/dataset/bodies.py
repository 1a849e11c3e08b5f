"""Bodies with known joints: built from the open dataset, shaped and posed with plain numpy.

Units are the dataset's (decimetres); +Y up, +Z the way the body faces, +X its own left.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from autoplace.mesh.character import Character, Part
from tests.dataset import poses
from tests.dataset.bones import JOINTS
from tests.dataset.fetch import AGES, LEVELS, SEXES, array

POSES = ("rest", "t_pose", "a_pose", "arms_down", "one_up", "random", "random", "random", "random")
TUNING_POSES = ("rest", "t_pose", "a_pose", "arms_down", "one_up", "random")
TUNING_GROUP = ("female", "young")
TUNING_COUNT = 24


@dataclass(frozen=True)
class BodySpec:
    """What a body is made from."""

    sex: str
    age: str
    muscle: str
    weight: str
    pose: str
    seed: int
    """Of a random pose; 0 for the others."""
    joined_eyes: bool
    """Both eyeballs in one part 'eyes', or each in its own."""
    tuning: bool
    """True for the only bodies that a constant may be tuned on; never reported on."""

    @property
    def group(self) -> str:
        return f"{self.sex} {self.age}"

    @property
    def name(self) -> str:
        pose = f"{self.pose}{self.seed}" if self.pose == "random" else self.pose
        return f"{self.sex}_{self.age}_{self.muscle}muscle_{self.weight}weight_{pose}"


@dataclass(frozen=True)
class Body:
    """One body: the mesh as a user would hand it over, and where its joints are."""

    spec: BodySpec
    character: Character
    joints: dict[str, np.ndarray]
    """(3,) by our joint names, same frame and units as the mesh."""
    rest_joints: dict[str, np.ndarray]
    """The same before posing."""
    height: float
    """Standing height of the body before posing; errors are given in percent of it."""
    rest_low: np.ndarray
    """(3,) lowest corner of the body's box before posing."""
    rest_high: np.ndarray
    """(3,) highest corner."""

    @cached_property
    def floor(self) -> float:
        """Lowest y of the posed mesh."""
        return float(self.character.vertices[:, 1].min())


def body_list() -> list[BodySpec]:
    """All bodies: first those to report on, then those to tune on. Always the same list."""
    specs = []
    groups = [(sex, age) for sex in SEXES for age in AGES if (sex, age) != TUNING_GROUP]
    for row, (sex, age) in enumerate(groups):
        for column, pose in enumerate(POSES):
            # nine columns give all nine pairs, and each group meets them in other poses
            step = row * 4 + column * 2
            joined = (row + column) % 3 == 1
            specs.append(spec_of(sex, age, step, pose, 10 * row + column, joined, False))
    for column in range(TUNING_COUNT):
        pose = TUNING_POSES[column % len(TUNING_POSES)]
        step = column + column // 9
        specs.append(spec_of(*TUNING_GROUP, step, pose, 900 + column, column % 3 == 1, True))
    return specs


def report_list() -> list[BodySpec]:
    """The bodies that figures are reported on."""
    return [spec for spec in body_list() if not spec.tuning]


def tuning_list() -> list[BodySpec]:
    """The bodies that may be looked at while tuning: young women only."""
    return [spec for spec in body_list() if spec.tuning]


def spec_of(
    sex: str, age: str, step: int, pose: str, seed: int, joined: bool, tuning: bool
) -> BodySpec:
    """A spec whose muscle and weight are the step-th of the nine pairs."""
    muscle, weight = LEVELS[step % 9 // 3], LEVELS[step % 3]
    seed = seed if pose == "random" else 0
    return BodySpec(sex, age, muscle, weight, pose, seed, joined, tuning)


def shaped(spec: BodySpec) -> np.ndarray:
    """(n, 3) all vertices of the dataset's mesh in this body's shape, before posing."""
    offsets = array(f"{spec.sex}-{spec.age}-{spec.muscle}-{spec.weight}")
    return array("vertices") + offsets.astype(np.float64)


def cube_means(vertices: np.ndarray) -> dict[str, np.ndarray]:
    """(3,) by joint name: the mean of each marker cube; of several, the mean of their means."""
    return {
        joint: vertices[array(f"cube_{joint}")].mean(axis=1).mean(axis=0).astype(np.float64)
        for joint in JOINTS
    }


def skinned(vertices: np.ndarray, rest: poses.Joints, turns: poses.Turns) -> np.ndarray:
    """Linear blend skinning with the dataset's default weights."""
    turn, shift = poses.transforms(rest, turns)
    weights = array("weights")
    turn_of_vertex = np.tensordot(weights, turn, axes=1)
    return np.einsum("nij,nj->ni", turn_of_vertex, vertices) + weights @ shift


def part_of(name: str, sources: tuple[str, ...], vertices: np.ndarray) -> Part:
    """A part of the character with only the vertices its faces use."""
    faces = np.concatenate([array(f"{source}_faces") for source in sources])
    polygons, start = [], 0
    for source in sources:
        polygons.append(array(f"{source}_polygons") + start)
        start += int(polygons[-1].max()) + 1 - start
    used, renumbered = np.unique(faces, return_inverse=True)
    return Part(
        name=name,
        vertices=np.ascontiguousarray(vertices[used]),
        faces=renumbered.reshape(faces.shape).astype(np.int64),
        source_vertices=used.astype(np.int64),
        source_faces=np.concatenate(polygons),
    )


def build(spec: BodySpec) -> Body:
    """The body of a spec."""
    vertices = shaped(spec)
    rest = cube_means(vertices)
    box = vertices[np.unique(array("body_faces"))]
    turns = poses.turns_of(rest, poses.pose_of(spec.pose, spec.seed))
    joints = rest
    if turns:
        vertices = skinned(vertices, rest, turns)
        joints = poses.posed_joints(rest, turns)
    parts = [part_of("body", ("body",), vertices)]
    if spec.joined_eyes:
        parts.append(part_of("eyes", ("left_eye", "right_eye"), vertices))
    else:
        parts += [part_of(eye, (eye,), vertices) for eye in ("left_eye", "right_eye")]
    return Body(
        spec=spec,
        character=Character(name=spec.name, parts=tuple(parts)),
        joints=joints,
        rest_joints=rest,
        height=float(np.ptp(box[:, 1])),
        rest_low=box.min(axis=0),
        rest_high=box.max(axis=0),
    )
