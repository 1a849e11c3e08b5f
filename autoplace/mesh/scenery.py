"""Flat sheets that a figure stands on or before: ground planes and backdrops, told without a frame.

They can be many times as wide as the figure, so they must be set aside before anything is said
about its size, its direction or its place.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.character import Character
from autoplace.mesh.islands import Islands

__all__ = ["find_scenery"]

FloatArray = NDArray[np.float64]

# All are common practice, no source: a sheet is far thinner and a figure far thicker than this.
LEAST_AREA = 0.1
"""Share of the file's whole surface that is worth a look."""
THIN = 0.02
"""Thickness of a sheet over its length (standard deviations of its surface)."""
THIN_BESIDE = 0.05
"""The same over the size of all the rest."""
WIDE = 0.6
"""Both lengths of a sheet over the size of all the rest."""
ONE_SIDE = 0.02
"""How far the rest may reach to the other side, over its size: soles sink in a little."""
ENOUGH = 20_000
"""Triangles that tell whether a piece is flat."""


def find_scenery(character: Character, islands: Islands, area: FloatArray) -> tuple[int, ...]:
    """Islands that are flat sheets with all the rest of the file on one side of them.

    Args:
        character: the mesh. islands: its pieces. area: (m,) of its triangles.
    """
    if islands.count < 2:
        return ()
    vertices, faces = character.vertices, character.faces
    of_island = np.bincount(islands.label, area, islands.count)
    found: list[int] = []
    for island in np.argsort(-of_island, kind="stable").tolist():
        if of_island[island] < LEAST_AREA * float(of_island.sum()):
            break
        mine = islands.label == island
        axes = _flat_axes(vertices, faces[mine], area[mine])
        rest = ~mine & ~np.isin(islands.label, found)
        if axes is not None and rest.any() and _apart(vertices, faces[mine], faces[rest], axes):
            found.append(island)
    return tuple(sorted(found))


def _flat_axes(
    vertices: FloatArray, faces: NDArray[np.int64], area: FloatArray
) -> FloatArray | None:
    """(3, 3) columns: normal and the two ways along a flat sheet; None for anything else."""
    step = max(len(faces) // ENOUGH, 1)
    corners, area = vertices[faces[::step]], area[::step]
    total = max(float(area.sum()), 1e-300)
    offset = corners - area @ corners.mean(axis=1) / total
    # second moments of triangles from those of their corners and middles
    sums = offset.sum(axis=1)
    moments = sums.T @ (sums * area[:, None])
    for corner in range(3):
        moments += offset[:, corner].T @ (offset[:, corner] * area[:, None])
    spread, axes = np.linalg.eigh(moments / (12.0 * total))
    thick, _, long = np.sqrt(np.maximum(spread, 0.0))
    return axes if thick <= THIN * long else None


def _apart(
    vertices: FloatArray,
    sheet: NDArray[np.int64],
    rest: NDArray[np.int64],
    axes: FloatArray,
) -> bool:
    """Whether a sheet is wide and thin against the rest, and the rest on one side of it."""
    other, own = vertices[rest.ravel()], vertices[sheet.ravel()]
    size = float(np.ptp(other, axis=0).max())
    extents = np.ptp(own @ axes, axis=0)
    if extents[0] > THIN_BESIDE * size or min(extents[1], extents[2]) < WIDE * size:
        return False
    height = other @ axes[:, 0] - float(np.median(own @ axes[:, 0]))
    beyond = min(max(float(height.max()), 0.0), max(float(-height.min()), 0.0))
    return beyond < ONE_SIDE * size + float(extents[0])
