"""What needs the pixels of a texture: two joined to one, and its mean colour."""

from __future__ import annotations

import io
import warnings
from typing import Any

import numpy as np

from autoplace.files.looks import Texture
from autoplace.files.texture_file import TextureError

__all__ = ["joined_metal_rough", "mean_colour"]

MOST_PIXELS = 8192 * 8192
"""Of a picture that is unpacked; more take more memory than a machine is sure to have."""


def joined_metal_rough(rough: Texture | None, metal: Texture | None) -> Texture:
    """One picture with the luminance of one in green and of the other in blue, as glTF has it.

    Of two sizes the larger is taken; where one is None its channel is white. Raises TextureError
    when one cannot be unpacked.
    """
    from PIL import Image

    given = [texture for texture in (rough, metal) if texture is not None]
    grey = {texture: _grey(_opened(texture)) for texture in given}
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


def mean_colour(texture: Texture) -> tuple[float, float, float]:
    """Linear red, green, blue of the mean light of all pixels, which hold what a screen shows
    (sRGB, IEC 61966-2-1); white when the picture cannot be unpacked."""
    try:
        counts = np.array(_opened(texture).convert("RGB").histogram()).reshape(3, 256)
    except (TextureError, OSError):
        return (1.0, 1.0, 1.0)
    shown = np.arange(256) / 255.0
    light = np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
    red, green, blue = (counts @ light / counts.sum(axis=1)).tolist()
    return (red, green, blue)


def _opened(texture: Texture) -> Any:
    """The picture, unpacked; raises TextureError."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(texture.data), formats=("PNG", "JPEG"))
            if picture.width * picture.height > MOST_PIXELS:
                raise TextureError("has more pixels than are unpacked")
            picture.load()
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as reason:
        if isinstance(reason, TextureError):
            raise
        raise TextureError("is damaged") from reason
    return picture


def _grey(picture: Any) -> Any:
    """Luminance in eight bits."""
    from PIL import Image

    if picture.mode.startswith("I"):  # sixteen bits, which would be cut off at the top
        return Image.fromarray((np.asarray(picture) // 256).clip(0, 255).astype(np.uint8))
    return picture.convert("L")
