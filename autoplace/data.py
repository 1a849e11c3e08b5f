"""Where the data folders are: inside the installed package, or at the top of the repository."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from autoplace.errors import AutoplaceError, FileMissing

__all__ = ["data_folder", "named_file", "read_toml", "template_names"]

LARGEST = 1 << 16
"""Bytes of a TOML file of ours or a user's; a written one has some thousand. The parser takes time
by the square of a key's parts, of which this leaves room for no more than a second's worth."""
DEEPEST = 8
"""Tables and lists within one another; ours have three."""


def data_folder(name: str) -> Path:
    """Folder `templates` or `meshes`.

    A wheel carries both inside the package; an editable install reads them where they are edited,
    beside the package.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the installed package has no folder {name!r}; install it again")


@cache
def template_names() -> tuple[str, ...]:
    """Names that `--template` takes, sorted."""
    return tuple(sorted(path.stem for path in data_folder("templates").glob("*.toml")))


def named_file(
    given: str | Path, kind: str, names: Sequence[str], folder: Path, error: type[AutoplaceError]
) -> Path:
    """The file that a user names: one that comes along, by its name, or a TOML file of their own.

    What ends in `.toml` or holds a folder is a file, anything else a name.

    Args:
        given: What the user wrote.
        kind: What such a file is, for the message, such as 'convention'.
        names: Of those that come along.
        folder: Where these are.
        error: What to raise.

    Raises:
        AutoplaceError: of the given type, when no such file comes along under that name.
    """
    text, path = str(given), Path(given)
    if text in names:
        return folder / f"{text}.toml"
    if path.suffix.lower() != ".toml" and len(path.parts) < 2:
        near = difflib.get_close_matches(text, names, n=1)
        hint = f" (did you mean '{near[0]}'?)" if near else ""
        raise error(
            f"There is no {kind} '{text}'{hint}: there are {', '.join(names)}, and a file of your "
            "own ends in .toml."
        )
    return path


def read_toml(path: Path, error: type[AutoplaceError]) -> dict[str, Any]:
    """What a TOML file holds.

    Raises:
        FileMissing: it cannot be opened.
        AutoplaceError: of the given type, when it is no TOML; the message tells only why.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise error("it is far too large: is it another file?")
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as reason:
        raise FileMissing(
            f"Cannot read '{path}': {reason.strerror or reason}; check the name."
        ) from reason
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as reason:
        raise error(f"it cannot be read as TOML ({reason}).") from reason
    except RecursionError as reason:
        raise error("its brackets are nested too deep.") from reason
    except ValueError as reason:  # an integer of thousands of digits, or a day that is none
        raise error(f"it holds a value that cannot be read ({reason}).") from reason
    level: list[Any] = [data]
    for _ in range(DEEPEST):
        level = [inner for value in level for inner in _inside(value)]
    if level:
        raise error("its tables are nested too deep.")
    return data


def _inside(value: Any) -> list[Any]:
    """The values of a table or a list."""
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []
