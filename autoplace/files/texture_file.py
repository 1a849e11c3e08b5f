"""Textures taken over from beside a mesh, as bytes: which are, and what is left out of them.

Only PNG and JPEG are taken, which is what glTF allows (ISO/IEC 12113:2022, 3.8.3), and only from
the folder of the mesh or below it, since a mesh from elsewhere must not make a run hand out other
files. They are not unpacked, so a picture that is large when unpacked costs nothing here.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Hashable
from pathlib import Path

from autoplace.files.looks import Texture

__all__ = ["LARGEST_TEXTURE", "TextureError", "TextureShelf", "file_beside", "start_of"]

LARGEST_TEXTURE = 64 * 2**20
"""Bytes of a picture that is taken; 8192 x 8192 pixels as PNG seldom need more (common practice, no
source)."""
LARGEST_TOTAL = 256 * 2**20
"""Bytes that are read for all pictures of a mesh."""
PNG, JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"
PIXELS = {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"}
"""Chunks of a PNG that make its pixels. Others tell of colour spaces, which readers of glTF must
pass over (3.9.2), of dates, authors and other frames."""


class TextureError(ValueError):
    """Why a picture is not taken: words that go on from its name."""


def file_beside(folder: Path, name: str) -> Path:
    """The file of that relative name, in the folder or below it.

    Raises TextureError for any other place, also one that a link leads to, and when there is none.
    """
    plain = name.strip().replace("\\", "/")
    words = plain.split("/")
    if "\0" in plain or ":" in plain or plain.startswith("/") or ".." in words:
        raise TextureError("is not named by a place in the folder of the mesh")
    try:
        home = folder.resolve()
        path = (home / plain).resolve()
        if not path.is_relative_to(home):
            raise TextureError("does not lie in the folder of the mesh")
        if not path.is_file():
            raise TextureError("is not there")
    except (OSError, RuntimeError) as reason:  # a name too long, links in a circle
        raise TextureError("cannot be opened") from reason
    return path


def start_of(path: Path, most: int) -> bytes:
    """The file's bytes, one more than `most` at most; raises TextureError."""
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as reason:
        raise TextureError("cannot be opened") from reason


class TextureShelf:
    """Pictures that are taken, each once, and no more than `LARGEST_TOTAL` read for them."""

    def __init__(self) -> None:
        """An empty shelf."""
        self._left = LARGEST_TOTAL
        self._taken: dict[Hashable, Texture | TextureError] = {}

    def texture(self, key: Hashable, name: str, read: Callable[[], bytes]) -> Texture:
        """The picture of that key, read when it is first asked for.

        Raises TextureError when it cannot be taken.
        """
        if key not in self._taken:
            try:
                self._taken[key] = _texture_of(self._within(read), name)
            except TextureError as reason:
                self._taken[key] = reason
        found = self._taken[key]
        if isinstance(found, TextureError):
            raise found
        return found

    def _within(self, read: Callable[[], bytes]) -> bytes:
        """The bytes, while there is room; they count whether a picture comes of them or not, and
        nothing is read any more once it is full."""
        if self._left > 0:
            data = read()
            self._left -= len(data)
            if self._left >= 0:
                return data
        raise TextureError(f"goes beyond the {LARGEST_TOTAL // 2**20} MB that are read for a mesh")


def _texture_of(data: bytes, name: str) -> Texture:
    """A picture from the bytes of its file; raises TextureError when it cannot be taken."""
    if len(data) > LARGEST_TEXTURE:
        raise TextureError(f"is larger than the {LARGEST_TEXTURE // 2**20} MB that are taken")
    if data.startswith(PNG):
        return Texture(name, "image/png", _pixels_of_png(data))
    if data.startswith(JPEG):
        _check_jpeg(data)
        return Texture(name, "image/jpeg", data)
    raise TextureError("is neither PNG nor JPEG, which glTF needs")


def _pixels_of_png(data: bytes) -> bytes:
    """The file with the chunks of its pixels only (PNG, W3C 2003, section 5)."""
    kept, at, kind, kinds = [PNG], len(PNG), b"", []
    while at + 12 <= len(data) and kind != b"IEND":
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        end = at + 12 + length
        if end > len(data):
            break
        if kind == b"IHDR" and not (
            length == 13 and all(struct.unpack(">II", data[at + 8 : at + 16]))
        ):
            break
        if kind in PIXELS:
            (check,) = struct.unpack(">I", data[end - 4 : end])
            if check != zlib.crc32(data[at + 4 : end - 4]):
                raise TextureError("is damaged")
            kept.append(data[at:end])
            kinds.append(kind)
        at = end
    if kinds[:1] != [b"IHDR"] or b"IDAT" not in kinds or kinds[-1] != b"IEND":
        raise TextureError("is damaged or breaks off")
    return b"".join(kept)


def _check_jpeg(data: bytes) -> None:
    """TextureError unless there is a frame header before the picture's data (ITU-T T.81, B.1)."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        kind = data[at + 1]
        if kind == 0xFF:  # fill bytes
            at += 1
            continue
        if 0xC0 <= kind <= 0xCF and kind not in (0xC4, 0xC8, 0xCC):
            if at + 9 <= len(data) and all(struct.unpack(">HH", data[at + 5 : at + 9])):
                return
            break
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    raise TextureError("is damaged or breaks off")
