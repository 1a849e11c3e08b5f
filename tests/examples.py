"""How many examples a test of properties tries: some each time, all where CI is set."""

from __future__ import annotations

import os

__all__ = ["examples"]

FEWEST = 10
SHARE = 5


def examples(whole: int) -> int:
    """A fifth of the examples, ten at least; all in CI, as `.ci/run` sets it."""
    return whole if os.environ.get("CI") else min(whole, max(whole // SHARE, FEWEST))
