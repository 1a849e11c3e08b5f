"""From an implicit shape to triangles: sampled only near the surface, then reduced."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .shapes import Cull, Shape

__all__ = ["march", "reduce_faces"]

_BLOCK = 24  # cells along the edge of a block
_ENLARGE = 200.0
_SUB = 6  # a block is looked at in 6 x 6 x 6 sub-blocks before it is sampled in full
_SAFETY = 1.4  # the fields are distances only to first order: how far off a value may be


def _near_blocks(shape: Shape, size: float, coarse: NDArray[np.int64]) -> NDArray[np.int64]:
    """Those of the 4 x 4 x 4 blocks in a coarse block that the surface may cross."""
    blocks = coarse * 4 + _grid(4)
    half = 0.5 * 3.0**0.5 * size
    cull = Cull(np.asarray((coarse + 0.5) * 4 * size, dtype=np.float64), 4 * half + _SAFETY * half)
    value = shape.evaluate(((blocks + 0.5) * size).astype(np.float32), cull)
    return blocks[:0] if value is None else blocks[np.abs(value) < _SAFETY * half]


def _grid(n: int) -> NDArray[np.int64]:
    """All integer triples below n, in row order."""
    return np.stack(np.meshgrid(*[np.arange(n)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)


def _sample_plan(
    middle: NDArray[np.float32], near: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """A block filled with the signs of its sub-blocks, and the lattice points still to sample."""
    n = _BLOCK // _SUB
    wanted = np.zeros([_BLOCK + 1] * 3, dtype=bool)
    for i, j, k in _grid(_SUB)[near] * n:
        wanted[i : i + n + 1, j : j + n + 1, k : k + n + 1] = True
    signs = np.where(middle > 0, np.float32(1), np.float32(-1)).reshape([_SUB] * 3)
    at = np.minimum(np.arange(_BLOCK + 1) // n, _SUB - 1)
    return signs[np.ix_(at, at, at)], wanted


def march(shape: Shape, cell: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Triangulate the zero level of `shape` on a lattice with spacing `cell`.

    Returns vertices (N, 3) and faces (M, 3), welded, wound outward. The lattice is anchored at the
    world origin, so the same shape gives the same triangles whatever else is around it.
    """
    from skimage.measure import marching_cubes

    box_low, box_high = shape.bounds()
    size = cell * _BLOCK
    first = np.floor((box_low - cell) / (4 * size)).astype(np.int64)
    last = np.ceil((box_high + cell) / (4 * size)).astype(np.int64)
    grid = [np.arange(first[i], last[i]) for i in range(3)]
    coarse = np.stack(np.meshgrid(*grid, indexing="ij"), axis=-1).reshape(-1, 3)
    blocks = [_near_blocks(shape, size, at) for at in coarse]
    lattice = _grid(_BLOCK + 1)
    small = size / _SUB
    sub_centres = (_grid(_SUB) + 0.5) * small
    radius = size * np.sqrt(0.75) + 2 * cell
    vertices, faces, count = [], [], 0
    for block in np.concatenate(blocks):
        cull = Cull((block + 0.5) * size, radius)
        middle = shape.evaluate((block * size + sub_centres).astype(np.float32), cull)
        if middle is None:
            continue
        near = np.abs(middle) < _SAFETY * small * np.sqrt(0.75)
        if not near.any():
            continue
        volume, wanted = _sample_plan(middle, near)
        points = ((block * _BLOCK + lattice[wanted.reshape(-1)]) * cell).astype(np.float32)
        value = shape.evaluate(points, cull)
        if value is None:
            continue
        tiny = np.float32(cell * 1e-4)  # keep the surface off the lattice points themselves
        value = np.where(np.abs(value) < tiny, np.where(value < 0, -tiny, tiny), value)
        if value.min() > 0 or value.max() < 0:
            continue
        volume[wanted] = value
        v, f, _, _ = marching_cubes(  # type: ignore[no-untyped-call]
            volume, 0.0, gradient_direction="descent"
        )
        vertices.append(v.astype(np.float64) + block * _BLOCK)
        faces.append(f.astype(np.int64) + count)
        count += len(v)
    if not vertices:
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    points_all, triangles = np.concatenate(vertices), np.concatenate(faces)
    keys = np.round(points_all * 1e4).astype(np.int64)
    _, index, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    triangles = inverse.reshape(-1)[triangles]
    solid = (
        (triangles[:, 0] != triangles[:, 1])
        & (triangles[:, 1] != triangles[:, 2])
        & (triangles[:, 2] != triangles[:, 0])
    )
    return _without_hollows(points_all[index] * cell, triangles[solid])


def _without_hollows(
    vertices: NDArray[np.float64], faces: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Leave out closed surfaces that bound a hole inside (between skin and cloth), and crumbs."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    ends = (faces[:, [0, 1]].ravel(), faces[:, [1, 2]].ravel())
    graph = coo_matrix((np.ones(len(ends[0]), dtype=np.int8), ends), shape=[len(vertices)] * 2)
    count, label = connected_components(graph, directed=False)
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    volumes = np.bincount(label[faces[:, 0]], weights=volume, minlength=count)
    keep = (volumes > 1e-4 * volumes.max())[label[faces[:, 0]]]
    used = np.unique(faces[keep])
    remap = np.zeros(len(vertices), dtype=np.int64)
    remap[used] = np.arange(len(used))
    return vertices[used], remap[faces[keep]]


def reduce_faces(
    vertices: NDArray[np.float64], faces: NDArray[np.int64], target: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Merge edges by quadric error until about `target` faces are left; does nothing below that."""
    if len(faces) <= target:
        return vertices, faces
    import fast_simplification  # type: ignore[import-untyped]

    # The library collapses edges below an error threshold that it raises step by step, from an
    # absolute start made for meshes far larger than 1: enlarged, small features survive. It stops
    # short of the target when it runs out of steps; the next round raises the threshold faster.
    v, f = (vertices * _ENLARGE).astype(np.float32), faces.astype(np.int32)
    for haste in (5.0, 6.0, 7.0):
        if len(f) > 1.01 * target:
            v, f = fast_simplification.simplify(v, f, target_count=int(target), agg=haste)
    v = v / _ENLARGE
    used = np.unique(f)
    remap = np.full(len(v), -1, dtype=np.int64)
    remap[used] = np.arange(len(used))
    return v[used].astype(np.float64), remap[f]
