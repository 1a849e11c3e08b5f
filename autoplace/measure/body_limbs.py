"""The body filled with cells, and its branches: one way for placing and for whoever looks again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from autoplace.measure.arm_gap import find_piece_arms, pieces_of_arms
from autoplace.measure.hollow_shells import with_hollows
from autoplace.measure.limb_record import BAND, Limb, Limbs
from autoplace.measure.open_skirt import with_thighs
from autoplace.measure.piece_arms import limbs_with_pieces
from autoplace.measure.piece_legs import with_legs_of_pieces
from autoplace.measure.skin_arms import arms_of_skin
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.tails import without_tails
from autoplace.measure.thigh_gap import with_thin_gap
from autoplace.measure.touching_blocks import parted_at_shared_edges

__all__ = ["CELL", "fill_body", "find_body_limbs"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

OUTER = 0.5
"""Share of an arm's reach beyond which it touches nothing unless it rests there (common practice,
no source)."""
FLAPS, RISES = 0.25, 0.5
"""Shares of the trunk from where the legs part to the neck below which no arm begins, and none that
leads up (common practice, no source)."""
CELL = 1.0 / 150.0
"""Edge of a cell, fraction of height: an adult's wrist is seven cells across."""


def fill_body(vertices: FloatArray, faces: IntArray) -> Solid:
    """The cells that a body's surface encloses, thin shells with what is in them, and with legs
    that nearly touch held apart.

    Args:
        vertices: (n, 3) working frame. faces: (m, 3).
    """
    solid = with_hollows(fill_solid(vertices, faces, CELL), vertices, faces)
    return with_thin_gap(solid, vertices, faces)


def find_body_limbs(solid: Solid, pieces: Sequence[FloatArray]) -> tuple[Solid, Limbs]:
    """The branches of a body, and the cells that show them (see `limbs_with_pieces`), without
    those of a tail, with thighs where the legs end inside an open skirt, and with legs apart that
    are blocks stuck into one another.

    Args:
        solid: the body's cells, see `fill_body`.
        pieces: (k, 3, 3) corners of the triangles of each of its pieces, working frame; without
            them arms that are pieces are not told from a trunk that they rest on.
    """
    whole = with_thighs(solid)
    found, limbs = without_tails(*_with_arms(whole, pieces))
    if len(limbs.pair("leg")) < 2:
        apart = with_legs_of_pieces(solid, pieces)
        if apart is not solid:
            return without_tails(*_with_arms(apart, pieces))
    return found, replace(limbs, led_up=whole is not solid)


def _with_arms(solid: Solid, pieces: Sequence[FloatArray]) -> tuple[Solid, Limbs]:
    """As the pieces show them; where an arm is missing or begins with its hand, and pieces turn out
    to be several blocks that touch, as those show them; else, and where an arm rests, as the skin
    does."""
    found = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
    hidden = _hidden_arms(found[1])
    seen = [limb for limb in found[1].pair("arm") if limb.side not in hidden]
    resting = [limb for limb in seen if _rests(found[0], limb)]
    if not hidden and not resting:
        return found
    blocks = parted_at_shared_edges(pieces) if hidden else pieces
    if len(blocks) > len(pieces):
        told = limbs_with_pieces(solid, find_piece_arms(solid, blocks))
        if not _hidden_arms(told[1]):
            return told
    arms = arms_of_skin(pieces)
    # where clothes are what branches, their tails are no arms
    if not arms or not all(_lies_in(limb, arms[limb.side or "left"]) for limb in resting):
        return found
    parted, limbs = limbs_with_pieces(solid, pieces_of_arms(solid, arms), "by its skin")
    if _hidden_arms(limbs, flaps=0.0):
        return found
    sides = hidden | {limb.side for limb in resting}
    own = []
    for limb in limbs.limbs:
        by_skin = limb.kind == "arm" and limb.side in sides
        corners = arms.get(limb.side or "") if by_skin else None
        # a hand that is a piece of its own in a sleeve is no part of the sleeve's skin
        whole = corners is not None and _ends_in(limb, corners)
        own.append(replace(limb, skin=corners) if whole else limb)
    return parted, replace(limbs, limbs=tuple(own))


def _ends_in(limb: Limb, corners: FloatArray) -> bool:
    """Does a limb end within a skin (k, 3, 3) of short edges?"""
    away = np.linalg.norm(corners.reshape(-1, 3) - limb.line[-1], axis=1)
    return bool(away.min() < BAND)


def _lies_in(limb: Limb, corners: FloatArray) -> bool:
    """Is the middle of a limb as near to a skin (k, 3, 3) of short edges as what it encloses?"""
    middle = len(limb.line) // 2
    away = np.linalg.norm(corners.reshape(-1, 3) - limb.line[middle], axis=1)
    return bool(away.min() < limb.radius[middle] + BAND)


def _hidden_arms(limbs: Limbs, flaps: float = FLAPS) -> set[str]:
    """Sides on which no arm is found; or a flap, which begins below this share of the trunk; or the
    forearm of an arm whose hand rests on the hip, which leads up from there."""
    low, middle = 0.0, 0.0
    if limbs.parting is not None and limbs.neck < np.inf:
        trunk = limbs.neck - limbs.parting
        low, middle = (limbs.parting + share * trunk for share in (flaps, RISES))
    hidden = set()
    for side in ("left", "right"):
        arm = limbs.one("arm", side)
        if arm is None or arm.line[0, 1] < max(low, min(middle, arm.line[-1, 1])):
            hidden.add(side)
    return hidden


def _rests(solid: Solid, arm: Limb) -> bool:
    """Do the cells of an arm's outer half touch others of the body?"""
    index = np.stack(solid.index_of(arm.cells), axis=1)
    rest = solid.inside.copy()
    rest[tuple(index.T)] = False
    away = np.linalg.norm(arm.cells - arm.line[0], axis=1)
    outer = index[away > OUTER * away.max()]
    low, high = np.maximum(outer.min(axis=0) - 1, 0), outer.max(axis=0) + 2
    box = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    half = np.zeros(rest[box].shape, dtype=bool)
    half[tuple((outer - low).T)] = True
    around = ndimage.binary_dilation(half, np.ones((3, 3, 3)))
    return bool((around & rest[box]).any())
