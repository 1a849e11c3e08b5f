"""Templates: the joint list and the proportions that anatomy expects, read from data files.

A template is a TOML file; `extends` takes everything from another and changes what it names.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.data import data_folder, template_names
from autoplace.errors import TemplateError

__all__ = [
    "JointRule",
    "Proportion",
    "Template",
    "TemplateChoice",
    "choose_template",
    "load_template",
]

SCALES = ("trunk", "head", "foot", "depth", "leg", "arm", "spine", "hip_to_neck")
"""Lengths that a proportion may be a share of."""

NEGLIGIBLE = 1e-4
"""Probability of a template that is not worth reading."""


@dataclass(frozen=True)
class Proportion:
    """One expected proportion."""

    value: float
    """Share of the length `of`."""
    spread: float
    """One standard deviation, same share."""
    of: str
    source: str


@dataclass(frozen=True)
class JointRule:
    """One line of a template's joint list."""

    name: str
    parent: str | None
    pair: bool = False
    repeat: bool = False
    fingers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Template:
    """A joint list with proportions."""

    name: str
    description: str
    choice: Mapping[str, Proportion]
    proportions: Mapping[str, Proportion]
    joints: tuple[JointRule, ...]

    def __getitem__(self, name: str) -> Proportion:
        """The proportion `name`; raises TemplateError when the template lacks it."""
        try:
            return self.proportions[name]
        except KeyError:
            raise TemplateError(
                f"template '{self.name}' lacks the proportion '{name}'; add it to "
                f"templates/{self.name}.toml with value, spread, of and source."
            ) from None

    def joint_list(
        self,
        spine: int,
        fingers: Mapping[str, Sequence[str]],
        neck: int = 1,
        *,
        metacarpals: bool = False,
    ) -> list[tuple[str, str | None]]:
        """(name, parent) of every joint, parents first.

        Args:
            spine: number of spine joints, the chest counted.
            fingers: finger names that each side's hand has.
            neck: number of neck joints.
            metacarpals: whether fingers (not the thumb) hang from a joint of their metacarpal.
        """
        spine_names = [f"spine_{i + 1}" for i in range(spine - 1)]
        rows: list[tuple[str, str | None]] = []
        last_spine = spine_names[-1] if spine_names else "pelvis"
        neck_names = ["neck", *(f"neck_{i + 1}" for i in range(1, neck))]
        last = {"spine": last_spine, "neck": neck_names[-1]}
        for rule in self.joints:
            parent = last.get(rule.parent or "", rule.parent)
            if rule.repeat:
                for i, name in enumerate(spine_names):
                    rows.append((name, spine_names[i - 1] if i else parent))
                continue
            if not rule.pair:
                rows.append((rule.name, parent))
                if rule.name == "neck":
                    rows += zip(neck_names[1:], neck_names, strict=False)
                continue
            paired = {r.name for r in self.joints if r.pair}
            for side in ("left", "right"):
                above = f"{side}_{parent}" if parent in paired else parent
                if not rule.fingers:
                    rows.append((f"{side}_{rule.name}", above))
                    continue
                for finger in rule.fingers:
                    if finger not in fingers.get(side, ()):
                        continue
                    before = above
                    palm = ("metacarpal",) if metacarpals and finger != "thumb" else ()
                    for end in (*palm, "1", "2", "3", "tip"):
                        name = f"{side}_{finger}_{end}"
                        rows.append((name, before))
                        before = name
        return rows


@dataclass(frozen=True)
class TemplateChoice:
    """Which template fits, why, and how sure."""

    template: Template
    why: str
    confidence: float
    """Probability of the template against the others, from the measured proportions."""


def load_template(name: str) -> Template:
    """Read a template by name.

    Raises:
        TemplateError: there is no such template, or its file contradicts itself.
    """
    if name not in template_names():
        raise TemplateError(
            f"no template '{name}'; the templates are {', '.join(template_names())}."
        )
    return _template(data_folder("templates") / f"{name}.toml")


@cache
def _template(path: Path) -> Template:
    data = _merged(path, ())
    joints = _joint_rules(path, data.get("joints", ()))
    if not joints:
        raise TemplateError(f"{path.name} has no joints; add [[joints]] entries or 'extends'.")
    return Template(
        name=str(data.get("name", path.stem)),
        description=str(data.get("description", "")),
        choice={key: _proportion(path, key, row) for key, row in data.get("choice", {}).items()},
        proportions={
            key: _proportion(path, key, row) for key, row in data.get("proportions", {}).items()
        },
        joints=joints,
    )


