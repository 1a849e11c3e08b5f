"""Reads the motions of the bend test, `templates/bending/motions.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from autoplace.data import data_folder, read_toml
from autoplace.errors import TemplateError
from autoplace.skeleton.bending.keying import LOOKS
from autoplace.skeleton.bending.records import BendTest, Limit, TurnRule
from autoplace.skeleton.pose import AXIS_ROLES

__all__ = ["read_bend_tests", "turn_rule"]

SENSES = ("flex", "extend", "raise", "thumbward", "littleward", *LOOKS)
STARTS = ("bone", "down")


def read_bend_tests(path: Path | None = None) -> tuple[BendTest, ...]:
    """The tests in the order of the file; without `path` those that come with the program.

    Raises FileMissing when there is no such file, TemplateError when it says what no test can do.
    """
    return _own() if path is None else _read(path)


@cache
def _own() -> tuple[BendTest, ...]:
    return _read(data_folder("templates") / "bending" / "motions.toml")


def _read(path: Path) -> tuple[BendTest, ...]:
    try:
        data = read_toml(path, TemplateError)
    except TemplateError as error:
        raise TemplateError(f"'{path}' holds no bend tests we can use: {error}") from error
    try:
        tests = tuple(_test(row) for row in data["test"])
    except (KeyError, TypeError, ValueError) as error:
        raise TemplateError(
            f"'{path}' holds no bend tests we can use: {_said(error)}; "
            "compare it with the file that comes with the program."
        ) from error
    names = [test.name for test in tests]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise TemplateError(f"'{path}' has two tests named '{twice[0]}': rename one of them.")
    return tests


def _said(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error)


def _test(row: Mapping[str, Any]) -> BendTest:
    return BendTest(
        name=str(row["name"]),
        title=str(row["title"]),
        turns=tuple(turn_rule(row["name"], turn) for turn in row.get("turn", ())),
        limits=tuple(_limit(limit) for limit in row["limit"]),
    )


def turn_rule(test: str, row: Mapping[str, Any]) -> TurnRule:
    """A turn of the test or motion of this name from its table.

    Raises KeyError, TypeError or ValueError for what no turn can be.
    """
    rule = TurnRule(
        joints=tuple(str(name) for name in row["joints"]),
        axis=str(row["axis"]),
        sense=str(row["sense"]),
        to=_number(row, "to"),
        by=_number(row, "by"),
        pose=str(row.get("pose", "")),
        start=str(row.get("start", "bone")),
        shared=bool(row.get("shared", False)),
        range=float(row["range"]),
        source=str(row["source"]),
    )
    if rule.to is None and rule.by is None:
        raise ValueError(f"a turn of '{test}' has neither 'to' nor 'by'")
    for word, known in ((rule.axis, AXIS_ROLES), (rule.sense, SENSES), (rule.start, STARTS)):
        if word not in known:
            raise ValueError(f"a turn of '{test}' says '{word}', which is none of {known}")
    if max(rule.to or 0.0, rule.by or 0.0) > rule.range:
        raise ValueError(f"a turn of '{test}' goes beyond its range of {rule.range:g} degrees")
    return rule


def _limit(row: Mapping[str, Any]) -> Limit:
    return Limit(
        of=str(row["of"]),
        unit=str(row["unit"]),
        says=str(row["says"]),
        source=str(row["source"]),
        most=_number(row, "most"),
        least=_number(row, "least"),
        look=str(row.get("look", "")),
    )


def _number(row: Mapping[str, Any], key: str) -> float | None:
    return float(row[key]) if key in row else None
