"""Reads Wavefront OBJ text into polygons with their object and group names.

Why not the general loader that the other formats go through: measured with trimesh 5.2, it splits
an object by material, copies vertices wherever texture coordinates meet (19,158 vertices of a body
became 21,833), joins separate objects that share a material into one, and keeps no way back to the
file's own vertex and polygon numbers. Here only the lines `v`, `f`, `o` and `g` are read, whole
columns at a time: all bytes of one kind of line are picked by a mask and converted at once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import BadGeometry, NotAMesh

__all__ = ["ObjContent", "read_obj"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ByteArray = NDArray[np.uint8]

NEWLINE, SPACE, TAB, MINUS, SLASH, ZERO, NINE = b"\n \t-/09"

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


@dataclass(frozen=True)
class _Lines:
    """Where each line starts and ends, and what its first letter is."""

    text: ByteArray
    starts: IntArray
    """(l,) byte index of the first character that is not blank."""
    ends: IntArray
    """(l,) byte index of the line's end (its newline)."""
    raw: bytes
    """The file as it came, same length as `text`."""

    def of_kind(self, letter: bytes) -> IntArray:
        """Indices of the lines that start with `letter` and a blank."""
        after = self.text[np.minimum(self.starts + 1, len(self.text) - 1)]
        return np.flatnonzero(
            (self.text[self.starts] == letter[0]) & ((after == SPACE) | (after == TAB))
        )

    def number(self, line: int) -> int:
        """Line number as an editor counts it (from 1)."""
        before = self.raw[: int(self.starts[line])].replace(b"\r\n", b"\n")
        return before.count(b"\n") + before.count(b"\r") + 1

    def content(self, line: int) -> str:
        """The line as text, shortened for a message."""
        text = self.text[self.starts[line] : self.ends[line]].tobytes()
        shown = text.decode("utf-8", "replace").strip()
        return shown if len(shown) <= 40 else shown[:37] + "..."


def read_obj(data: bytes, file_name: str) -> ObjContent:
    """Read the bytes of an OBJ file.

    Vertices may carry a weight or colours after x, y and z (they are passed over); a corner may be
    `v`, `v/t`, `v//n` or `v/t/n`, and its index may count back from the end (negative).
    Raises NotAMesh when there is no vertex line, BadGeometry with the line number when a line
    cannot be read or a face uses a vertex that is not there.
    """
    lines = _split_lines(data)
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


def _holds_numbers(lines: _Lines, line: int) -> bool:
    """Is there at least one number after the first letter?"""
    text = lines.text[lines.starts[line] + 1 : lines.ends[line]].tobytes()
    try:
        return [float(word) for word in text.split()[:1]] != []
    except ValueError:
        return False


def _split_lines(data: bytes) -> _Lines:
    """Line starts and ends; continued lines are joined and every line end made '\\n', in place."""
    raw = data
    if b"\r" in data:
        data = data.replace(b"\\\r\n", b"   ").replace(b"\r\n", b" \n").replace(b"\r", b"\n")
    if b"\\\n" in data:
        data = data.replace(b"\\\n", b"  ")
    if not data.endswith(b"\n"):
        data += b"\n"
    text: ByteArray = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(text == NEWLINE)
    starts = np.concatenate(([0], ends[:-1] + 1))
    blank = np.flatnonzero((text[starts] == SPACE) | (text[starts] == TAB))
    while len(blank):  # indented lines: step to the first letter
        starts[blank] += 1
        blank = blank[(text[starts[blank]] == SPACE) | (text[starts[blank]] == TAB)]
    return _Lines(text, starts, ends, raw)


def _select(lines: _Lines, chosen: IntArray) -> tuple[ByteArray, IntArray]:
    """Bytes of the chosen lines one after another (their first letter blanked, comments too).

    Also (len(chosen),) where each line starts in those bytes.
    """
    lengths = lines.ends[chosen] + 1 - lines.starts[chosen]
    offsets = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    if len(chosen) and np.all(lines.starts[chosen[1:]] == lines.ends[chosen[:-1]] + 1):
        picked = lines.text[lines.starts[chosen[0]] : lines.ends[chosen[-1]] + 1].copy()
    else:
        change = np.zeros(len(lines.text) + 1, dtype=np.int8)
        change[lines.starts[chosen]] += 1
        change[lines.ends[chosen] + 1] -= 1
        picked = lines.text[np.cumsum(change[:-1], dtype=np.int8).view(bool)]
    picked[offsets] = SPACE
    if np.any(picked == ord("#")):
        text = re.sub(rb"#[^\n]*", lambda found: b" " * len(found[0]), picked.tobytes())
        picked = np.frombuffer(text, dtype=np.uint8)
    return picked, offsets


