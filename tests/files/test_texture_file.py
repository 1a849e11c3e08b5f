"""Which pictures are taken over, from where, and what of them."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from autoplace.files.texture_file import (
    LARGEST_TEXTURE,
    LARGEST_TOTAL,
    TextureError,
    TextureShelf,
    file_beside,
)
from tests.files.textured_cube import picture


def taken(data: bytes):
    return TextureShelf().texture(0, "a", lambda: data)


@pytest.mark.parametrize(("kind", "media"), [("PNG", "image/png"), ("JPEG", "image/jpeg")])
def test_pictures_keep_their_pixels(kind, media):
    """Pillow reads the same pixels before and after."""
    texture = taken(picture(kind))
    assert texture.kind == media
    before, after = Image.open(io.BytesIO(picture(kind))), Image.open(io.BytesIO(texture.data))
    assert np.array_equal(before, after)


def test_of_a_png_only_what_makes_its_pixels_is_taken():
    """Texts, gamma and resolution stay behind; transparency of a palette stays."""
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Author", "somebody")
    file = io.BytesIO()
    image = Image.new("P", (4, 4))
    image.info["gamma"] = 0.5
    image.save(file, "PNG", pnginfo=texts, dpi=(72, 30), transparency=b"\x10")
    assert b"somebody" in file.getvalue()
    data = taken(file.getvalue()).data
    assert b"somebody" not in data
    assert b"pHYs" not in data
    again = Image.open(io.BytesIO(data))
    assert again.convert("RGBA").getpixel((0, 0))[3] == 0x10


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_pictures_that_break_off_are_refused(kind):
    """At whatever byte of its beginning; a JPEG may end early once its size is told."""
    whole = picture(kind)
    ends = range(len(whole)) if kind == "PNG" else range(150)
    for end in ends:
        with pytest.raises(TextureError):
            taken(whole[:end])


def test_a_png_with_a_wrong_check_sum_or_no_size_is_refused():
    """A picture of no pixels is none."""
    whole = bytearray(picture())
    whole[45] ^= 1
    with pytest.raises(TextureError, match="damaged"):
        taken(bytes(whole))
    with pytest.raises(TextureError, match="damaged"):
        taken(picture()[:16] + bytes(4) + picture()[20:])


@pytest.mark.parametrize(
    "data", [b"", b"GIF89a", b"<svg/>", b"\xff\xd8\xff", b"\xff\xd8" + b"\xff" * 99]
)
def test_other_files_are_refused(data):
    """Told by their first bytes, whatever their name is."""
    with pytest.raises(TextureError):
        taken(data)


def test_too_large_pictures_are_refused():
    """Each by itself, and all together."""
    with pytest.raises(TextureError, match="64 MB"):
        taken(bytes(LARGEST_TEXTURE + 1))
    shelf = TextureShelf()
    shelf._left = 2 * len(picture()) - 1
    shelf.texture("a", "a", picture)
    assert shelf.texture("a", "a", lambda: b"") == shelf.texture("a", "a", picture)
    for name in ("b", "c"):
        with pytest.raises(TextureError, match=f"{LARGEST_TOTAL // 2**20} MB"):
            shelf.texture(name, name, picture)


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "../a.png",
        "b/../../a.png",
        "/a.png",
        "\\a.png",
        "C:\\a.png",
        "..\\a.png",
        "b",
        "http://a/a.png",
        "file:///a.png",
        "a\0.png",
        "no.png",
        "x" * 5000,
    ],
)
def test_only_files_in_the_folder_are_found(tmp_path, name):
    """Nothing above it, no whole paths, no addresses, no folders."""
    (tmp_path / "a.png").write_bytes(b"")
    folder = tmp_path / "home"
    (folder / "b").mkdir(parents=True)
    with pytest.raises(TextureError):
        file_beside(folder, name)


def test_files_in_folders_below_are_found(tmp_path):
    """With either slash."""
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "a.png").write_bytes(b"")
    for name in ("b/a.png", "b\\a.png", "./b/a.png"):
        assert file_beside(tmp_path, name) == (tmp_path / "b" / "a.png").resolve()
