"""What one unit of a mesh is in metres, told by how tall the character is.

A mesh file seldom says what its unit is. Formats that count in metres need to know, so the unit is
taken to be the power of ten that makes the figure between 0.3 and 3 metres tall.
"""

from __future__ import annotations

import numpy as np

from autoplace.errors import SkeletonError

__all__ = ["metres_per_unit_of"]

SMALLEST, TALLEST = 0.3, 3.0
"""Metres; a factor of ten apart, so that exactly one power of ten fits. People are 0.5 (newborn) to
2.5 m tall, drawn figures a little less; common practice, no source."""


def metres_per_unit_of(height: float) -> float:
    """The power of ten that takes a height in the file's units to between 0.3 and 3 metres.

    Raises SkeletonError for a height that is no positive number.
    """
    if not (np.isfinite(height) and height > 0):
        raise SkeletonError(
            f"The skeleton says that the character is {height} tall: give its height, or how many "
            "metres one unit of the mesh is."
        )
    exponent = int(np.floor(np.log10(TALLEST / height)))
    while height * 10.0**exponent >= TALLEST:
        exponent -= 1
    while height * 10.0**exponent < SMALLEST:
        exponent += 1
    return float(10.0**exponent)
