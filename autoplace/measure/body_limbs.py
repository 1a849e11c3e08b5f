"""The body filled with cells, and its branches: one way for placing and for whoever looks again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.arm_gap import find_piece_arms
from autoplace.measure.hollow_shells import with_hollows
from autoplace.measure.limb_record import Limbs
from autoplace.measure.open_skirt import with_thighs
from autoplace.measure.piece_arms import limbs_with_pieces
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.tails import without_tails
from autoplace.measure.thigh_gap import with_thin_gap
from autoplace.measure.touching_blocks import parted_at_shared_edges

__all__ = ["CELL", "fill_body", "find_body_limbs"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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
    those of a tail, and with thighs where the legs end inside an open skirt.

    Args:
        solid: the body's cells, see `fill_body`.
        pieces: (k, 3, 3) corners of the triangles of each of its pieces, working frame; without
            them arms that are pieces are not told from a trunk that they rest on.
    """
    whole = with_thighs(solid)
    found, limbs = without_tails(*_with_arms(whole, pieces))
    return found, replace(limbs, led_up=whole is not solid)


def _with_arms(solid: Solid, pieces: Sequence[FloatArray]) -> tuple[Solid, Limbs]:
    """As the pieces show them; where an arm is missing and pieces turn out to be several blocks
    that touch, as those show them."""
    found = limbs_with_pieces(solid, find_piece_arms(solid, pieces))
    if len(found[1].pair("arm")) == 2:
        return found
    blocks = parted_at_shared_edges(pieces)
    if len(blocks) == len(pieces):
        return found
    parted = limbs_with_pieces(solid, find_piece_arms(solid, blocks))
    return parted if len(parted[1].pair("arm")) == 2 else found
