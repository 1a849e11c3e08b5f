"""Whether a file was written by this program: every format has its own place for the mark."""

from __future__ import annotations

import json
import re
import struct
from pathlib import Path
from typing import Any

__all__ = ["MARK", "is_ours", "joints_by_hand"]

MARK = "autoplace"
"""Stands in every file we write that has a place for it: JSON `format`, glTF `asset.generator`, PNG
text `Software`, the custom data `creator` of an OpenUSD layer, `meta` of the name `generator` in
X3D and HTML. A BVH file and a table have none; they are known by their layout."""
HEAD = 1 << 16
"""Bytes in which a mark is looked for where it stands at the beginning."""
LARGEST_TEXT = 1 << 22
"""Bytes of a BVH file that is read to know it; ours are smaller."""
_OURS_AS_JSON = re.compile(rb'\s*\{\s*"format":\s*"' + MARK.encode() + rb'\.(skeleton|edits)"')
"""How our JSON files begin; a file that says so elsewhere was written by somebody else."""


def is_ours(path: Path) -> bool:
    """Whether a file carries our mark; an empty file is anyone's to fill, and counts as ours."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD)
    except OSError:
        return False
    ending = path.suffix.lower()
    if not head:
        return True
    if head[:4] == b"glTF":
        return _is_our_glb(path, head)
    if ending == ".json":
        return _OURS_AS_JSON.match(head) is not None
    if ending == ".gltf":
        return head.startswith(b'{"asset": {') and f'"generator": "{MARK}"'.encode() in head[:1000]
    if ending == ".x3d":
        return f'<meta name="generator" content="{MARK}"/>'.encode() in head[:1000]
    if ending in (".html", ".htm"):
        return f'<meta name="generator" content="{MARK}">'.encode() in head[:1000]
    if ending == ".bvh":
        return _is_our_bvh(path)
    if ending == ".csv":
        from autoplace.files.joint_table import COLUMNS

        return head.startswith(",".join(COLUMNS).encode() + b"\r\n")
    if ending in (".usda", ".usdc", ".usd", ".usdz"):
        return _is_our_usd(path)
    return head[:8] == b"\x89PNG\r\n\x1a\n" and b"tEXtSoftware\0" + MARK.encode() in head


def joints_by_hand(path: Path) -> dict[str, bool] | None:
    """Joint names of a skeleton file of ours and whether a person decided each, by locking or by
    moving it; None if it is no such file."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        if content["format"] != f"{MARK}.skeleton":
            return None
        return {
            str(joint["name"]): bool(joint.get("locked", False)) or _is_corrected(joint)
            for joint in content["joints"]
        }
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def _is_corrected(joint: dict[str, Any]) -> bool:
    """Whether the evidence of a joint says that a person moved it (`skeleton/decided.py`)."""
    evidence = joint.get("evidence") or [{}]
    return bool(evidence[0].get("kind") == "corrected")


def _is_our_glb(path: Path, head: bytes) -> bool:
    if len(head) < 20:
        return False
    (length,) = struct.unpack("<I", head[12:16])
    with path.open("rb") as file:
        file.seek(20)
        try:
            generator = json.loads(file.read(length))["asset"]["generator"]
        except (ValueError, KeyError, TypeError):
            return False
    return MARK in str(generator)


def _is_our_bvh(path: Path) -> bool:
    from autoplace.files.bvh_writer import is_rest_bvh

    if path.stat().st_size > LARGEST_TEXT:
        return False
    try:
        return is_rest_bvh(path.read_text(encoding="utf-8"))
    except ValueError:
        return False


def _is_our_usd(path: Path) -> bool:
    try:
        from pxr import Sdf, Tf

        from autoplace.files.usd_joints import hushed
    except ImportError:
        return False  # nobody can tell, so it is left alone
    try:
        with hushed():
            layer = Sdf.Layer.OpenAsAnonymous(str(path), metadataOnly=True)
            return layer is not None and layer.customLayerData.get("creator") == MARK
    except Tf.ErrorException:
        return False
