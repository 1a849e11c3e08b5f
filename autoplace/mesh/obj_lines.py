"""The lines of Wavefront OBJ text, and the numbers in many lines of one kind at once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.decimal_text import word_starts

__all__ = ["Block", "Lines", "any_floats", "any_integers", "blocks", "split_lines"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ByteArray = NDArray[np.uint8]

NEWLINE, SPACE, TAB, MINUS, SLASH, ZERO, NINE, REMARK = b"\n \t-/09#"

LINES_AT_ONCE = 1 << 14
"""Lines whose numbers are read together: half a megabyte, which the processor's cache holds."""


@dataclass(frozen=True)
class Lines:
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

    def of_word(self, word: bytes) -> IntArray:
        """Indices of the lines that start with `word`, alone or with a blank after it."""
        found = np.flatnonzero(self.ends - self.starts >= len(word))
        for step, letter in enumerate(word):
            found = found[self.text[self.starts[found] + step] == letter]
        after = self.text[self.starts[found] + len(word)]
        return found[(after == SPACE) | (after == TAB) | (after == NEWLINE)]

    def rest(self, line: int, word: bytes) -> str:
        """What stands after the `word` that a line starts with, single blanks between words."""
        text = self.text[self.starts[line] + len(word) : self.ends[line]].tobytes()
        return " ".join(text.decode("utf-8", "replace").split())

    def number(self, line: int) -> int:
        """Line number as an editor counts it (from 1)."""
        before = self.raw[: int(self.starts[line])].replace(b"\r\n", b"\n")
        return before.count(b"\n") + before.count(b"\r") + 1

    def content(self, line: int) -> str:
        """The line as text, shortened for a message."""
        text = self.text[self.starts[line] : self.ends[line]].tobytes()
        shown = text.decode("utf-8", "replace").strip()
        return shown if len(shown) <= 40 else shown[:37] + "..."


def split_lines(data: bytes) -> Lines:
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
    return Lines(text, starts, ends, letters, raw)


@dataclass(frozen=True)
class Block:
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


def blocks(lines: Lines, chosen: IntArray, keyword: int = 1) -> Iterator[Block]:
    """The chosen lines, a few thousand at a time; they start with a word of `keyword` letters."""
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
        for letter in range(keyword):
            text[offsets + letter] = SPACE
        if np.any(text == REMARK):
            blanked = re.sub(rb"#[^\n]*", lambda found: b" " * len(found[0]), text.tobytes())
            text = np.frombuffer(blanked, dtype=np.uint8)
        yield Block(mine, text, offsets, word_starts(text))


def any_floats(text: ByteArray) -> FloatArray:
    """The numbers of a text however they are written; none when one of them is no number."""
    try:
        values: FloatArray = np.fromstring(text.tobytes(), dtype=np.float64, sep=" ")
    except ValueError:
        values = np.zeros(0)
    return values


def any_integers(picked: ByteArray, words: IntArray) -> tuple[IntArray, NDArray[np.bool_]]:
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
