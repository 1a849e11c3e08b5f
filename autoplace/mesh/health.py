"""Is a mesh sound enough to be measured? Drops faces without area, names what cannot be.

All tolerances are fractions of the mesh's own size, so a character 1e-6 or 1e6 units tall is judged
like any other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import BadGeometry
from autoplace.mesh.character import Part

__all__ = ["sound_parts"]

FLAT_RATIO = 1e-4
"""Thickness over length under which points count as in one plane (common practice, no source)."""
SLIVER_RATIO = 1e-10
"""Twice a triangle's area over its longest edge squared, below which it has no area: far under what
file formats with 32-bit numbers can tell apart (about 1e-7 of an edge)."""
FACES_AT_ONCE = 1 << 14
"""Looked at together, so that what is worked out on the way stays in the processor's cache."""
MANY_POINTS = 20_000
"""Of more, some tell whether they all lie in one plane."""
SHOWN_IDS = 5
"""How many ids a message lists."""


def sound_parts(parts: list[Part], file_name: str) -> tuple[tuple[Part, ...], tuple[str, ...]]:
    """The parts without faces that cannot be measured and vertices that no face uses.

    Also a sentence for each thing dropped.

    Raises BadGeometry when a face uses a vertex that is not there, when a used vertex is not
    finite, when no face is left, or when all points lie in one plane, line or point.
    """
    notes: list[str] = []
    kept: list[Part] = []
    for part in parts:
        _check_indices(part, file_name)
        _check_finite(part, file_name)
        repeated, thin = _degenerate(part)
        good = ~(repeated | thin)
        if not good.all():
            notes.append(_dropped_note(part, int(repeated.sum()), int((thin & ~repeated).sum())))
        if good.any():
            kept.append(_with_faces(part, good))
            loose = len(part.vertices) - int(np.count_nonzero(_used(part)))
            if loose:
                notes.append(f"Part '{part.name}': passed over {loose} vertices that no face uses.")
    if not kept:
        what = "no faces" if not any(len(p.faces) for p in parts) else "no face with any area"
        raise BadGeometry(
            f"'{file_name}' has {what}; export the character as a surface mesh (not as points, "
            "curves or an empty scene)."
        )
    _check_not_flat(kept, file_name)
    return tuple(kept), tuple(notes)


def _check_indices(part: Part, file_name: str) -> None:
    if not part.faces.size or (part.faces.min() >= 0 and part.faces.max() < len(part.vertices)):
        return
    outside = np.any((part.faces < 0) | (part.faces >= len(part.vertices)), axis=1)
    if outside.any():
        raise BadGeometry(
            f"'{file_name}', part '{part.name}': {outside.sum()} faces use vertices that are not "
            f"there (faces {_listed(part.source_faces[outside])}); export the file again."
        )


def _check_finite(part: Part, file_name: str) -> None:
    if np.isfinite(part.vertices).all():
        return
    bad = _used(part) & ~np.isfinite(part.vertices).all(axis=1)
    if bad.any():
        ids = _listed(part.source_vertices[bad])
        raise BadGeometry(
            f"'{file_name}', part '{part.name}': {bad.sum()} vertices are not finite numbers "
            f"(NaN or infinite), counting from 0: {ids}; repair or delete them and export again."
        )


def _used(part: Part) -> NDArray[np.bool_]:
    """(n,) True for vertices that a face uses."""
    used = np.zeros(len(part.vertices), dtype=bool)
    used[part.faces] = True
    return used


def _degenerate(part: Part) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Masks over the faces: names a vertex twice; has no area."""
    a, b, c = part.faces.T
    repeated = (a == b) | (b == c) | (c == a)
    thin = np.empty(len(part.faces), dtype=bool)
    for first in range(0, len(thin), FACES_AT_ONCE):
        block = slice(first, first + FACES_AT_ONCE)
        thin[block] = _without_area(part.vertices, part.faces[block])
    return repeated, thin


def _without_area(vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(m,) True for triangles without area against their length."""
    a, b, c = (vertices[faces[:, corner]].T for corner in range(3))
    first, second = b - a, c - a
    third = second - first
    longest = np.maximum.reduce([np.einsum("ij,ij->j", e, e) for e in (first, second, third)])
    scale = np.sqrt(np.where(longest > 0, longest, 1.0))
    # scaled before the product: at 1e-170 units the squares would vanish, at 1e170 overflow
    x, y, z = first / scale
    u, v, w = second / scale
    area = np.sqrt((y * w - z * v) ** 2 + (z * u - x * w) ** 2 + (x * v - y * u) ** 2)
    return np.asarray((area <= SLIVER_RATIO) | (longest == 0))


def _with_faces(part: Part, good: NDArray[np.bool_]) -> Part:
    """The part with only these faces and the vertices they use."""
    faces = part.faces[good]
    used = np.zeros(len(part.vertices), dtype=bool)
    used[faces] = True
    if good.all() and used.all():
        return part
    number = np.cumsum(used) - 1
    return Part(
        part.name,
        part.vertices[used],
        number[faces],
        part.source_vertices[used],
        part.source_faces[good],
    )


def _dropped_note(part: Part, repeated: int, thin: int) -> str:
    why = []
    if repeated:
        why.append(f"{repeated} that name a vertex twice")
    if thin:
        why.append(f"{thin} without area")
    return f"Part '{part.name}': passed over {repeated + thin} triangles ({', '.join(why)})."


def _check_not_flat(parts: list[Part], file_name: str) -> None:
    """Raise when the vertices (all of them used by a face) have no depth."""
    step = max(sum(len(part.vertices) for part in parts) // MANY_POINTS, 1)
    if step > 1:
        # some of the points cannot be thicker than all
        some = np.concatenate([part.vertices[::step] for part in parts])
        low = np.min([part.vertices.min(axis=0) for part in parts], axis=0)
        high = np.max([part.vertices.max(axis=0) for part in parts], axis=0)
        longest = float(np.abs(high - low).sum())
        if _lengths(some)[2] > FLAT_RATIO * longest:
            return
    lengths = _lengths(np.concatenate([part.vertices for part in parts]))
    if lengths[2] > FLAT_RATIO * lengths[0]:
        return
    shape = "one plane" if lengths[1] > FLAT_RATIO * lengths[0] else "one line"
    if lengths[0] == 0.0:
        shape = "one point"
    raise BadGeometry(
        f"'{file_name}': all points lie in {shape}, so there is no body to measure; "
        "export the character's full mesh."
    )


def _lengths(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3,) extents of points (n, 3) along their own axes, longest first."""
    centred = points - points.mean(axis=0)
    size = float(np.abs(centred).max())
    if size == 0.0:
        return np.zeros(3)
    centred = centred / size
    _, directions = np.linalg.eigh(centred.T @ centred)
    return size * np.sort(np.ptp(centred @ directions, axis=0))[::-1]


def _listed(ids: NDArray[np.int64]) -> str:
    shown = ", ".join(str(i) for i in ids[:SHOWN_IDS])
    return shown + (", ..." if len(ids) > SHOWN_IDS else "")
