"""Bytes of PNG files, read back by another reader than ours."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from autoplace.show.png import png_bytes


@pytest.mark.parametrize("size", [(1, 1), (1, 7), (5, 1), (37, 23)])
def test_a_picture_is_read_back_as_it_was(size):
    """Every pixel of a noisy picture comes back, at any size, and its checksums hold."""
    picture = np.random.default_rng(3).integers(0, 256, (*size, 3), dtype=np.uint8)
    with Image.open(io.BytesIO(png_bytes(picture, {}))) as read:
        assert read.mode == "RGB"
        np.testing.assert_array_equal(np.asarray(read), picture)
    with Image.open(io.BytesIO(png_bytes(picture, {}))) as read:
        read.verify()


def test_texts_are_read_back():
    """Text entries stand in the file under their keywords."""
    picture = np.zeros((2, 2, 3), dtype=np.uint8)
    with Image.open(io.BytesIO(png_bytes(picture, {"Software": "a", "Title": "hân"}))) as read:
        assert read.info == {"Software": "a", "Title": "hân"}
