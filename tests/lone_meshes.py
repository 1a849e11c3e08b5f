"""Hands with known joints as characters of their own, turned anyhow and cut off anywhere."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.character import Character, Part
from tests.figures_hand import KnownHand, build_hand, plan_of

__all__ = ["character_of", "cut", "known_hand", "turn"]

SCALE = 120.0


def known_hand(number: int) -> KnownHand:
    """A member of the synthetic family, without a forearm beyond what the family gives it."""
    return build_hand(plan_of(number))


def turn(seed: int) -> np.ndarray:
    """(3, 3) a turn about any axis."""
    turned, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    return turned * np.sign(np.linalg.det(turned))


def cut(hand: KnownHand, below: float) -> np.ndarray:
    """(m, 3) the faces beyond a place this many hand lengths below the wrist; left open there."""
    beyond = (hand.vertices - hand.wrist) @ hand.forearm > -below * hand.plan.length
    return hand.faces[beyond[hand.faces].all(axis=1)]


def character_of(name: str, *parts: tuple[np.ndarray, np.ndarray]) -> Character:
    """A character of parts given as vertices and faces; unused vertices are dropped."""
    made = []
    for number, (vertices, faces) in enumerate(parts):
        used, corner = np.unique(faces, return_inverse=True)
        corner = corner.reshape(-1, 3)
        made.append(
            Part(
                f"part{number}", vertices[used], corner, np.arange(len(used)), np.arange(len(faces))
            )
        )
    return Character(name, tuple(made))
