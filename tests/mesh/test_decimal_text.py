"""Reading many numbers at once gives what reading each of them by itself gives."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.decimal_text import decimals, leading_integers, word_ends, word_starts


def text_of(*words):
    return np.frombuffer((" ".join(words) + "\n").encode(), dtype=np.uint8)


def read(*words):
    text = text_of(*words)
    return decimals(text, word_starts(text), word_ends(text))


def test_decimals_are_the_nearest_floats_to_the_last_bit():
    draw = np.random.default_rng(0)
    sizes = 10.0 ** draw.uniform(-4, 5, 5000)
    places = draw.integers(0, 10, 5000)
    pairs = zip(draw.normal(size=5000) * sizes, places, strict=True)
    words = [f"{value:.{count}f}" for value, count in pairs]
    words += ["0", "-0.0", ".5", "-.5", "3.", "9007199254740991", "1.234567890123"]
    assert read(*words).tobytes() == np.array([float(word) for word in words]).tobytes()


@pytest.mark.parametrize(
    "word",
    ["1e5", "1..2", "1.2.3", "--1", "-", ".", "+1", "nan", "1-2", "1.-2", "9007199254740993", "x"],
)
def test_decimals_leave_to_others_what_is_written_otherwise(word):
    assert read("1.0", word, "-2.5") is None


def test_leading_integers_end_at_a_blank_or_a_slash():
    text = text_of("7", "12/3", "345//6", "12345678/1/2")
    assert leading_integers(text, word_starts(text)).tolist() == [7, 12, 345, 12345678]


@pytest.mark.parametrize("word", ["-1", "a", "1a", "1.5", "123456789", "/1"])
def test_leading_integers_leave_to_others_what_is_written_otherwise(word):
    text = text_of("3", word, "1")
    assert leading_integers(text, word_starts(text)) is None
