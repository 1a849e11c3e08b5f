"""Binary OpenUSD files that claim more than they can hold are refused before they are opened."""

from __future__ import annotations

import struct
import zipfile

import pytest

from autoplace.errors import SkeletonError
from autoplace.files.usd_claims import refuse_false_claims
from autoplace.files.usd_joints import read_usd_joints
from tests.figures import standard_skeleton
from tests.files.foreign_files import write_usd


@pytest.fixture(scope="module")
def crate(tmp_path_factory):
    """The bytes of a file that the library wrote, and where its table of contents stands."""
    data = write_usd(standard_skeleton(), tmp_path_factory.mktemp("usd") / "a.usdc").read_bytes()
    return data, struct.unpack_from("<q", data, 16)[0]


def assert_refused(folder, data, name="a.usdc", words=r"export it again|may be"):
    path = folder / name
    path.write_bytes(data)
    with pytest.raises(SkeletonError, match=words):
        refuse_false_claims(path)
    with pytest.raises(SkeletonError, match=words):
        read_usd_joints(path)


def test_what_the_library_writes_passes(tmp_path, crate):
    """A sound file is left to the library, alone and in a package."""
    (tmp_path / "a.usdc").write_bytes(crate[0])
    assert len(read_usd_joints(tmp_path / "a.usdc").names) == len(standard_skeleton())
    with zipfile.ZipFile(tmp_path / "a.usdz", "w") as package:
        package.write(tmp_path / "a.usdc", "a.usdc")
    refuse_false_claims(tmp_path / "a.usdz")


@pytest.mark.parametrize("packed", [False, True])
def test_more_sections_than_the_file_has_room_for(tmp_path, crate, packed):
    """Twelve million sections, for which the library would take 380 MB."""
    data = bytearray(crate[0])
    struct.pack_into("<Q", data, crate[1], 12_578_764)
    if packed:
        with zipfile.ZipFile(tmp_path / "a.usdz", "w") as package:
            package.writestr("a.usdc", bytes(data))
        data = (tmp_path / "a.usdz").read_bytes()
    assert_refused(tmp_path, data, "a.usdz" if packed else "a.usdc")


@pytest.mark.parametrize("row", [0, 2, 3, 4, 5])  # the second, of strings, is too short
def test_more_entries_than_a_section_has_room_for(tmp_path, crate, row):
    """A section of some hundred bytes does not hold four thousand million entries."""
    data = bytearray(crate[0])
    section, length = struct.unpack_from("<qq", data, crate[1] + 8 + 32 * row + 16)
    assert length >= 24
    struct.pack_into("<Q", data, section, 2**32)
    assert_refused(tmp_path, data, words="claims 4294967296 entries")


def test_letters_that_unpack_without_end(tmp_path, crate):
    """The names of a file cannot be more than 255 times as long as they are packed."""
    data = bytearray(crate[0])
    section = struct.unpack_from("<q", data, crate[1] + 8 + 16)[0]
    struct.pack_into("<Q", data, section + 8, 2**40)
    assert_refused(tmp_path, data, words="letters in")


def test_a_compressed_package(tmp_path, crate):
    """A .usdz keeps its files as they are; one that does not could unpack to any size."""
    with zipfile.ZipFile(tmp_path / "b.usdz", "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("a.usdc", crate[0])
    assert_refused(tmp_path, (tmp_path / "b.usdz").read_bytes(), "a.usdz", "compressed")
