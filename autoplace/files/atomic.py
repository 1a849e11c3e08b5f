"""Writes a file whole or not at all."""

from __future__ import annotations

import itertools
import os
import shutil
from contextlib import suppress
from pathlib import Path

from autoplace.errors import OutputError

__all__ = ["write_whole"]

_count = itertools.count()


def write_whole(path: str | Path, content: bytes) -> Path:
    """Writes `content` to `path` through a temporary file beside it; gives the path back.

    A reader sees the old file or the new one, never half of one. A link is followed. The mode of
    a file that is replaced is kept.

    Raises OutputError when the folder is missing, the place is a folder, or writing is refused.
    """
    path = Path(path)
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise OutputError(f"'{path}' is a folder: give the name of a file to write.")
    if not target.parent.is_dir():
        raise OutputError(f"Cannot write '{path}': there is no folder '{target.parent}'; make it.")
    # not from `tempfile`: its files are closed to other users, whatever the user's own mask says
    temporary = target.with_name(f".{target.name}.{os.getpid()}.{next(_count)}.part")
    try:
        with open(temporary, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, temporary)
        os.replace(temporary, target)
    except OSError as reason:
        raise OutputError(
            f"Cannot write '{path}': {reason.strerror or reason}; free it or choose another place."
        ) from reason
    finally:
        with suppress(OSError):
            temporary.unlink()
    return path
