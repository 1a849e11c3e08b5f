"""Pieces that lie far off the figure: forgotten helpers, a light's marker, a lost triangle.

They are found before anything is laid out over the whole mesh, which one triangle a thousand
lengths away would otherwise make a thousand times as large.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character
from autoplace.mesh.islands import Islands, island_boxes

__all__ = ["find_strays"]

FloatArray = NDArray[np.float64]

FAR = 1.0
"""A piece this many lengths of the figure away from all of it is none of it; a shield, a lantern
on a pole or a parted robot's hand is nearer by far (common practice, no source)."""
MOST_AREA = 0.2
"""Pieces with more than this share of the surface are no strays: two figures may stand far apart
(common practice, no source)."""


def find_strays(
    character: Character, islands: Islands, area: FloatArray, scenery: Collection[int] = ()
) -> tuple[int, ...]:
    """Islands that lie far off the rest of a mesh.

    Args:
        character: the mesh. islands: its pieces. area: (m,) of its triangles.
        scenery: islands that are set aside already.

    Returns:
        Their numbers, ascending; none when they have too much of the surface to be strays.
    """
    if islands.count < 2:
        return ()
    corners = character.vertices[character.faces]
    low, high = island_boxes(islands.label, islands.count, corners)
    of_island = np.bincount(islands.label, area, islands.count)
    open_ones = np.ones(islands.count, dtype=bool)
    open_ones[list(scenery)] = False
    if not open_ones.any():
        return ()
    inside = np.zeros(islands.count, dtype=bool)
    inside[int(np.argmax(np.where(open_ones, of_island, -1.0)))] = True
    while True:
        box_low, box_high = low[inside].min(axis=0), high[inside].max(axis=0)
        gap = np.maximum(np.maximum(low - box_high, box_low - high), 0.0)
        near = np.linalg.norm(gap, axis=1) <= FAR * float((box_high - box_low).max())
        grown = inside | (near & open_ones)
        if grown.sum() == inside.sum():
            break
        inside = grown
    far = open_ones & ~inside
    if of_island[far].sum() > MOST_AREA * of_island[open_ones].sum():
        return ()
    return tuple(np.flatnonzero(far).tolist())
