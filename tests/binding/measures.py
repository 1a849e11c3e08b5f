"""A binding set beside another on one mesh, skeleton and pose: distances moved apart, bleeding."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import cache

import numpy as np

from autoplace.skeleton.bending.keying import keyed_pose
from autoplace.skeleton.bending.records import TurnRule
from autoplace.skeleton.bending.subject import subject_of
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import family, finger_of, side_of, stem
from autoplace.skeleton.orient import orient
from autoplace.skeleton.pose import Pose, pose_skeleton, skin
from autoplace.skeleton.skin.binding import Binding, bind_mesh
from tests.binding.known_weights import known_weights
from tests.dataset.bodies import Body
from tests.dataset.bones import JOINTS
from tests.orientation.measures import skeleton_of

LONG = ("index", "middle", "ring", "pinky")
RULES: dict[str, tuple[TurnRule, ...]] = {
    "elbow 90": (TurnRule(("elbow",), "bend", "flex", to=90),),
    "knee 90": (TurnRule(("knee",), "bend", "flex", to=90),),
    "shoulder 60": (TurnRule(("shoulder",), "third", "raise", by=60),),
    "fist": (
        TurnRule(tuple(f"{finger}_1" for finger in LONG), "bend", "flex", to=90),
        TurnRule(tuple(f"{finger}_2" for finger in LONG), "bend", "flex", to=100),
        TurnRule(tuple(f"{finger}_3" for finger in LONG), "bend", "flex", to=80),
        TurnRule(("thumb_1",), "bend", "flex", by=15),
        TurnRule(("thumb_2",), "bend", "flex", to=50),
        TurnRule(("thumb_3",), "bend", "flex", to=80),
    ),
    "spine curl 40": (TurnRule(("spine_*", "chest"), "bend", "flex", by=40, shared=True),),
}
"""What each pose turns. A fist is all of the flexion in templates/bending/motions.toml."""
MOVES = 1e-3
"""A vertex is in the moved region when either binding moves it by more of the height than this."""
BLEEDS = 0.05
"""Least share on a joint of another limb that counts as bleeding."""

TOUCHING = {
    frozenset(pair)
    for pair in (
        ("loins", "chest"),
        ("chest", "neck"),
        ("neck", "head"),
        ("head", "eye"),
        ("chest", "clavicle"),
        ("neck", "clavicle"),
        ("clavicle", "arm"),
        ("chest", "arm"),
        ("arm", "hand"),
        ("loins", "leg"),
        ("leg", "foot"),
        *(("hand", finger) for finger in ("thumb", *LONG)),
    )
}
"""Regions that flesh joins: one may take a share of what the other moves."""


@dataclass(frozen=True)
class Compared:
    """One body."""

    name: str
    apart: dict[str, float]
    """By pose: mean distance between the two bindings over the moved region, percent of height."""
    worst: dict[str, float]
    """By pose: largest distance, percent of height."""
    bleeding: dict[str, int]
    """By joint: vertices that it bleeds onto."""
    vertices: int
    seconds: float


@cache
def region_of(joint: str) -> tuple[str | None, str]:
    """Side and region of the body that a joint moves."""
    kind = family(joint)
    if kind == "metacarpal":
        kind = "hand"
    if kind == "finger":
        kind = finger_of(joint) or "hand"
    if kind == "trunk":
        kind = stem(joint) if stem(joint) in ("chest", "neck") else "loins"
    return side_of(joint), kind or joint


def touches(a: str, b: str) -> bool:
    """True where flesh may follow both joints: one region, or two that join on the same side."""
    (side_a, region_a), (side_b, region_b) = region_of(a), region_of(b)
    if None not in (side_a, side_b) and side_a != side_b:
        return False
    return region_a == region_b or frozenset((region_a, region_b)) in TOUCHING


def dense(binding: Binding, count: int) -> np.ndarray:
    """(n, count) shares by joint."""
    shares = np.zeros((len(binding.joints), count))
    rows = np.repeat(np.arange(len(shares)), binding.joints.shape[1])
    np.add.at(shares, (rows, binding.joints.reshape(-1)), binding.weights.reshape(-1))
    return shares


def bleeding(shares: np.ndarray, known: np.ndarray, names: tuple[str, ...]) -> np.ndarray:
    """(n, joints) True where a joint moves a vertex that is none of its own.

    It has more than `BLEEDS` of the vertex, the known shares (n, joints) give it nothing, and no
    joint that they do give the vertex to is of a region touching its own.
    """
    allowed = np.array([[touches(a, b) for b in names] for a in names], dtype=float)
    reached = (known > 0).astype(float) @ allowed > 0
    return (shares > BLEEDS) & (known == 0) & ~reached


def flesh_of(body: Body) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Vertices (n, 3), triangles (m, 3), eyeball marks (n,), known shares (n, joints) of a body."""
    parts = body.character.parts
    starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
    vertices = np.concatenate([part.vertices for part in parts])
    faces = np.concatenate([part.faces + s for part, s in zip(parts, starts, strict=False)])
    eyeball = np.repeat([part.name != "body" for part in parts], np.diff(starts))
    known = known_weights()[np.concatenate([part.source_vertices for part in parts])]
    return vertices, faces, eyeball, known


def poses_of(skeleton: Skeleton) -> dict[str, Pose]:
    """The turns of every pose of `RULES`, less what the joints are bent by at rest."""
    subject = subject_of(skeleton)
    return {name: keyed_pose(subject, rules) for name, rules in RULES.items()}


def compare(body: Body) -> Compared:
    """Our binding of a body, with its own joints, beside the dataset's."""
    skeleton = orient(skeleton_of(body.joints, body.height))
    vertices, faces, eyeball, known = flesh_of(body)
    known = known[:, [JOINTS.index(name) for name in skeleton.names]]
    start = time.perf_counter()
    ours = bind_mesh(vertices, faces, skeleton, roles=np.where(eyeball, "eyeball", "body"))
    seconds = time.perf_counter() - start
    order = np.argsort(-known, axis=1, kind="stable")
    theirs = Binding(order, np.take_along_axis(known, order, axis=1), ours.place_of)
    apart, worst = {}, {}
    for name, pose in poses_of(skeleton).items():
        posed = pose_skeleton(skeleton, pose)
        one, two = skin(vertices, ours, posed), skin(vertices, theirs, posed)
        limit = MOVES * body.height
        moved = np.linalg.norm(one - vertices, axis=1) > limit
        moved |= np.linalg.norm(two - vertices, axis=1) > limit
        gap = 100.0 / body.height * np.linalg.norm(one - two, axis=1)[moved]
        apart[name], worst[name] = float(gap.mean()), float(gap.max())
    marks = bleeding(dense(ours, len(skeleton)), known, skeleton.names)
    counts = marks.sum(axis=0)
    bleeds = {skeleton.names[j]: int(counts[j]) for j in np.flatnonzero(counts)}
    return Compared(body.spec.name, apart, worst, bleeds, len(vertices), seconds)
