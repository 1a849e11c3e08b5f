"""Conventions as data: those in `templates/conventions` by name, or a user's own file."""

from __future__ import annotations

from pathlib import Path

from autoplace.data import data_folder, named_file, read_toml
from autoplace.errors import SkeletonError
from autoplace.skeleton.convention import Convention

__all__ = ["convention_names", "describe_conventions", "load_convention"]

KEYS = ("description", "aim", "bend", "mirror", "eyes", "facing", "aims")


def convention_names() -> tuple[str, ...]:
    """Names that `load_convention` knows, sorted."""
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def describe_conventions() -> dict[str, str]:
    """Name and description of every convention that comes with the program."""
    return {
        name: str(read_toml(_folder() / f"{name}.toml", SkeletonError).get("description", ""))
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
    path = named_file(given, "convention", convention_names(), _folder(), SkeletonError)
    return _convention(path)


def _folder() -> Path:
    return data_folder("templates") / "conventions"


def _convention(path: Path) -> Convention:
    try:
        data = read_toml(path, SkeletonError)
        for key in data:
            if key not in KEYS:
                raise SkeletonError(
                    f"it has the key '{key}', which a convention does not know: the keys are "
                    f"{', '.join(KEYS)}."
                )
        for key in ("aim", "bend", "mirror", "eyes"):
            if key in data and not isinstance(data[key], str):
                raise SkeletonError(f"'{key}' should be a text in quotes.")
        return Convention.from_dict({**data, "convention": path.stem})
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' is no convention we can use: {reason}") from reason
