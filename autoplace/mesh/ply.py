"""Reads PLY files, text and binary, into vertices and polygons.

Why not the general loader: measured with trimesh 5.2, a binary file that mixes triangles and
larger polygons (what modelling programs write) is refused as being of unexpected length, and where
polygons are read they come out as triangles in another order, without their numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import BadGeometry, NotAMesh

__all__ = ["PlyContent", "read_ply"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TYPES = {
    "char": "i1",
    "int8": "i1",
    "uchar": "u1",
    "uint8": "u1",
    "short": "i2",
    "int16": "i2",
    "ushort": "u2",
    "uint16": "u2",
    "int": "i4",
    "int32": "i4",
    "uint": "u4",
    "uint32": "u4",
    "float": "f4",
    "float32": "f4",
    "double": "f8",
    "float64": "f8",
}
"""The number types of the format by both of their names."""
LIST_NAMES = ("vertex_indices", "vertex_index")
ORDERS = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": "="}
LONGEST_HEADER = 1 << 20
"""Bytes; a file whose header does not end within them is no PLY."""


@dataclass(frozen=True)
class PlyContent:
    """Vertices and polygons in file order, nothing merged or cut."""

    vertices: FloatArray
    """(n, 3)"""
    corners: IntArray
    """(k,) vertex index of every corner of every polygon."""
    sizes: IntArray
    """(p,) number of corners of each polygon."""


@dataclass(frozen=True)
class _Property:
    name: str
    kind: str
    """numpy code of a value."""
    counted: str | None
    """numpy code of the count before a list; None for a single value."""


@dataclass(frozen=True)
class _Element:
    name: str
    count: int
    properties: tuple[_Property, ...]


def read_ply(data: bytes, file_name: str) -> PlyContent:
    """Read the bytes of a PLY file.

    Raises NotAMesh when the header or the body cannot be read, BadGeometry when there are
    vertices but no polygons.
    """
    order, elements, body = _header(data, file_name)
    vertices: FloatArray | None = None
    polygons: tuple[IntArray, IntArray] | None = None
    try:
        if order == "=":
            words = data[body:].split()
            at = 0
            for element in elements:
                table, at = _text_element(words, at, element)
                vertices, polygons = _keep(element, table, vertices, polygons)
        else:
            for element in elements:
                table, body = _binary_element(data, body, element, order)
                vertices, polygons = _keep(element, table, vertices, polygons)
    except (ValueError, IndexError, KeyError, OverflowError) as error:
        raise NotAMesh(
            f"'{file_name}' breaks off or does not hold what its header says; export it again."
        ) from error
    if vertices is None:
        raise NotAMesh(f"'{file_name}' holds no vertices with x, y and z; export it again.")
    if polygons is None or len(polygons[1]) == 0:
        raise BadGeometry(
            f"'{file_name}' has points but no faces; export the character as a surface mesh."
        )
    return PlyContent(vertices, *polygons)


Table = dict[str, "FloatArray | tuple[IntArray, IntArray]"]
"""Property name -> values, or for lists (all values, how many each)."""


def _keep(
    element: _Element,
    table: Table,
    vertices: FloatArray | None,
    polygons: tuple[IntArray, IntArray] | None,
) -> tuple[FloatArray | None, tuple[IntArray, IntArray] | None]:
    if element.name == "vertex":
        vertices = np.stack([np.asarray(table[axis], dtype=np.float64) for axis in "xyz"], axis=1)
    if element.name == "face":
        lists = [p.name for p in element.properties if p.counted is not None]
        name = next((n for n in LIST_NAMES if n in lists), lists[0])
        found = table[name]
        if isinstance(found, tuple):
            polygons = found
    return vertices, polygons


def _header(data: bytes, file_name: str) -> tuple[str, list[_Element], int]:
    """Byte order ('=' for text), the elements, and where the body starts."""
    end = data.find(b"end_header", 0, LONGEST_HEADER)
    stop = data.find(b"\n", end) if end >= 0 else -1
    if stop < 0:
        raise NotAMesh(f"'{file_name}' has no complete PLY header; export the character again.")
    order: str | None = None
    elements: list[_Element] = []
    try:
        for line in data[:end].decode("latin-1").splitlines():
            words = line.split()
            if not words or words[0] in ("ply", "comment", "obj_info"):
                continue
            if words[0] == "format":
                order = ORDERS[words[1]]
            elif words[0] == "element":
                elements.append(_Element(words[1], int(words[2]), ()))
            elif words[0] == "property":
                last = elements.pop()
                counted = TYPES[words[2]] if words[1] == "list" else None
                kind = TYPES[words[3] if counted else words[1]]
                new = _Property(words[-1], kind, counted)
                elements.append(_Element(last.name, last.count, (*last.properties, new)))
    except (KeyError, IndexError, ValueError) as error:
        raise NotAMesh(
            f"'{file_name}' has a PLY header that cannot be read; export the character again."
        ) from error
    if order is None or not elements:
        raise NotAMesh(f"'{file_name}' has an incomplete PLY header; export the character again.")
    return order, elements, stop + 1


def _text_element(words: list[bytes], at: int, element: _Element) -> tuple[Table, int]:
    """Values of an element from the words of the body, starting at word `at`."""
    if all(p.counted is None for p in element.properties):
        width = len(element.properties)
        stop = at + width * element.count
        if stop > len(words):
            raise ValueError("too few numbers")
        block = np.array(words[at:stop], dtype=np.float64).reshape(element.count, width)
        return {p.name: block[:, i] for i, p in enumerate(element.properties)}, stop
    values: dict[str, list[bytes]] = {p.name: [] for p in element.properties}
    sizes: dict[str, list[int]] = {p.name: [] for p in element.properties}
    for _ in range(element.count):
        for p in element.properties:
            length = 1
            if p.counted is not None:
                length = int(words[at])
                at += 1
            if length < 0 or at + length > len(words):
                raise ValueError("too few numbers")
            values[p.name] += words[at : at + length]
            sizes[p.name].append(length)
            at += length
    table: Table = {}
    for p in element.properties:
        numbers = np.array(values[p.name], dtype=np.float64)
        table[p.name] = numbers
        if p.counted is not None:
            table[p.name] = (numbers.astype(np.int64), np.array(sizes[p.name], dtype=np.int64))
    return table, at


def _binary_element(data: bytes, start: int, element: _Element, order: str) -> tuple[Table, int]:
    """Values of an element from byte `start`; tried first as if all lists were of one length."""
    lengths = _lengths_at(data, start, element, order) if element.count else {}
    fields: list[tuple[str, str] | tuple[str, str, tuple[int, ...]]] = []
    for i, p in enumerate(element.properties):
        if p.counted is not None:
            fields.append((f"{i} count", order + p.counted))
            fields.append((f"{i}", order + p.kind, (lengths.get(i, 0),)))
        else:
            fields.append((f"{i}", order + p.kind))
    record = np.dtype(fields)
    stop = start + record.itemsize * element.count
    if stop <= len(data):
        rows = np.frombuffer(data, record, element.count, start)
        listed = [i for i, p in enumerate(element.properties) if p.counted is not None]
        if all(np.all(rows[f"{i} count"] == lengths.get(i, 0)) for i in listed):
            table: Table = {}
            for i, p in enumerate(element.properties):
                column = rows[f"{i}"]
                if p.counted is None:
                    table[p.name] = column.astype(np.float64)
                else:
                    sizes = np.full(element.count, lengths.get(i, 0), dtype=np.int64)
                    table[p.name] = (column.reshape(-1).astype(np.int64), sizes)
            return table, stop
    return _mixed_element(data, start, element, order)


def _lengths_at(data: bytes, start: int, element: _Element, order: str) -> dict[int, int]:
    """By property index, how long each list of the record at byte `start` is."""
    lengths = {}
    for i, p in enumerate(element.properties):
        if p.counted is None:
            start += int(p.kind[1])
            continue
        length = int(np.frombuffer(data, order + p.counted, 1, start)[0])
        lengths[i] = length
        start += int(p.counted[1]) + length * int(p.kind[1])
    return lengths


def _mixed_element(data: bytes, start: int, element: _Element, order: str) -> tuple[Table, int]:
    """Values of an element whose lists differ in length: walked record by record.

    Only the counts are read one by one; the values are then picked out all at once.
    """
    byte_order = "little" if order == "<" else "big"
    places: list[list[int]] = [[] for _ in element.properties]
    sizes: list[list[int]] = [[] for _ in element.properties]
    steps = [
        (i, int(p.counted[1]) if p.counted else 0, int(p.kind[1]))
        for i, p in enumerate(element.properties)
    ]
    at = start
    for _ in range(element.count):
        for i, count_width, width in steps:
            length = 1
            if count_width:
                length = int.from_bytes(data[at : at + count_width], byte_order)  # type: ignore[arg-type]
                at += count_width
            places[i].append(at)
            sizes[i].append(length)
            at += length * width
        if at > len(data):
            raise ValueError("the file breaks off")
    table: Table = {}
    raw = np.frombuffer(data, dtype=np.uint8)
    for i, p in enumerate(element.properties):
        size = np.array(sizes[i], dtype=np.int64)
        width = int(p.kind[1])
        begin = np.repeat(np.array(places[i], dtype=np.int64), size)
        rank = np.arange(len(begin)) - np.repeat(np.cumsum(size) - size, size)
        where = (begin + rank * width)[:, None] + np.arange(width)
        numbers = raw[where].reshape(-1).view(order + p.kind)
        table[p.name] = numbers.astype(np.float64)
        if p.counted is not None:
            table[p.name] = (numbers.astype(np.int64), size)
    return table, at
