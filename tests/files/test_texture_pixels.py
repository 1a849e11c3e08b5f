"""Pictures joined and averaged, within limits."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from autoplace.files.looks import Texture
from autoplace.files.texture_file import TextureError
from autoplace.files.texture_pixels import MOST_PIXELS, TexturePixels


def texture(rows, name="a"):
    file = io.BytesIO()
    picture = rows if isinstance(rows, Image.Image) else Image.fromarray(np.asarray(rows))
    picture.save(file, "PNG")
    return Texture(name, "image/png", file.getvalue())


def pixels(found):
    return np.asarray(Image.open(io.BytesIO(found.data)))


def test_a_channel_that_is_not_given_is_white():
    """Roughness alone is in green; metal is then what its number says."""
    found = TexturePixels().joined_metal_rough(texture(np.full((1, 2), 7, np.uint8)), None)
    assert pixels(found).tolist() == [[[255, 7, 255]] * 2]
    assert found.name == "a"


def test_sixteen_bits_keep_their_upper_half():
    """25700 of 65535 is 100 of 255; white stays white."""
    rows = np.array([[25700, 65535]], dtype=np.uint16)
    found = TexturePixels().joined_metal_rough(None, texture(rows))
    assert pixels(found)[0, :, 2].tolist() == [100, 255]


@pytest.mark.parametrize(("value", "light"), [(0, 0.0), (188, 0.5029), (255, 1.0)])
def test_the_mean_is_of_light_and_not_of_numbers(value, light):
    """sRGB 188 is half the light (IEC 61966-2-1, worked out by hand); transparency is not seen."""
    rows = np.full((2, 2, 4), value, dtype=np.uint8)
    assert TexturePixels().mean_colour(texture(rows)) == pytest.approx((light,) * 3, abs=1e-4)


def test_pictures_that_are_too_large_are_not_unpacked():
    """A black picture of some kilobytes with more pixels than are taken; and many that are small
    enough each by itself."""
    wide = texture(Image.new("1", (MOST_PIXELS // 1024 + 1, 1024)))
    assert len(wide.data) < 100_000
    with pytest.raises(TextureError, match="more than the 67,108,864 pixels"):
        TexturePixels().joined_metal_rough(wide, None)
    assert TexturePixels().mean_colour(wide) == (1.0, 1.0, 1.0)
    taken = TexturePixels()
    taken._left = 9
    assert taken.mean_colour(texture(np.zeros((3, 3), np.uint8))) == (0.0, 0.0, 0.0)
    with pytest.raises(TextureError, match="for a mesh"):
        taken.joined_metal_rough(texture(np.zeros((1, 1), np.uint8)), None)
