"""How clothes keep to the body beneath them when it bends, by our binding and by a plainer one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from autoplace.files.bound_mesh import normals_of
from autoplace.mesh.character import Character, Part
from autoplace.mesh.load import load
from autoplace.mesh.parts import assign_roles
from autoplace.mesh.vertex_roles import vertex_roles
from autoplace.skeleton.bending.keying import keyed_pose
from autoplace.skeleton.bending.records import TurnRule
from autoplace.skeleton.bending.subject import subject_of
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from autoplace.skeleton.pose import Pose, pose_skeleton, skin
from autoplace.skeleton.skin.binding import Binding, bind_mesh
from autoplace.skeleton.skin.worn_shares import nearest_beneath
from meshes.family import Member, family
from tests.family.built import built
from tests.orientation.measures import skeleton_of

DEMOS = ("keeper", "ferryman", "lamplighter")
"""Demo characters that wear something over the body; the bell child's clothes replace it."""
WORN = ("tee", "coat", "cape", "waistcoat", "skirt", "cloak", "gown", "skirt_floor", "cloak_floor")
"""What members of the family wear that may be cloth over a body."""
MESHES = Path(__file__).resolve().parents[2] / "meshes"
ROUND = ("belt", "scarf")
"""Parts that are cloth though their role be accessory."""
POSES: dict[str, tuple[TurnRule, ...]] = {
    "elbow 90": (TurnRule(("elbow",), "bend", "flex", to=90),),
    "shoulder 60": (TurnRule(("shoulder",), "third", "raise", by=60),),
    "thigh 60": (TurnRule(("hip",), "bend", "flex", by=60),),
    "knee 90": (TurnRule(("knee",), "bend", "flex", to=90),),
    "spine curl 40": (TurnRule(("spine_*", "chest"), "bend", "flex", by=40, shared=True),),
}
"""The thigh is that of the left leg alone, which parts a skirt."""
UNDER = 1e-3
"""A vertex has sunk when it lies under the skin by more of the height than this, and did not at
rest."""
MOVES = 1e-3
"""As in `measures`: what moves less of the height than this by either binding is not counted."""


@dataclass(frozen=True)
class Dressed:
    """A character that wears something, in a frame with +Y up and +Z forward."""

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    roles: np.ndarray
    """(n,) of every vertex."""
    cloth: np.ndarray
    """(n,) True where it is a garment, a belt or a scarf."""
    skeleton: Skeleton
    height: float


@dataclass(frozen=True)
class Kept:
    """What became of the cloth of one character, by pose; empty where nothing of it moved."""

    name: str
    gap: dict[str, float]
    """Mean change of the distance to the point of the body beneath, percent of height."""
    sunk: dict[str, float]
    """Percent of the cloth's vertices that sank under the skin."""
    torn: dict[str, float]
    """The edge of the cloth that is stretched most, as a multiple of its length; one in a thousand
    edges is stretched more."""


def dressed_demo(name: str) -> Dressed:
    """One of the demo characters with its known joints."""
    known = json.loads((MESHES / f"{name}.truth.json").read_text(encoding="utf-8"))
    joints = {joint: np.array(at) for joint, at in known["joints"].items()}
    return _dressed(load(MESHES / f"{name}.obj"), joints, known["height"], np.eye(3))


def dressed_member(member: Member) -> Dressed:
    """One of the invented family with its known joints."""
    one = built(member)
    return _dressed(one.character, one.joints, one.height, one.file_axes)


def wearers(members: int) -> Iterator[Dressed]:
    """The demo characters that wear something, and some members of even number, spread evenly."""
    yield from (dressed_demo(name) for name in DEMOS)
    some = [m for m in family()[::2] if m.traits["garment"] in WORN or m.traits["carries"] in ROUND]
    step = len(some) / max(members, 1)
    for number in range(min(members, len(some))):
        who = dressed_member(some[int(number * step)])
        if who.cloth.any():
            yield who


