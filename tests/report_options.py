"""What the reports are asked alike, and doing it for many things at once."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Protocol, TypeVar

import numpy as np

from tests.dataset.bodies import BodySpec, report_list, tuning_list


class Named(Protocol):
    @property
    def name(self) -> str: ...


Thing = TypeVar("Thing", bound=Named)
Given = TypeVar("Given")
Found = TypeVar("Found")


def report_options(
    report: str, about: str | None, many: str = "bodies", *, tuning: bool = True
) -> argparse.ArgumentParser:
    """The options of `python -m tests.REPORT.report`: which of `many`, and how it is run."""
    parser = argparse.ArgumentParser(prog=f"python -m tests.{report}.report", description=about)
    count = "--bodies" if many == "bodies" else "--count"
    parser.add_argument(
        count, dest="count", type=int, metavar="N", help=f"only N {many}, spread evenly"
    )
    parser.add_argument("--only", metavar="TEXT", help=f"only {many} with this in their name")
    if tuning:
        parser.add_argument(
            "--tuning", action="store_true", help=f"the {many} to be looked at while tuning instead"
        )
    parser.add_argument("--workers", type=int, default=2, metavar="N", help=f"{many} at once")
    parser.add_argument("--strict", action="store_true", help="exit with 1 if a target is missed")
    return parser


def add_tables(parser: argparse.ArgumentParser, one: str) -> None:
    """Options of the reports on errors of joints."""
    parser.add_argument("--per-joint", action="store_true", help="add a table of every joint")
    parser.add_argument("--worst", type=int, default=8, metavar="N", help="farthest joints listed")
    parser.add_argument("--pictures", type=Path, metavar="DIR", help=f"a picture of each {one}")


def bodies_asked(options: argparse.Namespace) -> tuple[list[BodySpec], str]:
    """The bodies of the open dataset that the options ask for, and what kind these are."""
    specs = picked(tuning_list() if options.tuning else report_list(), options.only, options.count)
    return specs, "tuning bodies" if options.tuning else "bodies reported on"


def picked(things: Sequence[Thing], only: str | None, count: int | None) -> list[Thing]:
    """Those with `only` in their name, and of these `count`, spread evenly."""
    found = [thing for thing in things if only is None or only in thing.name]
    if count and count < len(found):
        rows = np.linspace(0, len(found) - 1, count).round().astype(int)
        found = [found[row] for row in rows]
    return found


def at_once(work: Callable[[Given], Found], things: Sequence[Given], workers: int) -> list[Found]:
    """`work` done on all things, in their order, by so many processes."""
    if workers < 2 or len(things) < 2:
        return [work(thing) for thing in things]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(work, things))
