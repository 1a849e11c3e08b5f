"""JSON files as text that a person can read and compare, and the reading of such files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.errors import FileMissing, SkeletonError

__all__ = ["laid_out", "plain", "read_bounded", "refuse_half_characters"]


def read_bounded(path: Path, largest: int, kind: str) -> bytes:
    """The content of a file of at most so many bytes; `kind` says in messages what it should be.

    Raises FileMissing when it cannot be opened, SkeletonError when it is larger.
    """
    try:
        size = path.stat().st_size
        if size > largest:
            raise SkeletonError(
                f"'{path}' is {size / 2**20:.0f} MB; a file of this kind ({kind}) has at most "
                f"{largest // 2**20} MB: is it another kind of file?"
            )
        return path.read_bytes()
    except OSError as reason:
        raise FileMissing(
            f"Cannot read '{path}': {reason.strerror or reason}; check the name."
        ) from reason


def refuse_half_characters(text: str) -> None:
    """Raises SkeletonError for text with half of a character, which UTF-8 cannot keep."""
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise SkeletonError("The record holds half of a character, which no file can keep.")


def plain(value: Any) -> Any:
    """Numbers, arrays, tuples and mappings as plain JSON data; SkeletonError for anything else."""
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        number = float(value)
        if not np.isfinite(number):
            raise SkeletonError(f"The record holds the number {number}, which no file can keep.")
        return number + 0.0  # a negative zero becomes plain zero
    if isinstance(value, np.ndarray | list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    raise SkeletonError(f"The record holds a {type(value).__name__}, which no file can keep.")


def laid_out(value: Any, indent: str = "") -> str:
    """JSON with short things on one line, so that a person can read and compare joints."""
    line = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if len(indent) + len(line) <= 100 and not (isinstance(value, dict) and indent == ""):
        return line
    deeper = indent + " "
    if isinstance(value, dict) and value:
        rows = [
            f"{deeper}{json.dumps(key, ensure_ascii=False)}: {laid_out(item, deeper)}"
            for key, item in value.items()
        ]
        return "{\n" + ",\n".join(rows) + "\n" + indent + "}"
    if isinstance(value, list) and value:
        rows = [deeper + laid_out(item, deeper) for item in value]
        return "[\n" + ",\n".join(rows) + "\n" + indent + "]"
    return line
