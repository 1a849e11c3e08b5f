"""Reads Wavefront OBJ text into polygons with their object and group names.

Why not the general loader that the other formats go through: measured with trimesh 5.2, it splits
an object by material, copies vertices wherever texture coordinates meet (19,158 vertices of a body
became 21,833), joins separate objects that share a material into one, and keeps no way back to the
file's own vertex and polygon numbers. Here only the lines `v`, `f`, `o` and `g` are read, some
thousand lines of one kind at a time, and their numbers all at once (`mesh.decimal_text`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import BadGeometry, NotAMesh
from autoplace.mesh.decimal_text import decimals, leading_integers, word_ends
from autoplace.mesh.obj_lines import Block, Lines, any_floats, any_integers, blocks, split_lines

__all__ = ["ObjContent", "read_obj"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TRIED_LINES = 100
"""Vertex lines that are looked at before a file without any number in them is called no mesh."""


@dataclass(frozen=True)
class ObjContent:
    """What an OBJ file says, with nothing merged, dropped or cut."""

    vertices: FloatArray
    """(n, 3) in file order."""
    corners: IntArray
    """(k,) vertex index (from 0) of every corner of every polygon, one polygon after another."""
    sizes: IntArray
    """(p,) number of corners of each polygon."""
    part_names: tuple[str, ...]
    """Objects and groups that hold faces, in order of their first face; each name once."""
    part_of_face: IntArray
    """(p,) index into `part_names`."""


def read_obj(data: bytes, file_name: str) -> ObjContent:
    """Read the bytes of an OBJ file.

    Vertices may carry a weight or colours after x, y and z (they are passed over); a corner may be
    `v`, `v/t`, `v//n` or `v/t/n`, and its index may count back from the end (negative).
    Raises NotAMesh when there is no vertex line, BadGeometry with the line number when a line
    cannot be read or a face uses a vertex that is not there.
    """
    lines = split_lines(data)
    vertex_lines = lines.of_kind(b"v")
    if not any(_holds_numbers(lines, line) for line in vertex_lines[:TRIED_LINES].tolist()):
        raise NotAMesh(
            f"'{file_name}' holds no vertices ('v x y z' lines), so it is not an OBJ mesh; "
            "export the character again as OBJ, PLY, GLB or STL."
        )
    vertices = _read_vertices(lines, vertex_lines, file_name)
    face_lines = lines.of_kind(b"f")
    corners, sizes = _read_corners(lines, face_lines, vertex_lines, file_name)
    names, part_of_face = _read_parts(lines, face_lines)
    return ObjContent(vertices, corners, sizes, names, part_of_face)


def _holds_numbers(lines: Lines, line: int) -> bool:
    """Is there at least one number after the first letter?"""
    text = lines.text[lines.starts[line] + 1 : lines.ends[line]].tobytes()
    try:
        return [float(word) for word in text.split()[:1]] != []
    except ValueError:
        return False


def _read_vertices(lines: Lines, chosen: IntArray, file_name: str) -> FloatArray:
    vertices, done = np.empty((len(chosen), 3)), 0
    for block in blocks(lines, chosen):
        first, counts = block.words_of_lines()
        if counts.min() < 3:
            raise _bad_vertex(lines, int(block.lines[np.argmin(counts)]), file_name)
        values = decimals(block.text, block.words, word_ends(block.text))
        if values is None:
            values = any_floats(block.text)
        if len(values) != len(block.words):
            raise _bad_vertex(lines, _first_unreadable(block), file_name)
        end = done + len(first)
        if np.all(counts == counts[0]):
            vertices[done:end] = values.reshape(-1, counts[0])[:, :3]
        else:
            vertices[done:end] = values[first[:, None] + np.arange(3)]
        done = end
    return vertices


def _first_unreadable(block: Block) -> int:
    """The first line with a word that is not a number."""
    ends = np.append(block.offsets[1:], len(block.text))
    for line, start, end in zip(block.lines, block.offsets, ends, strict=True):
        try:
            _ = [float(word) for word in block.text[start:end].tobytes().split()]
        except ValueError:
            return int(line)
    return int(block.lines[0])


def _bad_vertex(lines: Lines, line: int, file_name: str) -> BadGeometry:
    return BadGeometry(
        f"'{file_name}' line {lines.number(line)}: '{lines.content(line)}' does not give a vertex "
        "three numbers; mend that line or export the file again."
    )


def _read_corners(
    lines: Lines, chosen: IntArray, vertex_lines: IntArray, file_name: str
) -> tuple[IntArray, IntArray]:
    """Vertex index of every corner, and the number of corners of every face."""
    if len(chosen) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    corners, sizes = [], []
    for block in blocks(lines, chosen):
        first, counts = block.words_of_lines()
        values = leading_integers(block.text, block.words)
        if values is None:
            values, readable = any_integers(block.text, block.words)
            if not readable.all():
                line = int(block.lines[_line_of(counts, int(np.argmin(readable)))])
                raise _bad_face(lines, line, file_name, "is not a list of vertex numbers")
            negative = np.flatnonzero(values < 0)
            # a negative index counts back from the vertices read so far
            line_of_word = block.lines[np.searchsorted(first, negative, side="right") - 1]
            values[negative] += np.searchsorted(vertex_lines, line_of_word) + 1
        corners.append(values)
        sizes.append(counts)
    every, size = np.concatenate(corners), np.concatenate(sizes)
    every -= 1
    count = len(vertex_lines)
    if len(every) and (every.min() < 0 or every.max() >= count):
        outside = int(np.argmax((every < 0) | (every >= count)))
        reason = f"uses a vertex that is not there (the file has {count})"
        raise _bad_face(lines, int(chosen[_line_of(size, outside)]), file_name, reason)
    return every, size


def _line_of(counts: IntArray, word: int) -> int:
    """Which line a word stands in, by the number of words of each."""
    return int(np.searchsorted(np.cumsum(counts), word, side="right"))


def _bad_face(lines: Lines, line: int, file_name: str, reason: str) -> BadGeometry:
    return BadGeometry(
        f"'{file_name}' line {lines.number(line)}: the face '{lines.content(line)}' {reason}; "
        "mend that line or export the file again."
    )


def _read_parts(lines: Lines, face_lines: IntArray) -> tuple[tuple[str, ...], IntArray]:
    """Name of the object and group that each face stands under."""
    object_lines, group_lines = lines.of_kind(b"o"), lines.of_kind(b"g")
    marks = sorted(
        [(int(line), "o") for line in object_lines] + [(int(line), "g") for line in group_lines]
    )
    order: dict[str, int] = {}
    part_of_face = np.zeros(len(face_lines), dtype=np.int64)
    bounds = np.append(np.searchsorted(face_lines, [line for line, _ in marks]), len(face_lines))
    current_object, current_group = "", ""
    spans = [(0, int(bounds[0]), "")]
    for index, (line, letter) in enumerate(marks):
        text = lines.text[lines.starts[line] + 1 : lines.ends[line]].tobytes()
        name = " ".join(text.decode("utf-8", "replace").split())
        if letter == "o":
            current_object = name
        else:
            current_group = name
        label = _part_name(current_object, current_group)
        spans.append((int(bounds[index]), int(bounds[index + 1]), label))
    for start, end, label in spans:
        if end > start:
            part_of_face[start:end] = order.setdefault(label, len(order))
    return tuple(order), part_of_face


def _part_name(object_name: str, group_name: str) -> str:
    """One name for what stands in object `object_name` and group `group_name`."""
    if not group_name or group_name in ("default", "off", object_name):
        return object_name
    return f"{object_name}/{group_name}" if object_name else group_name
