"""Bodies with known joints: built from the open dataset, shaped and posed with plain numpy.

Units are the dataset's (decimetres); +Y up, +Z the way the body faces, +X its own left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from autoplace.mesh.character import Character, Part
from tests.dataset import poses
from tests.dataset.bones import JOINTS
from tests.dataset.fetch import AGES, LEVELS, PROPORTIONS, SEXES, array

POSES = ("rest", "t_pose", "a_pose", "arms_down", "one_up", "random", "random", "random", "random")
TUNING_POSES = ("rest", "t_pose", "a_pose", "arms_down", "one_up", "random")
OPEN_GROUP = ("female", "young")
"""May be looked at while tuning in every build, so it is never reported on."""
GROUPS = tuple((sex, age) for sex in SEXES for age in AGES)
BUILDS = tuple((muscle, weight) for muscle in LEVELS for weight in LEVELS)
OPEN_BUILDS = BUILDS[1::2]
"""Builds of the other groups that may be looked at while tuning: one of muscle and weight is
average, the other is not."""
REPORT_BUILDS = BUILDS[0::2]
"""Builds that figures are reported on: both extreme, or both average."""
TUNING_COUNT = 24
REPORT_COUNT = 12
"""Bodies of each group reported on."""
FIXED_GROUP = ("female", "old")
"""Keeps its mean proportions. The dataset's eye marker lies 0.049 % of the height from the middle
of these women's eyeballs already, where 0.03 % is asked; made shorter, it would lie farther off."""
MOST = 0.8
"""Largest share taken of an offset of proportion."""
ADULT = 17.0
"""Height of the bodies that the offsets of proportion were made for; smaller bodies take less."""


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
    proportions: int
    """Seed of the lengths of limbs, trunk, neck and fingers; 0 leaves the group's mean ones."""
    joined_eyes: bool
    """Both eyeballs in one part 'eyes', or each in its own."""
    tuning: bool
    """True for the only bodies that a number may be tuned on; never reported on."""

    @property
    def group(self) -> str:
        return f"{self.sex} {self.age}"

    @property
    def build_name(self) -> str:
        return f"{self.muscle} muscle, {self.weight} weight"

    @property
    def name(self) -> str:
        pose = f"{self.pose}{self.seed}" if self.pose == "random" else self.pose
        own = "_own" if self.proportions else ""
        return f"{self.sex}_{self.age}_{self.muscle}muscle_{self.weight}weight_{pose}{own}"


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
    origin: np.ndarray
    """(3,) point on the floor under the body's middle, before posing."""
    bone_turns: dict[str, np.ndarray]
    """(3, 3) by joint: how the pose turned the bone that ends in the joint."""


def body_list() -> list[BodySpec]:
    """All bodies: first those to report on, then those to tune on. Always the same list.

    In each group but one every second body has proportions of its own.
    """
    specs = []
    for row, group in enumerate(group for group in GROUPS if group != OPEN_GROUP):
        for column in range(REPORT_COUNT):
            build_number = (row + column) % len(REPORT_BUILDS)
            pose = POSES[column % len(POSES)]
            number = REPORT_COUNT * row + column
            specs.append(spec_of(group, REPORT_BUILDS[build_number], pose, number, row + column))
    for column in range(TUNING_COUNT):
        pose = TUNING_POSES[column % len(TUNING_POSES)]
        turn = column + column // len(TUNING_POSES)
        specs.append(open_spec(column, pose, 900 + column, turn))
    return specs


def open_spec(number: int, pose: str, seed: int, turn: int) -> BodySpec:
    """One of the bodies that may be looked at: `number` counts through groups and builds."""
    group = GROUPS[number % len(GROUPS)]
    builds = BUILDS if group == OPEN_GROUP else OPEN_BUILDS
    return spec_of(group, builds[number // len(GROUPS) % len(builds)], pose, seed, turn)


def report_list() -> list[BodySpec]:
    """The bodies that figures are reported on."""
    return [spec for spec in body_list() if not spec.tuning]


def tuning_list() -> list[BodySpec]:
    """Some of the bodies that may be looked at while tuning."""
    return [spec for spec in body_list() if spec.tuning]


def spec_of(
    group: tuple[str, str], build: tuple[str, str], pose: str, number: int, turn: int
) -> BodySpec:
    """One body; `turn` counts through the choices that are not worth a column of their own."""
    return BodySpec(
        sex=group[0],
        age=group[1],
        muscle=build[0],
        weight=build[1],
        pose=pose,
        seed=number if pose == "random" else 0,
        proportions=1000 + number if turn % 2 and group != FIXED_GROUP else 0,
        joined_eyes=turn % 3 == 1,
        tuning=group == OPEN_GROUP or build in OPEN_BUILDS,
    )


def shaped(spec: BodySpec) -> np.ndarray:
    """(n, 3) all vertices of the dataset's mesh in this body's shape, before posing."""
    offsets = array(f"{spec.sex}-{spec.age}-{spec.muscle}-{spec.weight}")
    vertices = array("vertices") + offsets.astype(np.float64)
    if spec.proportions:
        draw = np.random.default_rng(spec.proportions)
        size = np.ptp(vertices[np.unique(array("body_faces")), 1]) / ADULT
        for kind in PROPORTIONS:
            share = draw.uniform(-MOST, MOST)
            way = "incr" if share > 0 else "decr"
            vertices = vertices + abs(share) * size * array(f"{kind}-{way}")
    return vertices


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
    skin = vertices[np.unique(array("body_faces"))]
    low, high = skin.min(axis=0), skin.max(axis=0)
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
        height=float(high[1] - low[1]),
        origin=np.array([0.0, low[1], (low[2] + high[2]) / 2]),
        bone_turns=poses.bone_turns(rest, turns),
    )
