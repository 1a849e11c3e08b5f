"""What a glTF file claims to hold, held against what it has, before it is read.

The general reader takes a file at its word: it sets memory aside for as many entries as an accessor
without data names, opens buffers wherever they are said to lie, and copies a mesh for every node
that shows it (glTF 2.0, ISO/IEC 12113:2022, sections 3.5, 3.6 and 4.4). What is malformed otherwise
it refuses by itself.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from autoplace.errors import NotAMesh

__all__ = ["refuse_false_claims"]

MOST_DRAWN = 60_000_000
"""Vertices and corners of triangles that all nodes together may show, and all accessors may hold
without data: ten times those of the largest meshes we try. Common practice, no source."""
DEEPEST = 512
"""Longest chain of nodes that is read, as in the reader of joints; what the general reader needs
grows by its square."""
MAGIC, HEAD, CHUNK_HEAD = b"glTF", 12, 8


def refuse_false_claims(data: bytes, path: Path) -> None:
    """Raises NotAMesh where the bytes of a glTF file claim more than they hold.

    Nothing is said of a file that is malformed in another way.
    """
    told = _false_claim(data, path)
    if told:
        raise NotAMesh(f"'{path.name}' {told}; export it again.")


def _false_claim(data: bytes, path: Path) -> str:
    """What is wrong, empty if nothing is."""
    text = data
    if data[:4] == MAGIC:
        at = HEAD
        while at + CHUNK_HEAD <= len(data):
            length = int.from_bytes(data[at : at + 4], "little")
            if at + CHUNK_HEAD + length > len(data):
                return f"breaks off: its chunk at byte {at} is longer than the file"
            at += CHUNK_HEAD + length
        text = data[HEAD + CHUNK_HEAD :][: int.from_bytes(data[HEAD : HEAD + 4], "little")]
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(tree, dict):
        return ""
    return (
        _buffer_elsewhere(tree, path)
        or _accessor_too_large(tree)
        or _too_much_drawn(tree)
        or _nested_too_deep(tree)
    )


def _buffer_elsewhere(tree: dict[str, Any], path: Path) -> str:
    """Buffers are read from the folder of the file only, and only plain files."""
    folder = path.parent.resolve()
    for index, buffer in enumerate(_objects(tree, "buffers")):
        uri = buffer.get("uri")
        if not isinstance(uri, str) or uri.startswith("data:"):
            continue
        for name in {uri, unquote(uri)}:  # some readers take a name as it stands
            try:
                other = (folder / name).resolve()
                sound = other.is_relative_to(folder) and not (
                    other.exists() and not other.is_file()
                )
            except (OSError, ValueError):  # too long, or with a zero in it
                sound = False
            if not sound or len(urlsplit(uri).scheme) > 1:
                return (
                    f"keeps buffers[{index}] in '{uri[:80]}', which is no file in the folder of "
                    "this one: put it there, or have the buffers kept inside"
                )
    return ""


def _accessor_too_large(tree: dict[str, Any]) -> str:
    """Entries must be as far apart as they are large, and those without data be few."""
    without = 0
    views = _objects(tree, "bufferViews")
    for index, accessor in enumerate(_objects(tree, "accessors")):
        count, view = _whole(accessor.get("count")), _whole(accessor.get("bufferView"), -1)
        if "bufferView" not in accessor:
            without += count * 16  # the most numbers that an entry has
        elif 0 <= view < len(views) and 0 < _whole(views[view].get("byteStride")) < 4:
            # the standard's smallest distance, section 5.11.4
            return f"has entries in accessors[{index}] that lie closer together than is possible"
        if without > MOST_DRAWN:
            return f"claims {count} entries without data in accessors[{index}]"
    return ""


def _too_much_drawn(tree: dict[str, Any]) -> str:
    """Vertices and corners of all meshes, and once more for each node that shows one."""
    counts = [_whole(accessor.get("count")) for accessor in _objects(tree, "accessors")]
    sizes = []
    for mesh in _objects(tree, "meshes"):
        size = 0
        for primitive in _objects(mesh, "primitives"):
            attributes = primitive.get("attributes")
            position = attributes.get("POSITION") if isinstance(attributes, dict) else None
            for index in (_whole(position, -1), _whole(primitive.get("indices"), -1)):
                size += counts[index] if 0 <= index < len(counts) else 0
        sizes.append(size)
    drawn = sum(sizes)
    for node in _objects(tree, "nodes"):
        shown = _whole(node.get("mesh"), -1)
        drawn += sizes[shown] if 0 <= shown < len(sizes) else 0
    if drawn > MOST_DRAWN:
        return f"draws {drawn} vertices and corners, more than the {MOST_DRAWN} that are read"
    return ""


def _nested_too_deep(tree: dict[str, Any]) -> str:
    """Nodes must be trees (section 3.5.2), and no deeper than a character's are."""
    nodes = _objects(tree, "nodes")
    parents = [-1] * len(nodes)
    for index, node in enumerate(nodes):
        children = node.get("children")
        for child in children if isinstance(children, list) else []:
            if not 0 <= _whole(child, -1) < len(nodes):
                continue
            if parents[child] >= 0:
                return f"hangs nodes[{child}] from two nodes"
            parents[child] = index
    depth = [0] * len(nodes)
    for index in range(len(nodes)):
        chain: list[int] = []
        at = index
        while at >= 0 and depth[at] == 0 and len(chain) <= DEEPEST:
            chain.append(at)
            at = parents[at]
        above = depth[at] if at >= 0 else 0
        if above + len(chain) > DEEPEST:  # or nodes that are their own ancestors
            return f"hangs nodes one under the other more than {DEEPEST} deep"
        for step, node_index in enumerate(reversed(chain), 1):
            depth[node_index] = above + step
    return ""


def _objects(tree: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """The list of that name, what is no object in it as an empty one."""
    found = tree.get(key)
    rows = found if isinstance(found, list) else []
    return [row if isinstance(row, dict) else {} for row in rows]


def _whole(value: Any, otherwise: int = 0) -> int:
    """A whole number, or another value in its place."""
    return value if isinstance(value, int) else otherwise