def _dressed(
    character: Character, joints: dict[str, np.ndarray], height: float, axes: np.ndarray
) -> Dressed:
    parts = tuple(
        Part(p.name, p.vertices @ axes, p.faces, p.source_vertices, p.source_faces)
        for p in character.parts
    )
    turned = Character(character.name, parts)
    joints = {name: at @ axes for name, at in joints.items()}
    floor = min(float(part.vertices[:, 1].min()) for part in parts)
    middle = np.array([joints["pelvis"][0], floor, joints["pelvis"][2]])
    working = [(part.vertices - middle) / height for part in parts]
    roles = assign_roles(turned, working, facing_known=True)
    skeleton = orient(skeleton_of(joints, height))
    kinds = np.concatenate(vertex_roles(turned, {}, roles))
    names = np.repeat([part.name for part in parts], [len(part.vertices) for part in parts])
    cloth = (kinds == "garment") | ((kinds == "accessory") & np.isin(names, ROUND))
    return Dressed(character.name, turned.vertices, turned.faces, kinds, cloth, skeleton, height)


def poses_for(skeleton: Skeleton) -> dict[str, Pose]:
    """The turns of every pose of `POSES`."""
    subject = subject_of(skeleton)
    found = {name: keyed_pose(subject, rules) for name, rules in POSES.items()}
    found["thigh 60"] = {n: t for n, t in found["thigh 60"].items() if n.startswith("left")}
    return found


def bound_both(who: Dressed) -> tuple[Binding, Binding]:
    """By what each vertex is, and as if all but the eyeballs were body."""
    plain = np.where(who.roles == "eyeball", "eyeball", "body")
    return (
        bind_mesh(who.vertices, who.faces, who.skeleton, roles=who.roles),
        bind_mesh(who.vertices, who.faces, who.skeleton, roles=plain),
    )


def kept(who: Dressed, binding: Binding, other: Binding) -> Kept:
    """How the cloth of a character keeps to its body by a binding, over what either moves."""
    cloth = np.flatnonzero(who.cloth)
    body = who.faces[np.isin(who.roles[who.faces[:, 0]], ("body", "unknown"))]
    skin_places = np.unique(body)
    beneath = nearest_beneath(who.vertices[cloth], who.vertices, body)
    under = _under(who.vertices, cloth, body, skin_places, binding.place_of) > UNDER * who.height
    inside = np.isin(who.faces, cloth).all(axis=1)
    edges = who.faces[inside][:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    length = np.linalg.norm(np.diff(who.vertices[edges], axis=1)[:, 0], axis=1)
    edges, length = edges[length > 1e-4 * who.height], length[length > 1e-4 * who.height]
    gap, sunk, torn = {}, {}, {}
    for name, pose in poses_for(who.skeleton).items():
        posed = pose_skeleton(who.skeleton, pose)
        after = skin(who.vertices, binding, posed)
        way = np.linalg.norm(after - who.vertices, axis=1)
        way = np.maximum(
            way, np.linalg.norm(skin(who.vertices, other, posed) - who.vertices, axis=1)
        )
        moved = way[cloth] > MOVES * who.height
        if not moved.any():
            continue
        there = beneath.points(after)
        apart = np.linalg.norm(after[cloth] - there, axis=1)
        gap[name] = 100.0 / who.height * float(np.abs(apart - beneath.gap)[moved].mean())
        deep = _under(after, cloth, body, skin_places, binding.place_of) > UNDER * who.height
        sunk[name] = 100.0 * float((deep & ~under)[moved].mean())
        longer = np.linalg.norm(np.diff(after[edges], axis=1)[:, 0], axis=1) / length
        torn[name] = float(np.quantile(longer, 0.999))
    return Kept(who.name, gap, sunk, torn)


def _under(
    vertices: np.ndarray,
    cloth: np.ndarray,
    body: np.ndarray,
    skin_places: np.ndarray,
    place_of: np.ndarray,
) -> np.ndarray:
    """(c,) how deep each vertex of the cloth lies under the nearest vertex of the skin."""
    normals = normals_of(vertices, body, place_of)[skin_places]
    near = cKDTree(vertices[skin_places]).query(vertices[cloth])[1]
    return -np.einsum("nx,nx->n", vertices[cloth] - vertices[skin_places][near], normals[near])
