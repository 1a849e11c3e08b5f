"""Reads what an OBJ file says of its surface: texture coordinates and the names of materials.

Only exporters ask for this, so that placing does not wait for it. The lines read are `vt`,
`usemtl`, `mtllib` and the second numbers of `f`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.decimal_text import decimals, word_ends
from autoplace.mesh.obj_lines import Block, Lines, any_floats, any_integers, blocks, split_lines

__all__ = ["ObjSurface", "read_obj_surface"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SPACE, SLASH = b" /"
MISSING, BROKEN = -1, -2
"""Numbers of texture coordinates that are not given, and that cannot be read."""


@dataclass(frozen=True)
class ObjSurface:
    """What the file says beside its shape; polygons and corners as in `mesh.obj.ObjContent`."""

    coordinates: FloatArray
    """(k, 2) of every corner, u to the right and v up; not a number where there are none."""
    broken: int
    """Corners whose texture coordinates are not there or are no numbers."""
    material_names: tuple[str, ...]
    """In order of the first polygon; each name once."""
    material_of_face: IntArray
    """(p,) index into `material_names`, -1 for none."""
    libraries: tuple[str, ...]
    """What follows `mtllib`, line by line; each once."""


def read_obj_surface(data: bytes, corners: int) -> ObjSurface:
    """Reads the bytes of an OBJ file that has this many corners of polygons."""
    lines = split_lines(data)
    coordinate_lines = lines.of_word(b"vt")
    values = _coordinates(lines, coordinate_lines)
    face_lines = lines.of_kind(b"f")
    numbers = [_numbers(block, coordinate_lines) for block in blocks(lines, face_lines)]
    number = np.concatenate(numbers) if numbers else np.zeros(0, dtype=np.int64)
    assert len(number) == corners
    given = (number >= 0) & (number < len(values))
    found = np.full((corners, 2), np.nan)
    found[given] = values[number[given]]
    broken = int(np.count_nonzero((number != MISSING) & ~np.isfinite(found).all(axis=1)))
    found[~np.isfinite(found).all(axis=1)] = np.nan
    names, material = _materials(lines, face_lines)
    libraries = dict.fromkeys(lines.rest(int(i), b"mtllib") for i in lines.of_word(b"mtllib"))
    return ObjSurface(found, broken, names, material, tuple(libraries))


def _coordinates(lines: Lines, chosen: IntArray) -> FloatArray:
    """(t, 2) of all `vt` lines; not a number where a line cannot be read, 0 for a v left out."""
    done = [np.zeros((0, 2))]
    for block in blocks(lines, chosen, keyword=2):
        first, counts = block.words_of_lines()
        values = decimals(block.text, block.words, word_ends(block.text))
        if values is None:
            values = any_floats(block.text)
        if len(values) != len(block.words) or counts.min() < 2:
            done.append(np.array([_two_numbers(lines, int(line)) for line in block.lines]))
        else:
            done.append(values[first[:, None] + np.arange(2)])
    return np.concatenate(done)


def _two_numbers(lines: Lines, line: int) -> tuple[float, float]:
    words = lines.rest(line, b"vt").partition("#")[0].split()[:2]
    try:
        u, v = (*map(float, words), 0.0) if len(words) == 1 else map(float, words)
    except ValueError:
        u = v = float("nan")
    return u, v


def _numbers(block: Block, coordinate_lines: IntArray) -> IntArray:
    """(w,) number of the texture coordinates that each corner of some `f` lines names, from 0."""
    number = np.full(len(block.words), MISSING, dtype=np.int64)
    slashes = np.append(np.flatnonzero(block.text == SLASH), len(block.text))
    slash = slashes[np.searchsorted(slashes, block.words)]
    has = np.flatnonzero(slash < word_ends(block.text))
    after = slash[has] + 1
    named = (block.text[after] > SPACE) & (block.text[after] != SLASH)
    has, after = has[named], after[named]
    values, readable = any_integers(block.text, after)
    back = values < 0  # counts back from the coordinates read so far
    line = block.lines[np.searchsorted(block.offsets, block.words[has[back]], side="right") - 1]
    values[back] += np.searchsorted(coordinate_lines, line) + 1
    number[has] = np.where(readable & (values > 0), values - 1, BROKEN)
    return number


def _materials(lines: Lines, face_lines: IntArray) -> tuple[tuple[str, ...], IntArray]:
    """The material that each polygon stands under."""
    marks = lines.of_word(b"usemtl")
    bounds = np.append(np.searchsorted(face_lines, marks), len(face_lines))
    material = np.full(len(face_lines), -1, dtype=np.int64)
    order: dict[str, int] = {}
    for mark, start, end in zip(marks, bounds[:-1], bounds[1:], strict=True):
        name = lines.rest(int(mark), b"usemtl")
        if name and end > start:
            material[start:end] = order.setdefault(name, len(order))
    return tuple(order), material
