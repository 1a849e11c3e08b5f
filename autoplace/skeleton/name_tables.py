"""Tables of names: what open standards, or a user, call the joints that have names of ours.

A table is a TOML file. At its top stand our names and the other's, `pelvis = "humanoid_root"`;
`side_knee` stands for both sides, and `{side}` in its value for what `[side]` says of each (unsaid,
left and right). `[chains.spine]` and `[chains.neck]` give the names of such a chain by how many
joints it has, from below. `both_sides` says how names are told apart where a table gives one name
to both sides and a skeleton has both. `[segments]` says what moves with a joint, by the table's own
joint names.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from autoplace.data import data_folder, named_file, read_toml
from autoplace.errors import SettingsError
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, family, side_of

__all__ = ["OWN", "NameTable", "load_names", "named_by_table", "table_names"]

OWN = "own"
"""The table of our own names, which needs no file."""
CHAINS = ("spine", "neck")
SIDED = "side_"
SHOWN = 4
"""How many joints a note lists before it only counts them."""
SPINE = re.compile(r"spine_\d+|chest")
NECK = re.compile(r"neck(_\d+)?")


@dataclass(frozen=True)
class NameTable:
    """What joints are called elsewhere."""

    name: str
    joints: Mapping[str, str] = field(default_factory=dict)
    """Our name, or the file's for a joint that is not one of ours -> the other name."""
    chains: Mapping[str, Mapping[int, tuple[str, ...]]] = field(default_factory=dict)
    """'spine' or 'neck' -> number of joints -> their names from below."""
    both_sides: str = ""
    """How a name that both sides have is told apart, with `{side}` and `{name}`."""
    segments: Mapping[str, str] = field(default_factory=dict)
    """Other name of a joint -> name of what it moves."""


def table_names() -> tuple[str, ...]:
    """The tables that come with the program, our own first."""
    return (OWN, *sorted(path.stem for path in _folder().glob("*.toml")))


def load_names(given: str | Path) -> NameTable:
    """A table by its name, or from a TOML file of the user's.

    What ends in `.toml` or holds a folder is a file, anything else a name.

    Raises:
        FileMissing: the file cannot be opened.
        SettingsError: no table has that name, or the file is no table; the message says where.
    """
    if str(given) == OWN:
        return NameTable(OWN)
    return _table(named_file(given, "table of names", table_names(), _folder(), SettingsError))


