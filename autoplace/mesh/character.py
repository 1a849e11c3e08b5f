"""A character's mesh as the file gave it: named parts of triangles, nothing merged or moved."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["Character", "Part"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Part:
    """One named object or group of the source file."""

    name: str
    """Unique within the character."""
    vertices: FloatArray
    """(n, 3) positions in the input file's frame and units."""
    faces: IntArray
    """(m, 3) triangles, indices into `vertices`; polygons are cut into triangles on reading."""
    source_vertices: IntArray
    """(n,) index of each vertex in the file's own vertex list (several may share one)."""
    source_faces: IntArray
    """(m,) index of the polygon in the file that each triangle was cut from."""


@dataclass(frozen=True)
class Character:
    """All parts of one file, in the input file's frame and units."""

    name: str
    """The file's stem, or what the caller named it."""
    parts: tuple[Part, ...]
    path: Path | None = None
    """Where it was read from; None when built in memory."""
    sha256: str | None = None
    """Digest of the file's bytes; None when built in memory."""
    notes: tuple[str, ...] = field(default=())
    """What the reader had to repair or pass over, one sentence each."""

    @property
    def vertices(self) -> FloatArray:
        """(n, 3) vertices of all parts one after another, input frame and units."""
        return np.concatenate([part.vertices for part in self.parts])

    @property
    def faces(self) -> IntArray:
        """(m, 3) triangles of all parts, indices into `vertices`."""
        shifted, start = [], 0
        for part in self.parts:
            shifted.append(part.faces + start)
            start += len(part.vertices)
        return np.concatenate(shifted)

    @property
    def face_count(self) -> int:
        """Number of triangles."""
        return sum(len(part.faces) for part in self.parts)
