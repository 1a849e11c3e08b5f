"""A figure cut into overlapping parts, as characters come whose hands and head are parts apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from autoplace.mesh.character import Character, Part

__all__ = ["in_parts"]

OVERLAP = 0.02
"""How far a part runs on under its neighbour, fraction of height."""


def in_parts(character: Character, joints: Mapping[str, np.ndarray]) -> Character:
    """Head, torso, arms, legs and hands as parts that overlap, open at their ends.

    Only the largest part of the character is cut. A part is made of the triangles nearest to its
    bones; it runs on by `OVERLAP` beyond the cut, where it is a little slimmer or not at all
    different from its neighbour, with no face across the inside.
    """
    index = max(range(len(character.parts)), key=lambda i: len(character.parts[i].faces))
    body = character.parts[index]
    vertices, faces = body.vertices, body.faces
    height = float(np.ptp(vertices[np.unique(faces), 1]))
    centres = vertices[faces].mean(axis=1)
    away = {name: _away(centres, bones, joints) for name, bones in _bones(joints).items()}
    names = list(away)
    distance = np.stack([away[name] for name in names])
    nearest = distance.min(axis=0)
    parts = []
    for name, own in zip(names, distance, strict=True):
        mine = faces[own <= nearest + OVERLAP * height]
        used, renumbered = np.unique(mine, return_inverse=True)
        parts.append(
            Part(
                name=name,
                vertices=vertices[used],
                faces=renumbered.reshape(-1, 3).astype(np.int64),
                source_vertices=np.arange(len(used)),
                source_faces=np.arange(len(mine)),
            )
        )
    others = [part for i, part in enumerate(character.parts) if i != index]
    return replace(character, parts=(*parts, *others), path=None, sha256=None)


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