def _token_starts(picked: ByteArray) -> IntArray:
    """Byte index of the first character of every word."""
    blank = picked <= SPACE
    begins = ~blank
    begins[1:] &= blank[:-1]
    return np.flatnonzero(begins)


def _read_vertices(lines: _Lines, chosen: IntArray, file_name: str) -> FloatArray:
    picked, offsets = _select(lines, chosen)
    words = _token_starts(picked)
    first = np.searchsorted(words, offsets)
    counts = np.diff(np.append(first, len(words)))
    if len(counts) and counts.min() < 3:
        raise _bad_vertex(lines, int(chosen[np.argmin(counts)]), file_name)
    try:
        values: FloatArray = np.fromstring(picked.tobytes(), dtype=np.float64, sep=" ")
    except ValueError:
        values = np.zeros(0)
    if len(values) != len(words):
        raise _bad_vertex(lines, _first_unreadable(picked, offsets, chosen), file_name)
    if len(counts) and np.all(counts == counts[0]):
        return np.ascontiguousarray(values.reshape(-1, counts[0])[:, :3])
    spread: FloatArray = values[first[:, None] + np.arange(3)]
    return spread


def _first_unreadable(picked: ByteArray, offsets: IntArray, chosen: IntArray) -> int:
    """The first chosen line with a word that is not a number."""
    ends = np.append(offsets[1:], len(picked))
    for line, start, end in zip(chosen, offsets, ends, strict=True):
        try:
            _ = [float(word) for word in picked[start:end].tobytes().split()]
        except ValueError:
            return int(line)
    return int(chosen[0])


def _bad_vertex(lines: _Lines, line: int, file_name: str) -> BadGeometry:
    return BadGeometry(
        f"'{file_name}' line {lines.number(line)}: '{lines.content(line)}' does not give a vertex "
        "three numbers; mend that line or export the file again."
    )


def _read_corners(
    lines: _Lines, chosen: IntArray, vertex_lines: IntArray, file_name: str
) -> tuple[IntArray, IntArray]:
    """Vertex index of every corner, and the number of corners of every face."""
    if len(chosen) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    picked, offsets = _select(lines, chosen)
    words = _token_starts(picked)
    first = np.searchsorted(words, offsets)
    sizes = np.diff(np.append(first, len(words)))
    values, readable = _leading_integers(picked, words)
    if not readable.all():
        word = int(np.argmin(readable))
        raise _bad_face(lines, chosen, first, word, file_name, "is not a list of vertex numbers")
    negative = np.flatnonzero(values < 0)
    if len(negative):
        # a negative index counts back from the vertices read so far
        line_of_word = chosen[np.searchsorted(first, negative, side="right") - 1]
        values[negative] += np.searchsorted(vertex_lines, line_of_word) + 1
    count = len(vertex_lines)
    outside = (values < 1) | (values > count)
    if outside.any():
        reason = f"uses a vertex that is not there (the file has {count})"
        raise _bad_face(lines, chosen, first, int(np.argmax(outside)), file_name, reason)
    return values - 1, sizes


def _leading_integers(picked: ByteArray, words: IntArray) -> tuple[IntArray, NDArray[np.bool_]]:
    """The integer each word starts with, and whether it is one (ended by a blank or a slash)."""
    at = words.copy()
    minus = picked[at] == MINUS
    at += minus
    values = np.zeros(len(words), dtype=np.int64)
    readable = np.zeros(len(words), dtype=bool)
    active = np.arange(len(words))
    while len(active):
        letter = picked[at[active]]
        digit = (letter >= ZERO) & (letter <= NINE)
        ended = active[~digit]
        stop = letter[~digit]
        # at least one digit stood before the end
        readable[ended] = ((stop <= SPACE) | (stop == SLASH)) & (at[ended] > words[ended])
        readable[ended] &= (at[ended] - words[ended] - minus[ended]) > 0
        active = active[digit]
        values[active] = np.minimum(values[active], 10**15) * 10 + (letter[digit] - ZERO)
        at[active] += 1
    values[minus] *= -1
    return values, readable


def _bad_face(
    lines: _Lines, chosen: IntArray, first: IntArray, word: int, file_name: str, reason: str
) -> BadGeometry:
    line = int(chosen[np.searchsorted(first, word, side="right") - 1])
    return BadGeometry(
        f"'{file_name}' line {lines.number(line)}: the face '{lines.content(line)}' {reason}; "
        "mend that line or export the file again."
    )


def _read_parts(lines: _Lines, face_lines: IntArray) -> tuple[tuple[str, ...], IntArray]:
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
