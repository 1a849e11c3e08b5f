"""What needs the pixels of textures: two joined to one, and a mean colour.

A picture of some kilobytes can hold a thousand million pixels, so only as many are unpacked as the
limits here allow.
"""

from __future__ import annotations

import io
import warnings
from typing import Any

import numpy as np

from autoplace.files.looks import Texture
from autoplace.files.texture_file import TextureError

__all__ = ["MOST_PIXELS", "TexturePixels"]

MOST_PIXELS = 8192 * 8192
"""Of a picture that is unpacked: 0.3 GB with four channels."""
MOST_IN_ALL = 4 * MOST_PIXELS
"""Pixels unpacked for one mesh, which takes some seconds."""

Colour = tuple[float, float, float]


class TexturePixels:
    """Unpacks the pictures of one mesh, within the limits."""

    def __init__(self) -> None:
        """Nothing is unpacked yet."""
        self._left = MOST_IN_ALL
        self._joined: dict[tuple[Texture | None, Texture | None], Texture] = {}
        self._means: dict[bytes, Colour] = {}

    def joined_metal_rough(self, rough: Texture | None, metal: Texture | None) -> Texture:
        """One picture with the luminance of `rough` in green and of `metal` in blue, as glTF has
        it; wraps as the first of them.

        Of two sizes the larger is taken; where one is None its channel is white. Raises
        TextureError when one cannot be unpacked.
        """
        if (rough, metal) not in self._joined:
            self._joined[rough, metal] = self._join(rough, metal)
        return self._joined[rough, metal]

    def mean_colour(self, texture: Texture) -> Colour:
        """Linear red, green, blue of the mean light of all pixels, which hold what a screen shows
        (sRGB, IEC 61966-2-1); white when the picture cannot be unpacked."""
        if texture.data not in self._means:
            try:
                self._means[texture.data] = _mean(self._opened(texture))
            except TextureError:
                self._means[texture.data] = (1.0, 1.0, 1.0)
        return self._means[texture.data]

    def _join(self, rough: Texture | None, metal: Texture | None) -> Texture:
        from PIL import Image

        given = [texture for texture in (rough, metal) if texture is not None]
        grey = {texture: _grey(self._opened(texture)) for texture in given}
        size = max((picture.size for picture in grey.values()), key=lambda s: (s[0] * s[1], s))
        white = Image.new("L", size, 255)
        channels = [
            white if t is None else grey[t].resize(size, Image.Resampling.BILINEAR)
            for t in (None, rough, metal)
        ]
        file = io.BytesIO()
        Image.merge("RGB", channels).save(file, "PNG")
        name = "_".join(dict.fromkeys(texture.name for texture in given))
        return Texture(name, "image/png", file.getvalue(), given[0].wrap)

    def _opened(self, texture: Texture) -> Any:
        """The picture, unpacked; raises TextureError."""
        from PIL import Image

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", Image.DecompressionBombWarning)
                picture = Image.open(io.BytesIO(texture.data), formats=("PNG", "JPEG"))
                pixels = picture.width * picture.height
                if pixels > MOST_PIXELS:
                    raise TextureError(
                        f"has more than the {MOST_PIXELS:,} pixels that are unpacked"
                    )
                self._left -= pixels
                if self._left < 0:
                    raise TextureError(
                        f"goes beyond the {MOST_IN_ALL:,} pixels that are unpacked for a mesh"
                    )
                picture.load()
        except TextureError:
            raise
        except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as reason:
            raise TextureError("is damaged") from reason
        return picture


def _mean(picture: Any) -> Colour:
    counts = np.array(picture.convert("RGB").histogram()).reshape(3, 256)
    shown = np.arange(256) / 255.0
    light = np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
    red, green, blue = (counts @ light / counts.sum(axis=1)).tolist()
    return (red, green, blue)


def _grey(picture: Any) -> Any:
    """Luminance in eight bits."""
    from PIL import Image

    if picture.mode.startswith("I"):  # sixteen bits, which would be cut off at the top
        return Image.fromarray((np.asarray(picture) // 256).clip(0, 255).astype(np.uint8))
    return picture.convert("L")