def named_by_table(
    skeleton: Skeleton, own_names: Sequence[str], table: NameTable
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What the joints, in order, are called by a table, and notes on those that it does not name.

    Args:
        skeleton: Under our own names as far as they are known.
        own_names: What the joints are called in their file; a joint that the table does not know,
            or whose name is one that the table has a segment for, keeps that.
        table: The names to give.

    Raises:
        SettingsError: the table names a joint that is neither one of ours nor in the skeleton.
    """
    if table.name == OWN:
        return skeleton.names, ()
    for key in table.joints:
        if not (family(key) or key in skeleton.names or key in own_names):
            known = [*skeleton.names, *own_names]
            near = difflib.get_close_matches(key, known, n=1)
            hint = f" (did you mean '{near[0]}'?)" if near else ""
            raise SettingsError(
                f"The table of names '{table.name}' names '{key}', which is no joint{hint}: put "
                "our name of a joint, or its name in the file, before the sign of equality."
            )
    found = _chain_names(skeleton, table)
    for name, own in zip(skeleton.names, own_names, strict=True):
        other = own if own in table.segments else table.joints.get(name, table.joints.get(own))
        if other is not None:
            found[name] = other
    notes = []
    if table.both_sides:
        notes += _tell_sides_apart(found, table.both_sides)
    left = [own for name, own in zip(skeleton.names, own_names, strict=True) if name not in found]
    if left:
        more = f" and {len(left) - SHOWN} more" if len(left) > SHOWN else ""
        shown = ", ".join(f"'{name}'" for name in left[:SHOWN])
        notes.append(f"The names '{table.name}' have none for {shown}{more}; they keep their own.")
    names = zip(skeleton.names, own_names, strict=True)
    return tuple(found.get(name, own) for name, own in names), tuple(notes)


def _chain_names(skeleton: Skeleton, table: NameTable) -> dict[str, str]:
    """Names of spine and neck by how many joints these have."""
    found: dict[str, str] = {}
    for chain, form in (("spine", SPINE), ("neck", NECK)):
        joints = [name for name in skeleton.names if form.fullmatch(name)]
        joints.sort(key=lambda name: (name == "chest", int(re.sub(r"\D", "", name) or 1)))
        given = table.chains.get(chain, {}).get(len(joints))
        if given is not None:
            found |= dict(zip(joints, given, strict=True))
    return found


def _tell_sides_apart(found: dict[str, str], form: str) -> list[str]:
    """Puts the side to names that both sides were given, in place; a note if there are any."""
    sides: dict[str, set[str | None]] = {}
    for name, other in found.items():
        sides.setdefault(other, set()).add(side_of(name))
    if all(len(both) < 2 for both in sides.values()):
        return []
    example = ""
    for name, other in found.items():
        side = side_of(name)
        if side is not None:
            found[name] = form.replace("{side}", side).replace("{name}", other)
        example = example or found[name]
    return [f"Both sides have the same names, so they are told apart, as in '{example}'."]


@cache
def _folder() -> Path:
    return data_folder("templates") / "names"


def _table(path: Path) -> NameTable:
    try:
        data = read_toml(path, SettingsError)
        sides = _texts(data.pop("side", {}), "[side]")
        for side in sides:
            if side not in SIDES:
                raise SettingsError(f"[side] has '{side}', where only left and right can be.")
        chains = _chains(data.pop("chains", {}))
        segments = _texts(data.pop("segments", {}), "[segments]")
        both = _text(data.pop("both_sides", "{name}"), "both_sides")
        plain = both.replace("{side}", "", 1).replace("{name}", "", 1)
        if both != "{name}" and (len(both) - len(plain) != 12 or re.search("[{}]", plain)):
            raise SettingsError("both_sides should hold {side} and {name} and no other brace.")
        data.pop("description", None)
        joints = _texts(data, "the table")
        return NameTable(
            path.stem,
            _for_both(joints, sides),
            chains,
            "" if both == "{name}" else both,
            _for_both(segments, sides, key_sides=True),
        )
    except SettingsError as reason:
        raise SettingsError(f"'{path}' is no table of names we can use: {reason}") from reason


def _for_both(
    texts: Mapping[str, str], sides: Mapping[str, str], *, key_sides: bool = False
) -> dict[str, str]:
    """Rows for `side_...` made into one of each side.

    With `key_sides` the key is a name of the table's own, which has the side as the table says it.
    """
    rows: dict[str, str] = {}
    for key, value in texts.items():
        if not key.startswith(SIDED):
            rows[key] = value
            continue
        for side in SIDES:
            said = sides.get(side, side)
            rows[f"{said if key_sides else side}_{key[len(SIDED) :]}"] = value.replace(
                "{side}", said
            )
    return rows


def _chains(data: Any) -> dict[str, dict[int, tuple[str, ...]]]:
    if not (isinstance(data, dict) and all(isinstance(rows, dict) for rows in data.values())):
        raise SettingsError("[chains.spine] and [chains.neck] should be tables.")
    found: dict[str, dict[int, tuple[str, ...]]] = {}
    for chain, rows in data.items():
        if chain not in CHAINS:
            raise SettingsError(f"[chains.{chain}] is none: the chains are {' and '.join(CHAINS)}.")
        found[chain] = {}
        for key, names in rows.items():
            count = int(key) if re.fullmatch(r"[1-9]\d?", key) else 0
            if not (isinstance(names, list) and len(names) == count):
                raise SettingsError(
                    f"[chains.{chain}] has '{key}', which should be a number with a list of so "
                    "many names."
                )
            found[chain][count] = tuple(_text(n, f"[chains.{chain}] {key}") for n in names)
    return found


def _texts(data: Any, where: str) -> dict[str, str]:
    if not isinstance(data, dict):
        raise SettingsError(f"{where} should be a table of names.")
    return {key: _text(value, f"'{key}'") for key, value in data.items()}


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise SettingsError(f"{where} should be a name in quotes.")
    return value
