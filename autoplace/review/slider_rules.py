"""Reads what the sliders bend, `templates/bending/sliders.toml`; its head explains the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from autoplace.data import data_folder, read_toml
from autoplace.errors import TemplateError
from autoplace.files.bend_tests import read_bend_tests, turn_rule
from autoplace.skeleton.bending.records import TurnRule

__all__ = ["UNITS", "SliderRule", "read_slider_rules"]

UNITS = ("degrees", "percent")


@dataclass(frozen=True)
class SliderRule:
    """What one slider, or one on each side, bends."""

    key: str
    label: str
    group: str
    turns: tuple[TurnRule, ...]
    """Up to the end of each turn's range."""
    back: float | None
    """Degrees the other way, from straight or from hanging for what has such a place, else from
    rest; None for no farther than straight."""
    source: str
    """Where the ranges are from, both ways."""
    unit: str
    """'degrees', or 'percent' of what each joint has to turn."""
    sides: bool
    finger: str
    """The finger whose joints are turned; empty for all joints of the turns."""
    closed: bool
    """True when each finger stops where its tip lies on the palm."""


def read_slider_rules(path: Path | None = None) -> tuple[SliderRule, ...]:
    """The sliders in the order of the file; without `path` those that come with the program.

    Raises FileMissing when there is no such file, TemplateError when it says what no slider can do.
    """
    return _own() if path is None else _read(path)


@cache
def _own() -> tuple[SliderRule, ...]:
    return _read(data_folder("templates") / "bending" / "sliders.toml")


def _read(path: Path) -> tuple[SliderRule, ...]:
    try:
        data = read_toml(path, TemplateError)
    except TemplateError as error:
        raise TemplateError(f"'{path}' holds no sliders we can use: {error}") from error
    try:
        rules = tuple(_rule(row) for row in data["slider"])
        keys = [rule.key for rule in rules]
        for key in keys:
            if keys.count(key) > 1:
                raise ValueError(f"two sliders have the key '{key}'")
    except (KeyError, TypeError, ValueError) as error:
        said = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise TemplateError(
            f"'{path}' holds no sliders we can use: {said}; compare it with the file that comes "
            "with the program."
        ) from error
    return rules


def _rule(row: Mapping[str, Any]) -> SliderRule:
    key, unit = str(row["key"]), str(row.get("unit", "degrees"))
    if unit not in UNITS:
        raise ValueError(f"the slider '{key}' counts in '{unit}', which is none of {UNITS}")
    if "test" in row:
        turns = _turns_of(key, str(row["test"]), str(row.get("pose", "")))
    else:
        turns = tuple(turn_rule(key, turn) for turn in row["turn"])
    sources = list(dict.fromkeys(turn.source for turn in turns))
    back = float(row["back"]) if "back" in row else None
    if "back_pose" in row:
        other = _turns_of(key, str(row["test"]), str(row["back_pose"]))
        back = min(turn.range for turn in other)
    elif back is not None:
        if not back >= 0.0:
            raise ValueError(f"the slider '{key}' goes back by {back:g} degrees, which is no way")
        sources.append(str(row["back_source"]))
    return SliderRule(
        key=key,
        label=str(row["label"]),
        group=str(row["group"]),
        turns=turns,
        back=back,
        source="; ".join(sources),
        unit=unit,
        sides=bool(row.get("sides", False)),
        finger=str(row.get("finger", "")),
        closed=bool(row.get("closed", False)),
    )


def _turns_of(key: str, name: str, pose: str) -> tuple[TurnRule, ...]:
    """The turns of a bend test, or of one pose of it."""
    for test in read_bend_tests():
        if test.name == name:
            turns = tuple(turn for turn in test.turns if turn.pose == pose)
            if turns:
                return turns
    asked = f"the pose '{pose}' of the bend test '{name}'" if pose else f"the bend test '{name}'"
    raise ValueError(f"the slider '{key}' asks for {asked}, which turns nothing")
