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
    outside = np.any((part.faces < 0) | (part.faces >= len(part.vertices)), axis=1)
    if outside.any():
        raise BadGeometry(
            f"'{file_name}', part '{part.name}': {outside.sum()} faces use vertices that are not "
            f"there (faces {_listed(part.source_faces[outside])}); export the file again."
        )


def _check_finite(part: Part, file_name: str) -> None:
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
    corners = part.vertices[part.faces]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    third = second - first
    longest = np.maximum.reduce([np.einsum("ij,ij->i", e, e) for e in (first, second, third)])
    scale = np.sqrt(np.where(longest > 0, longest, 1.0))[:, None]
    # scaled before the product: at 1e-170 units the squares would vanish, at 1e170 overflow
    area = np.linalg.norm(_cross(first / scale, second / scale), axis=1)
    return repeated, (area <= SLIVER_RATIO) | (longest == 0)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Row-wise cross product; several times faster than numpy's on long arrays."""
    return np.stack(
        [
            a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1],
            a[:, 2] * b[:, 0] - a[:, 0] * b[:, 2],
            a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0],
        ],
        axis=1,
    )


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
    points = np.concatenate([part.vertices for part in parts])
    centred = points - points.mean(axis=0)
    size = float(np.abs(centred).max())
    if size == 0.0:
        lengths = np.zeros(3)
    else:
        centred = centred / size
        _, directions = np.linalg.eigh(centred.T @ centred)
        lengths = np.sort(np.ptp(centred @ directions, axis=0))[::-1]
    if lengths[2] > FLAT_RATIO * lengths[0]:
        return
    shape = "one plane" if lengths[1] > FLAT_RATIO * lengths[0] else "one line"
    if size == 0.0:
        shape = "one point"
    raise BadGeometry(
        f"'{file_name}': all points lie in {shape}, so there is no body to measure; "
        "export the character's full mesh."
    )


def _listed(ids: NDArray[np.int64]) -> str:
    shown = ", ".join(str(i) for i in ids[:SHOWN_IDS])
    return shown + (", ..." if len(ids) > SHOWN_IDS else "")