def _joint_rules(path: Path, entries: Sequence[Any]) -> tuple[JointRule, ...]:
    rules: list[JointRule] = []
    for number, entry in enumerate(entries, start=1):
        if not isinstance(entry, Mapping) or not isinstance(entry.get("name"), str):
            raise TemplateError(f"{path.name}: joint {number} needs a 'name'.")
        parent = entry.get("parent")
        if parent is not None and parent not in {rule.name for rule in rules}:
            raise TemplateError(
                f"{path.name}: joint '{entry['name']}' hangs from '{parent}', which is not listed "
                "before it."
            )
        rules.append(
            JointRule(
                entry["name"],
                parent,
                bool(entry.get("pair", False)),
                bool(entry.get("repeat", False)),
                tuple(entry.get("fingers", ())),
            )
        )
    return tuple(rules)


def _merged(path: Path, seen: tuple[str, ...]) -> dict[str, Any]:
    """The file's data over that of the template it extends."""
    if path.stem in seen:
        raise TemplateError(f"{path.name} extends itself through {' -> '.join(seen)}.")
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise TemplateError(f"{path.name} cannot be read as a template: {error}.") from error
    base = data.get("extends")
    if base is None:
        return data
    parent = path.with_name(f"{base}.toml")
    if not parent.exists():
        raise TemplateError(f"{path.name} extends '{base}', and there is no {parent.name}.")
    below = _merged(parent, (*seen, path.stem))
    for table in ("choice", "proportions"):
        data[table] = {**below.get(table, {}), **data.get(table, {})}
    return {**below, **data}


def _proportion(path: Path, key: str, row: Mapping[str, Any]) -> Proportion:
    try:
        value, spread = float(row["value"]), float(row["spread"])
        of, source = str(row.get("of", "height")), str(row["source"])
    except (KeyError, TypeError, ValueError) as error:
        raise TemplateError(
            f"{path.name}: '{key}' needs numbers 'value' and 'spread' and a 'source' ({error})."
        ) from error
    if not (np.isfinite(value) and np.isfinite(spread) and spread > 0):
        raise TemplateError(f"{path.name}: '{key}' needs a finite value and a spread above zero.")
    if of not in (*SCALES, "height"):
        raise TemplateError(
            f"{path.name}: '{key}' is a share of '{of}'; known are {', '.join(SCALES)}."
        )
    return Proportion(value, spread, of, source)


def choose_template(heads_tall: float, crotch_height: float | None) -> TemplateChoice:
    """The template whose proportions are nearest to what was measured.

    Args:
        heads_tall: height over head height.
        crotch_height: share of height; None where the legs are hidden.

    Returns:
        The choice; its confidence is the template's share of the likelihood of all templates,
        each measure taken as Gaussian.
    """
    measured = {"heads_tall": heads_tall}
    if crotch_height is not None:
        measured["crotch_height"] = crotch_height
    scores = {}
    for name in template_names():
        template = load_template(name)
        misfit = 0.0
        for key, value in measured.items():
            expected = template.choice.get(key)
            if expected is not None:
                misfit += ((value - expected.value) / expected.spread) ** 2
                misfit += 2.0 * float(np.log(expected.spread))
        scores[name] = -0.5 * misfit
    best = max(sorted(scores), key=lambda name: scores[name])
    top = max(scores.values())
    likely = {name: float(np.exp(score - top)) for name, score in sorted(scores.items())}
    total = sum(likely.values())
    shares = {name: share / total for name, share in likely.items()}
    why = f"{heads_tall:.1f} heads tall"
    if crotch_height is not None:
        why += f", crotch at {100 * crotch_height:.0f} percent of the height"
    return TemplateChoice(_mean_of(best, shares), why, shares[best])


def _mean_of(best: str, shares: Mapping[str, float]) -> Template:
    """The best template with the proportions that all of them together let expect, so that a figure
    between two of them does not jump from the one's proportions to the other's.

    Args:
        best: its name. shares: by name, the probability of each template; they sum to one.
    """
    chosen = load_template(best)
    others = [(share, load_template(name)) for name, share in shares.items() if share > NEGLIGIBLE]
    mixed = {}
    for key, own in chosen.proportions.items():
        rows = [
            (share, other.proportions[key])
            for share, other in others
            if key in other.proportions and other.proportions[key].of == own.of
        ]
        whole = sum(share for share, _ in rows)
        value = sum(share * row.value for share, row in rows) / whole
        square = sum(share * (row.spread**2 + (row.value - value) ** 2) for share, row in rows)
        mixed[key] = replace(own, value=value, spread=float(np.sqrt(square / whole)))
    return replace(chosen, proportions=mixed)
