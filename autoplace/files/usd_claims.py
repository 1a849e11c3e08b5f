"""What a binary OpenUSD file claims to hold, held against its size, before its library opens it.

The library sets memory aside for as many sections and entries as the file names. The layout is that
of the binary "crate" format of OpenUSD: magic, version and the place of a table of contents; in the
table a count and for each section 16 letters, start and size; at the head of a section its number
of entries (from memory, and seen in files that the library wrote).
"""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path
from typing import BinaryIO

from autoplace.errors import SkeletonError

__all__ = ["refuse_false_claims"]

MAGIC = b"PXR-USDC"
ROW = 32
"""Bytes of a section in the table of contents."""
MOST_PER_BYTE = 1024
"""Entries that a byte can stand for at most: four to a byte before a compression that can make one
byte of 255 at best (LZ4 block format)."""
MOST_ENTRIES = 20_000_000
"""Of one section; a whole character has some hundred thousand. Common practice, no source."""
CUT = "it is broken or breaks off; export it again."


def refuse_false_claims(path: Path) -> None:
    """Raises SkeletonError where a file claims more than it can hold, in words after a colon.

    Text, and what is no such file at all, is left to the library.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(len(MAGIC))
        if head == MAGIC:
            _check(file, 0, size)
        elif head.startswith(b"PK"):
            for start, length in _packed(file, size):
                file.seek(start)
                if file.read(len(MAGIC)) == MAGIC:
                    _check(file, start, length)


def _packed(file: BinaryIO, size: int) -> list[tuple[int, int]]:
    """Start and length of each file in a .usdz, which the format keeps as they are."""
    found = []
    try:
        with zipfile.ZipFile(file) as package:
            for entry in package.infolist():
                if entry.compress_type != zipfile.ZIP_STORED:
                    raise SkeletonError("it is compressed inside, as no .usdz may be.")
                names = _numbers(file, "<HH", entry.header_offset + 26, size)
                start = entry.header_offset + 30 + sum(names)
                if start + entry.file_size > size:
                    raise SkeletonError(CUT)
                found.append((start, entry.file_size))
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError) as reason:
        raise SkeletonError(CUT) from reason
    return found


def _check(file: BinaryIO, start: int, size: int) -> None:
    """Looks at the table of contents and the head of each section."""
    (table,) = _numbers(file, "<q", 16, size, start)
    (count,) = _numbers(file, "<Q", table, size, start)
    if count * ROW > size - table:
        raise SkeletonError(CUT)
    for row in range(count):
        section, length = _numbers(file, "<qq", table + 8 + ROW * row + 16, size, start)
        if section < 0 or length < 0 or section + length > size:
            raise SkeletonError(CUT)
        if length < 24:
            continue
        entries, letters, packed = _numbers(file, "<QQQ", section, size, start)
        if entries > min(MOST_ENTRIES, MOST_PER_BYTE * length):
            raise SkeletonError(f"it claims {entries} entries in {length} bytes; export it again.")
        file.seek(start + table + 8 + ROW * row)
        if file.read(16).rstrip(b"\0") == b"TOKENS" and (packed > length or letters > 256 * packed):
            raise SkeletonError(f"it claims {letters} letters in {packed} bytes; export it again.")


def _numbers(file: BinaryIO, form: str, at: int, size: int, start: int = 0) -> tuple[int, ...]:
    """Numbers at a place of a file of that size, which begins at `start`."""
    if not 0 <= at <= size - struct.calcsize(form):
        raise SkeletonError(CUT)
    file.seek(start + at)
    return struct.unpack(form, file.read(struct.calcsize(form)))
