"""Conventions as data: those in `templates/conventions` by name, or a user's own file."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path

from autoplace.data import data_folder
from autoplace.errors import FileMissing, SkeletonError
from autoplace.skeleton.convention import Convention

__all__ = ["convention_names", "describe_conventions", "load_convention"]

KEYS = ("description", "aim", "bend", "mirror", "eyes", "facing", "aims")
LARGEST = 1 << 20
"""Bytes of a convention file; a written one has about a thousand."""


def convention_names() -> tuple[str, ...]:
    """Names that `load_convention` knows, sorted."""
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def describe_conventions() -> dict[str, str]:
    """Name and description of every convention that comes with the program."""
    return {
        name: str(_read(_folder() / f"{name}.toml").get("description", ""))
        for name in convention_names()
    }


def load_convention(given: str | Path) -> Convention:
    """A convention by its name, or from a TOML file of the user's.

    What ends in `.toml` or holds a folder is a file, anything else a name.

    Raises:
        FileMissing: the file cannot be opened.
        SkeletonError: no convention has that name, or the file contradicts itself; the message
            says where.
    """
    text = str(given)
    if text in convention_names():
        return _convention(_folder() / f"{text}.toml")
    path = Path(given)
    if path.suffix.lower() != ".toml" and len(path.parts) < 2:
        near = difflib.get_close_matches(text, convention_names(), n=1)
        hint = f" (did you mean '{near[0]}'?)" if near else ""
        raise SkeletonError(
            f"There is no convention '{text}'{hint}: the conventions are "
            f"{', '.join(convention_names())}, and a file of your own ends in .toml."
        )
    return _convention(path)


def _folder() -> Path:
    return data_folder("templates") / "conventions"


def _convention(path: Path) -> Convention:
    data = _read(path)
    for key in data:
        if key not in KEYS:
            raise SkeletonError(
                f"'{path}' has the key '{key}', which a convention does not know: the keys are "
                f"{', '.join(KEYS)}."
            )
    for key in ("aim", "bend", "mirror", "eyes"):
        if key in data and not isinstance(data[key], str):
            raise SkeletonError(f"'{path}': '{key}' should be a text in quotes.")
    try:
        return Convention.from_dict({**data, "convention": path.stem})
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' is no convention we can use: {reason}") from reason


def _read(path: Path) -> dict[str, object]:
    try:
        if path.stat().st_size > LARGEST:
            raise SkeletonError(f"'{path}' is too large for a convention: is it another file?")
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as reason:
        raise FileMissing(
            f"Cannot read '{path}': {reason.strerror or reason}; check the name."
        ) from reason
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as reason:
        raise SkeletonError(f"'{path}' cannot be read as TOML: {reason}.") from reason
