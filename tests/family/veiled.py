"""Members in skirts to the floor as they also come in files: with no legs modelled under the skirt,
or with skirt and body as one skin."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays
from meshes.bones import make_bones
from meshes.combine import Blend
from meshes.family import Member, family
from meshes.family_fit import fitted
from meshes.figures import Part, skin_shapes
from meshes.marching import march, reduce_faces
from tests.family.built import TO_WORKING, built, kept

LEG_CHAIN = ("hip", "knee", "ankle", "ball", "toe_tip")
ARM_CHAIN = ("shoulder", "elbow", "wrist", "middle_1", "middle_2", "middle_3", "middle_tip")
LEG_JOINTS = ("hip", "knee", "ankle", "ball")
THIGH_LEFT = 0.3
"""Share of the thigh that stays with the trunk where the legs are taken away."""
ONE_SKIN_FACES = 12000
MELTED = 0.004
"""How far surfaces that meet melt into one, heights."""


@dataclass(frozen=True)
class Veiled:
    """A character whose legs cannot be measured, and where they are."""

    character: Character
    joints: dict[str, np.ndarray]
    height: float

    def leg_misses(self, skeleton) -> dict[str, tuple[float, float]]:
        """By name of the leg's joint, its error and its spread, percent of height."""
        found = {}
        for side in ("left", "right"):
            for stem in LEG_JOINTS:
                joint = skeleton[f"{side}_{stem}"]
                far = float(np.linalg.norm(joint.position - self.joints[joint.name]))
                found[joint.name] = (100 * far / self.height, 100 * joint.spread / self.height)
        return found


def members_in(*garments: str) -> list[Member]:
    """The members that wear one of these garments."""
    return [member for member in family() if member.traits["garment"] in garments]


def _from_line(points: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    share = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0.0, 1.0)
    return np.linalg.norm(points - a - share[:, None] * (b - a), axis=1)


def without_legs(member: Member) -> Veiled:
    """The member with nothing under its skirt: the triangles nearest to the legs are gone."""
    one = built(member)
    at = one.joints
    legs, rest = [], [("pelvis", "neck"), ("neck", "head_top")]
    for side in ("left", "right"):
        legs += [(f"{side}_{a}", f"{side}_{b}") for a, b in pairwise(LEG_CHAIN)]
        rest += [(f"{side}_{a}", f"{side}_{b}") for a, b in pairwise(ARM_CHAIN)]
        rest += [("pelvis", f"{side}_hip")]
    parts = {}
    for part in one.character.parts:
        faces = part.faces
        if part.name in ("body", "mesh_1"):
            middle = part.vertices[faces].mean(axis=1)
            to_legs = np.full(len(middle), np.inf)
            for a, b in legs:
                start = at[a] + THIGH_LEFT * (at[b] - at[a]) if a.endswith("hip") else at[a]
                to_legs = np.minimum(to_legs, _from_line(middle, start, at[b]))
            to_rest = np.min([_from_line(middle, at[a], at[b]) for a, b in rest], axis=0)
            faces = faces[to_rest < to_legs]
        parts[part.name] = (part.vertices, faces)
    character = character_from_arrays(parts, f"{member.name}_without_legs")
    return Veiled(character, at, one.height)


def as_one_skin(member: Member) -> Veiled:
    """The member with all that it is and wears grown together, closed below."""
    one = built(member)

    def grown() -> tuple[list[Part], dict[str, np.ndarray]]:
        params = fitted(member.params, member.traits["garment"])
        shapes = skin_shapes(params, make_bones(params), member.seed)
        vertices, faces = march(Blend(shapes, MELTED), member.detail.cell)
        vertices, faces = reduce_faces(vertices, faces, ONE_SKIN_FACES)
        vertices = vertices * params.height
        if member.z_up:
            vertices = vertices @ TO_WORKING
        return [Part("figure", vertices, faces)], one.joints

    made_of = f"{member!r} in one skin {MELTED} {ONE_SKIN_FACES}"
    parts, joints = kept(f"one_skin_{member.params.name}", made_of, grown)
    return Veiled(character_from_arrays(parts, f"{member.name}_one_skin"), joints, one.height)
