"""Values as X3D's XML encoding writes them (ISO/IEC 19776-1)."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["numbers", "quoted", "rows"]


def quoted(text: str) -> str:
    """One string of a list of strings."""
    plain = re.sub(r"[\x00-\x1f\ufffe\uffff]", " ", text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def rows(values: NDArray[Any]) -> str:
    """A list of vectors (n, k)."""
    return ", ".join(numbers(row) for row in values)


def numbers(values: NDArray[Any] | tuple[float, ...]) -> str:
    """Numbers to nine digits, more than the format's single precision holds."""
    return " ".join(f"{float(v) + 0.0:.9g}" for v in np.asarray(values))
