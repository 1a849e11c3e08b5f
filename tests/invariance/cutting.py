"""A figure cut into overlapping parts, as characters come whose hands and head are parts apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from autoplace.mesh.character import Character, Part

__all__ = ["in_parts"]

OVERLAP = 0.02
"""How far a part runs on under its neighbour, fraction of height."""


def in_parts(
    character: Character, joints: Mapping[str, np.ndarray], slimmer: float = 0.0
) -> Character:
    """Head, torso, arms, legs and hands as parts that overlap, open at their ends.

    Only the largest part of the character is cut. A part is made of the triangles nearest to its
    bones and runs on by `OVERLAP` under its neighbour, with no face across the inside. There it
    becomes `slimmer` by degrees, up to that share of its distance from the neighbour's bones.
    """
    index = max(range(len(character.parts)), key=lambda i: len(character.parts[i].faces))
    body = character.parts[index]
    vertices, faces = body.vertices, body.faces
    height = float(np.ptp(vertices[np.unique(faces), 1]))
    centres = vertices[faces].mean(axis=1)
    away = {name: _away(centres, bones, joints) for name, bones in _bones(joints).items()}
    names = list(away)
    of_vertex = np.stack([_away(vertices, bones, joints) for bones in _bones(joints).values()])
    distance = np.stack([away[name] for name in names])
    nearest = distance.min(axis=0)
    parts = []
    for row, (name, own) in enumerate(zip(names, distance, strict=True)):
        mine = faces[own <= nearest + OVERLAP * height]
        if not len(mine):
            continue  # a hood leaves nothing of the head to see
        used, renumbered = np.unique(mine, return_inverse=True)
        beyond = (of_vertex[row] - of_vertex.min(axis=0)) / (OVERLAP * height)
        # about a joint both sides' bones are as near; a vertex belongs to one of them all the same
        foreign = of_vertex.argmin(axis=0) != row
        beyond = np.where(foreign, np.clip(beyond, 0.1, 1.0), 0.0)
        points = vertices + slimmer * beyond[:, None] * (_nearest_bone(vertices, joints) - vertices)
        parts.append(
            Part(
                name=name,
                vertices=points[used],
                faces=renumbered.reshape(-1, 3).astype(np.int64),
                source_vertices=np.arange(len(used)),
                source_faces=np.arange(len(mine)),
            )
        )
    others = [part for i, part in enumerate(character.parts) if i != index]
    return replace(character, parts=(*parts, *others), path=None, sha256=None)


def _nearest_bone(points: np.ndarray, joints: Mapping[str, np.ndarray]) -> np.ndarray:
    """(n, 3) the nearest point on any bone to each point."""
    best, gap = np.zeros_like(points), np.full(len(points), np.inf)
    for first, second in (pair for bones in _bones(joints).values() for pair in bones):
        a, way = joints[first], joints[second] - joints[first]
        share = np.clip((points - a) @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
        there = a + share[:, None] * way
        far = np.linalg.norm(points - there, axis=1)
        best[far < gap] = there[far < gap]
        np.minimum(gap, far, out=gap)
    return best


def _bones(joints: Mapping[str, np.ndarray]) -> dict[str, list[tuple[str, str]]]:
    bones = {
        "head": [("head", "head_top")],
        "torso": [("pelvis", "chest"), ("chest", "neck"), ("left_hip", "right_hip")],
    }
    bones["torso"] += [("chest", f"{side}_clavicle") for side in ("left", "right")]
    for side in ("left", "right"):
        legs = [("hip", "knee"), ("knee", "ankle"), ("ankle", "ball"), ("ball", "toe_tip")]
        bones[f"{side}_leg"] = [(f"{side}_{a}", f"{side}_{b}") for a, b in legs]
        arms = [("shoulder", "elbow"), ("elbow", "wrist")]
        bones[f"{side}_arm"] = [(f"{side}_{a}", f"{side}_{b}") for a, b in arms]
        fingers = [name for name in joints if name.startswith(side) and name.endswith("_1")]
        hand = [(f"{side}_wrist", name) for name in fingers]
        for name in fingers:
            hand.append((name, name.replace("_1", "_tip")))
        bones[f"{side}_hand"] = hand
    return {name: [b for b in pairs if set(b) <= set(joints)] for name, pairs in bones.items()}


def _away(
    points: np.ndarray, bones: list[tuple[str, str]], joints: Mapping[str, np.ndarray]
) -> np.ndarray:
    """(n,) distance of points from the nearest of some bones."""
    best = np.full(len(points), np.inf)
    for first, second in bones:
        a, b = joints[first], joints[second]
        way = b - a
        share = np.clip((points - a) @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
        np.minimum(best, np.linalg.norm(points - a - share[:, None] * way, axis=1), out=best)
    return best
