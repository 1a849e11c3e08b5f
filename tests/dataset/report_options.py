"""What the reports on the dataset and on the invented family are asked alike."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol, TypeVar

import numpy as np


class Named(Protocol):
    @property
    def name(self) -> str: ...


Thing = TypeVar("Thing", bound=Named)


def add_options(parser: argparse.ArgumentParser, one: str, many: str) -> None:
    """Options of both reports; `one` and `many` say what they are about."""
    parser.add_argument("--only", metavar="TEXT", help=f"only {many} with this in their name")
    parser.add_argument("--per-joint", action="store_true", help="add a table of every joint")
    parser.add_argument("--worst", type=int, default=8, metavar="N", help="farthest joints listed")
    parser.add_argument("--pictures", type=Path, metavar="DIR", help=f"a picture of each {one}")
    parser.add_argument("--workers", type=int, default=2, metavar="N", help=f"{many} at once")
    parser.add_argument("--strict", action="store_true", help="exit with 1 if a target is missed")


def picked(things: Sequence[Thing], only: str | None, count: int | None) -> list[Thing]:
    """Those with `only` in their name, and of these `count`, spread evenly."""
    found = [thing for thing in things if only is None or only in thing.name]
    if count and count < len(found):
        rows = np.linspace(0, len(found) - 1, count).round().astype(int)
        found = [found[row] for row in rows]
    return found
