"""The inside of a .glb or .gltf file: its JSON, and bytes of its buffers as they are asked for.

The general reader of the library that writes our glTF takes what a broken file says on trust and
loads every texture; a skeleton needs the JSON and some kilobytes, so both are read here, bounded
and checked (glTF 2.0, ISO/IEC 12113:2022, sections 3.6 and 4.4).
"""

from __future__ import annotations

import base64
import binascii
import struct
from pathlib import Path
from typing import Any, cast
from urllib.parse import unquote, urlsplit

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.files.joint_record import file_size
from autoplace.files.json_fields import parse_json

__all__ = ["GltfDocument", "finite_row", "whole_number"]

FloatArray = NDArray[np.float64]

LARGEST_JSON = 256 * 2**20
"""Bytes of JSON that are read; a text file may carry its buffers inside. Common practice."""
MAGIC, JSON_CHUNK, BINARY_CHUNK = b"glTF", 0x4E4F534A, 0x004E4942
FLOAT = 5126
VECTOR_KINDS = {FLOAT: ("<f4", 1.0), 5121: ("u1", 255.0), 5123: ("<u2", 65535.0)}
"""Component types of vectors that are read: how a number is stored, and what stands for one."""


class GltfDocument:
    """A file's JSON, with checked access to its lists and buffers.

    Every method raises SkeletonError with the place of what is wrong.
    """

    def __init__(self, path: Path) -> None:
        """Reads the JSON of the file; raises FileMissing or SkeletonError."""
        self._path = path
        self._binary: tuple[int, int] | None = None
        """Where the binary chunk lies in the file: offset and length."""
        size = file_size(path)
        with path.open("rb") as file:
            head = file.read(12)
            if head[:4] == MAGIC:
                text = self._chunks(file, head, size)
            elif path.suffix.lower() == ".glb":
                raise SkeletonError("it does not begin as a binary glTF file does.")
            else:
                self._bound(size)
                text = head + file.read()
        data = parse_json(text.rstrip(b"\0"))  # some writers fill up with zeros
        if not isinstance(data, dict):
            raise SkeletonError("its JSON is no object in braces.")
        self._data: dict[str, Any] = data
        version = self.group("asset").get("version")
        if not (isinstance(version, str) and version.split(".")[0] == "2"):
            raise SkeletonError(f"it is of glTF version {version!r:.20}; export it as glTF 2.0.")

    def _chunks(self, file: Any, head: bytes, size: int) -> bytes:
        if len(head) < 12:
            raise SkeletonError("it breaks off within its first 12 bytes; copy it again.")
        version, length = struct.unpack("<II", head[4:12])
        if version != 2:
            raise SkeletonError(f"it is of binary glTF version {version}; export it as glTF 2.0.")
        if length > size:
            raise SkeletonError(
                f"it breaks off: it should have {length} bytes and has {size}; copy it again."
            )
        text = b""
        at = 12
        while at + 8 <= length:
            file.seek(at)
            chunk, kind = struct.unpack("<II", file.read(8))
            if at + 8 + chunk > length:
                raise SkeletonError(f"its chunk at byte {at} is longer than the file.")
            if at == 12:
                if kind != JSON_CHUNK:
                    raise SkeletonError("its first chunk is not JSON.")
                self._bound(chunk)
                text = file.read(chunk)
            elif kind == BINARY_CHUNK and self._binary is None:
                self._binary = (at + 8, chunk)
            at += 8 + chunk
        if not text:
            raise SkeletonError("it holds no JSON.")
        return text

    @staticmethod
    def _bound(size: int) -> None:
        if size > LARGEST_JSON:
            raise SkeletonError(
                f"its JSON is {size / 2**20:.0f} MB, more than the {LARGEST_JSON // 2**20} MB "
                "that are read; export it as .glb, without the meshes."
            )

    def group(self, key: str) -> dict[str, Any]:
        """The object of that name, empty if it is not there."""
        value = self._data.get(key, {})
        if not isinstance(value, dict):
            raise SkeletonError(f"{key} is no object in braces.")
        return value

    def entries(self, key: str) -> list[dict[str, Any]]:
        """The list of objects of that name, empty if it is not there."""
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise SkeletonError(f"{key} is no list of objects.")
        return cast("list[dict[str, Any]]", value)

    def matrices(self, index: Any, count: int, place: str) -> FloatArray:
        """(count, 4, 4) the first matrices of an accessor, for column vectors."""
        accessor = self.entry("accessors", index, place)
        place = f"accessors[{index}]"
        if accessor.get("componentType") != FLOAT or accessor.get("type") != "MAT4":
            raise SkeletonError(f"{place} should hold float matrices (MAT4).")
        if whole_number(accessor.get("count"), place) < count:
            raise SkeletonError(
                f"{place} has {accessor['count']} matrices for {count} joints; export it again."
            )
        columns = self._rows(accessor, 64, count, place).view("<f4").reshape(count, 4, 4)
        columns = columns.astype(np.float64)
        if not np.all(np.isfinite(columns)):
            raise SkeletonError(f"{place} holds a matrix with a value that is not finite.")
        return np.swapaxes(columns, 1, 2)

    def vectors(self, index: Any, count: int, width: int, place: str) -> FloatArray:
        """(count, width) an accessor of as many vectors, whose numbers are not checked."""
        accessor = self.entry("accessors", index, place)
        place = f"accessors[{index}]"
        kind = accessor.get("componentType")
        if kind not in VECTOR_KINDS or accessor.get("type") != f"VEC{width}":
            raise SkeletonError(f"{place} should hold vectors of {width} numbers (VEC{width}).")
        if whole_number(accessor.get("count"), place) != count:
            raise SkeletonError(f"{place} has not as many entries as there are vertices.")
        number, whole = VECTOR_KINDS[kind]
        rows = self._rows(accessor, width * np.dtype(number).itemsize, count, place)
        return rows.view(number).reshape(count, width).astype(np.float64) / whole

    def view(self, index: Any, most: int, place: str) -> bytes:
        """The bytes of a view of a buffer, of which there may not be more than `most`."""
        view = self.entry("bufferViews", index, place)
        place = f"bufferViews[{index}]"
        count = whole_number(view.get("byteLength"), place)
        if count > most:
            raise SkeletonError(f"{place} is larger than the {most // 2**20} MB that are taken.")
        start = whole_number(view.get("byteOffset", 0), place)
        return self._bytes(view.get("buffer"), start, count, place)

    def _rows(
        self, accessor: dict[str, Any], width: int, count: int, place: str
    ) -> NDArray[np.uint8]:
        """(count, width) the bytes of the first entries of an accessor, each of `width` bytes."""
        if "sparse" in accessor or "bufferView" not in accessor:
            raise SkeletonError(f"{place} has no plain values; export the file again.")
        view = self.entry("bufferViews", accessor["bufferView"], place)
        inner = whole_number(accessor.get("byteOffset", 0), place)
        place = f"bufferViews[{accessor['bufferView']}]"
        stride = whole_number(view.get("byteStride", width), place)
        if stride < width:
            raise SkeletonError(f"{place} has entries closer together than their size.")
        span = (count - 1) * stride + width if count else 0
        if inner + span > whole_number(view.get("byteLength"), place):
            raise SkeletonError(f"{place} ends before its last entry; export the file again.")
        start = whole_number(view.get("byteOffset", 0), place) + inner
        data = self._bytes(view.get("buffer"), start, span, place)
        rows = np.lib.stride_tricks.as_strided(
            np.frombuffer(data, np.uint8), (count, width), (stride, 1)
        )
        return np.ascontiguousarray(rows)

    def entry(self, key: str, index: Any, place: str) -> dict[str, Any]:
        """One object of a list."""
        entries = self.entries(key)
        number = whole_number(index, place)
        if number >= len(entries):
            raise SkeletonError(f"{place} points at {key}[{number}], which is not there.")
        return entries[number]

    def _bytes(self, index: Any, start: int, count: int, place: str) -> bytes:
        buffer = self.entry("buffers", index, place)
        place = f"buffers[{index}]"
        uri = buffer.get("uri")
        if uri is None:
            if self._binary is None or index != 0:
                raise SkeletonError(f"{place} has no data; export the file again.")
            offset, length = self._binary
            return self._part(self._path, offset, length, start, count, place)
        if not isinstance(uri, str):
            raise SkeletonError(f"{place}.uri is no text.")
        if uri.startswith("data:"):
            try:
                data = base64.b64decode(uri.partition(",")[2], validate=True)
            except (binascii.Error, ValueError) as mistake:
                raise SkeletonError(f"{place} is not base64 ({mistake}).") from mistake
            if start + count > len(data):
                raise SkeletonError(f"{place} ends before the data it should hold.")
            return data[start : start + count]
        other = self._beside(uri, place)
        return self._part(other, 0, file_size(other), start, count, place)

    def _beside(self, uri: str, place: str) -> Path:
        """The file a buffer names, which must lie in the folder of this one or below it."""
        name = unquote(uri)
        folder = self._path.parent.resolve()
        outside = SkeletonError(
            f"{place} is '{uri[:80]}', which is not a file in the folder of this one: put it there."
        )
        if urlsplit(uri).scheme or "\0" in name or "\\" in name:
            raise outside
        try:
            other = (folder / name).resolve()
            if not (other.is_relative_to(folder) and other.is_file()):
                raise outside
        except OSError as reason:
            raise outside from reason
        return other

    @staticmethod
    def _part(path: Path, offset: int, length: int, start: int, count: int, place: str) -> bytes:
        if start + count > length:
            raise SkeletonError(f"{place} ends before the data it should hold; copy it again.")
        with path.open("rb") as file:
            file.seek(offset + start)
            return file.read(count)


def whole_number(value: Any, place: str) -> int:
    """A whole number of at least zero, or SkeletonError."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise SkeletonError(f"{place} holds {value!r:.40} where a whole number should be.")
    return value


def finite_row(value: Any, count: int, place: str) -> FloatArray:
    """(count,) finite numbers, or SkeletonError."""
    if (
        not isinstance(value, list)
        or len(value) != count
        or any(isinstance(v, bool) or not isinstance(v, int | float) for v in value)
    ):
        raise SkeletonError(f"{place} should be {count} numbers.")
    try:
        row = np.array(value, dtype=np.float64)
    except OverflowError as mistake:
        raise SkeletonError(f"{place} holds a number out of range.") from mistake
    if not np.all(np.isfinite(row)) or np.abs(row).max() > 1e30:
        raise SkeletonError(f"{place} holds a number out of range.")
    return row
