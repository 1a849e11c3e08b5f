"""What is tried each time, and what with `-m wide` and where CI is set."""

from __future__ import annotations

import os
from collections.abc import Iterable

import pytest

__all__ = ["each_time", "examples"]

FEWEST = 10
SHARE = 5


def each_time(first: Iterable[object], others: Iterable[object]) -> list[object]:
    """Parameters of a test: the first are tried each time, the others with `-m wide`."""
    return [*first, *(pytest.param(one, marks=pytest.mark.wide) for one in others)]


def examples(whole: int) -> int:
    """A fifth of the examples, ten at least; all in CI, as `.ci/run` sets it."""
    return whole if os.environ.get("CI") else min(whole, max(whole // SHARE, FEWEST))
