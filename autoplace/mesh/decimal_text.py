"""Numbers written in text, many at once: eight digits are read in one step of 64-bit arithmetic.

Eight characters are taken as one integer of 64 bits; neighbouring digits are joined to numbers of
two digits, these to numbers of four and of eight, in every word of a block at the same time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["decimals", "leading_integers", "word_ends", "word_starts"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ByteArray = NDArray[np.uint8]

SPACE, MINUS, POINT, SLASH, ZERO = b" -./0"
STEP = 8
"""Digits read at once."""
POWERS = 10.0 ** np.arange(2 * STEP + 1)
WHOLE_POWERS = 10 ** np.arange(STEP + 1, dtype=np.uint64)
EXACT = 2**53
"""Whole numbers below are exact as floats, as are powers of ten up to 10^22: one divided by the
other is then rounded once, and so is the number nearest to what was written."""


def word_starts(text: ByteArray) -> IntArray:
    """Byte index of the first character of every word; words are parted by blanks."""
    blank = text <= SPACE
    begins = ~blank
    begins[1:] &= blank[:-1]
    return np.flatnonzero(begins)


def word_ends(text: ByteArray) -> IntArray:
    """Byte index after the last character of every word, in a text that ends with a blank."""
    blank = text <= SPACE
    return np.flatnonzero(blank[1:] > blank[:-1]) + 1


def decimals(text: ByteArray, starts: IntArray, ends: IntArray) -> FloatArray | None:
    """(k,) the numbers nearest to the words of a text, such as `-0.25`, `17` and `3.`

    Args:
        text: bytes. starts, ends: (k,) where its words begin and end.

    None when any word is written otherwise (with an exponent) or has too many digits for this way.
    """
    if not len(starts):
        return np.zeros(0)
    negative = text[starts] == MINUS
    begins = starts + negative
    points = np.flatnonzero(text == POINT)
    if len(points) == len(starts) and np.all(points >= begins) and np.all(points < ends):
        after = points + 1
    else:
        word = np.searchsorted(starts, points, side="right") - 1
        if np.any(word[1:] == word[:-1]):
            return None  # two points in a word
        points, found = ends.copy(), points
        points[word] = found
        after = np.minimum(points + 1, ends)
    whole, part = points - begins, ends - after
    fits = max(int(whole.max()), int(part.max())) <= 2 * STEP and int((whole + part).min()) >= 1
    digits = np.count_nonzero(text - ZERO < 10)
    if not fits or digits != int(whole.sum() + part.sum()):
        return None
    large, small = _digits(text, points, whole), _digits(text, ends, part)
    power = POWERS[part]
    values: FloatArray = large.astype(np.float64)
    values *= power
    values += small
    if float(values.max()) >= EXACT:
        return None
    values /= power
    np.negative(values, out=values, where=negative)
    return values


def leading_integers(text: ByteArray, starts: IntArray) -> IntArray | None:
    """(k,) the whole number that each word of a text starts with, up to its end or a slash.

    Args:
        text: bytes, ending with a blank. starts: (k,) where its words begin.

    None when any word starts otherwise, with a sign for one, or has too many digits for this way.
    """
    digit = text - ZERO < 10
    change = digit[1:] != digit[:-1]
    borders = np.flatnonzero(change) + 1
    if len(digit) and digit[0]:
        borders = np.concatenate(([0], borders))
    begins, ends = borders[0::2], borders[1::2]
    if len(begins) != len(starts):
        first = (begins == 0) | (text[begins - 1] <= SPACE)
        begins, ends = begins[first], ends[first]
    if len(begins) != len(starts) or not np.array_equal(begins, starts):
        return None
    stop = text[ends]
    length = ends - begins
    if not np.all((stop <= SPACE) | (stop == SLASH)) or int(length.max(initial=0)) > STEP:
        return None
    return _digits(text, ends, length).astype(np.int64)


def _digits(text: ByteArray, ends: IntArray, length: IntArray) -> NDArray[np.uint64]:
    """(k,) the number that `length` digits, at most sixteen, before each of `ends` make."""
    # eight zeros before it, for words at the beginning of the text
    padded = np.concatenate([np.full(2 * STEP, ZERO, dtype=np.uint8), text])
    eights = np.ndarray((len(padded) - STEP + 1,), "<u8", padded, 0, (1,))
    last = ends + STEP
    value = _eight(eights[last], np.minimum(length, STEP))
    if int(length.max()) > STEP:
        more = _eight(eights[last - STEP], np.maximum(length - STEP, 0))
        value += more * WHOLE_POWERS[STEP]
    return value


def _eight(taken: NDArray[np.uint64], length: IntArray) -> NDArray[np.uint64]:
    """(k,) the number of the last `length` of eight characters, the first in the lowest byte."""
    # in two halves, since a shift by all 64 bits is not defined
    half: NDArray[np.uint64] = (4 * (STEP - length)).astype(np.uint64)
    value: NDArray[np.uint64] = ((taken >> half) >> half) << half << half
    value &= np.uint64(0x0F0F0F0F0F0F0F0F)
    value = (value * np.uint64(10) + (value >> np.uint64(8))) & np.uint64(0x00FF00FF00FF00FF)
    value = (value * np.uint64(100) + (value >> np.uint64(16))) & np.uint64(0x0000FFFF0000FFFF)
    return (value * np.uint64(10000) + (value >> np.uint64(32))) & np.uint64(0xFFFFFFFF)
