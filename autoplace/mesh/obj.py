"""Reads Wavefront OBJ text into polygons with their object and group names.

Why not the general loader that the other formats go through: measured with trimesh 5.2, it splits
an object by material, copies vertices wherever texture coordinates meet (19,158 vertices of a body
became 21,833), joins separate objects that share a material into one, and keeps no way back to the
file's own vertex and polygon numbers. Here only the lines `v`, `f`, `o` and `g` are read, some
thousand lines of one kind at a time, and their numbers all at once (`mesh.decimal_text`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import BadGeometry, NotAMesh
from autoplace.mesh.decimal_text import decimals, leading_integers, word_ends, word_starts

__all__ = ["ObjContent", "read_obj"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ByteArray = NDArray[np.uint8]

NEWLINE, SPACE, TAB, MINUS, SLASH, ZERO, NINE, REMARK = b"\n \t-/09#"

LINES_AT_ONCE = 1 << 14
"""Lines whose numbers are read together: half a megabyte, which the processor's cache holds."""
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
    letters: ByteArray
    """(l,) the first letter where a blank follows it, else 0."""
    raw: bytes
    """The file as it came, same length as `text`."""

    def of_kind(self, letter: bytes) -> IntArray:
        """Indices of the lines that start with `letter` and a blank."""
        return np.flatnonzero(self.letters == letter[0])

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
    letters = text[starts]
    after = text[np.minimum(starts + 1, len(text) - 1)]
    letters[(after != SPACE) & (after != TAB)] = 0
    return _Lines(text, starts, ends, letters, raw)


@dataclass(frozen=True)
class _Block:
    """Some lines of one kind, one after another, with all but their words blanked."""

    lines: IntArray
    """(l,) which lines."""
    text: ByteArray
    offsets: IntArray
    """(l,) where each line starts in `text`."""
    words: IntArray
    """(w,) where each word starts in `text`."""

    def first_words(self, each: int) -> IntArray | None:
        """(l,) the first word of every line when all have `each` words; else None."""
        if len(self.words) != each * len(self.offsets):
            return None
        table = self.words.reshape(-1, each)
        if np.all(table[:, 0] >= self.offsets) and np.all(table[:-1, -1] < self.offsets[1:]):
            return np.arange(0, len(self.words), each)
        return None

    def words_of_lines(self) -> tuple[IntArray, IntArray]:
        """(l,) the first word of every line and (l,) how many it has."""
        first = self.first_words(3)
        if first is not None:
            return first, np.full(len(first), 3)
        first = np.searchsorted(self.words, self.offsets)
        return first, np.diff(np.append(first, len(self.words)))


def _blocks(lines: _Lines, chosen: IntArray) -> Iterator[_Block]:
    """The chosen lines, a few thousand at a time."""
    for first in range(0, len(chosen), LINES_AT_ONCE):
        mine = chosen[first : first + LINES_AT_ONCE]
        starts, ends = lines.starts[mine], lines.ends[mine] + 1
        text = lines.text[starts[0] : ends[-1]]
        if np.all(starts[1:] == ends[:-1]):
            text, offsets = text.copy(), starts - starts[0]
        else:
            change = np.zeros(len(text) + 1, dtype=np.int8)
            change[starts - starts[0]] += 1
            change[ends - starts[0]] -= 1
            text = text[np.cumsum(change[:-1], dtype=np.int8).view(bool)]
            lengths = ends - starts
            offsets = np.cumsum(lengths) - lengths
        text[offsets] = SPACE
        if np.any(text == REMARK):
            blanked = re.sub(rb"#[^\n]*", lambda found: b" " * len(found[0]), text.tobytes())
            text = np.frombuffer(blanked, dtype=np.uint8)
        yield _Block(mine, text, offsets, word_starts(text))


def _read_vertices(lines: _Lines, chosen: IntArray, file_name: str) -> FloatArray:
    vertices, done = np.empty((len(chosen), 3)), 0
    for block in _blocks(lines, chosen):
        first, counts = block.words_of_lines()
        if counts.min() < 3:
            raise _bad_vertex(lines, int(block.lines[np.argmin(counts)]), file_name)
        values = decimals(block.text, block.words, word_ends(block.text))
        if values is None:
            values = _floats(block.text)
        if len(values) != len(block.words):
            raise _bad_vertex(lines, _first_unreadable(block), file_name)
        end = done + len(first)
        if np.all(counts == counts[0]):
            vertices[done:end] = values.reshape(-1, counts[0])[:, :3]
        else:
            vertices[done:end] = values[first[:, None] + np.arange(3)]
        done = end
    return vertices


def _floats(text: ByteArray) -> FloatArray:
    """The numbers of a text however they are written; none when one of them is no number."""
    try:
        values: FloatArray = np.fromstring(text.tobytes(), dtype=np.float64, sep=" ")
    except ValueError:
        values = np.zeros(0)
    return values


def _first_unreadable(block: _Block) -> int:
    """The first line with a word that is not a number."""
    ends = np.append(block.offsets[1:], len(block.text))
    for line, start, end in zip(block.lines, block.offsets, ends, strict=True):
        try:
            _ = [float(word) for word in block.text[start:end].tobytes().split()]
        except ValueError:
            return int(line)
    return int(block.lines[0])


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
    corners, sizes = [], []
    for block in _blocks(lines, chosen):
        first, counts = block.words_of_lines()
        values = leading_integers(block.text, block.words)
        if values is None:
            values, readable = _leading_integers(block.text, block.words)
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


def _leading_integers(picked: ByteArray, words: IntArray) -> tuple[IntArray, NDArray[np.bool_]]:
    """The integer each word starts with, and whether it is one (ended by a blank or a slash).

    For any integer, also with a sign, a digit at a time.
    """
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


def _bad_face(lines: _Lines, line: int, file_name: str, reason: str) -> BadGeometry:
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
