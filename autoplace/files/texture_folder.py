"""Textures as files of their own, for formats that name pictures instead of holding them.

They lie in a folder beside the file that names them, which is called after it: `keeper.textures`
beside `keeper.usda`. The name of each ends in a digest of its bytes, so that one picture is there
once, exports that share the folder never take a picture from each other, and a file that somebody
else put there is known as such.
"""

from __future__ import annotations

import hashlib
import os
import re
from contextlib import suppress
from pathlib import Path

from autoplace.errors import OutputError
from autoplace.files.atomic import write_whole
from autoplace.files.looks import Texture

__all__ = [
    "ENDING",
    "check_texture_folder",
    "move_textures",
    "texture_file_name",
    "texture_folder",
    "write_with_textures",
]

ENDING = ".textures"
LETTERS = 40
"""Of a texture's own name that are kept."""
DIGITS = 12
"""Of the digest, in hexadecimal: two of a million pictures are alike by chance once in 500."""
OURS = re.compile(rf"[\w-]+-[0-9a-f]{{{DIGITS}}}\.(png|jpg)", re.ASCII)
KINDS = {"image/png": "png", "image/jpeg": "jpg"}


def texture_file_name(texture: Texture) -> str:
    """What the file of a texture is called: plain letters, and the digest of its bytes."""
    plain = re.sub(r"[^A-Za-z0-9]+", "_", texture.name).strip("_")[:LETTERS] or "texture"
    digest = hashlib.sha256(texture.data).hexdigest()[:DIGITS]
    return f"{plain}-{digest}.{KINDS[texture.kind]}"


def texture_folder(path: str | Path) -> Path:
    """The folder of textures beside a file, where a link leads to if it is one."""
    target = Path(os.path.realpath(path))
    return target.with_name(target.stem + ENDING)


def check_texture_folder(folder: Path, files: dict[str, bytes]) -> None:
    """OutputError when anything lies where the folder is wanted that is not ours to write in."""
    how = "move it away, or choose another name or a format that holds its textures (.usdz, .glb)."
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputError(f"'{folder}' is in the way of the folder for textures: {how}")
    if not folder.exists():
        return
    for name in sorted(entry.name for entry in folder.iterdir()):
        mine = OURS.fullmatch(name) is not None
        if mine and name in files:
            there = folder / name
            mine = there.is_file() and not there.is_symlink() and there.read_bytes() == files[name]
        if not mine:
            raise OutputError(
                f"The folder '{folder}' holds '{name}', which autoplace did not write: {how}"
            )


def write_with_textures(path: Path, content: bytes, files: dict[str, bytes]) -> None:
    """Writes a file and, in its folder, the textures that it names, all or none.

    Raises OutputError when the folder holds what is not ours, or when writing is refused.
    """
    folder = texture_folder(path)
    if not files:
        write_whole(path, content)
        return
    made: list[Path] = []
    new = False
    try:
        check_texture_folder(folder, files)
        new = not folder.exists()
        folder.mkdir(exist_ok=True)
        for name, data in files.items():
            if not (folder / name).exists():
                made.append(folder / name)
                write_whole(folder / name, data)
        write_whole(path, content)
    except OSError as reason:
        _undo(folder, made, new)
        raise OutputError(
            f"Cannot write '{folder}': {reason.strerror or reason}; free it or choose another "
            "place."
        ) from reason
    except OutputError:
        _undo(folder, made, new)
        raise


def move_textures(written: Path, folder: Path) -> None:
    """Moves textures from a folder that was written aside to where they belong; raises OSError.

    What stands there already is the same, by `check_texture_folder`.
    """
    folder.mkdir(exist_ok=True)
    for file in sorted(written.iterdir()):
        os.replace(file, folder / file.name)


def _undo(folder: Path, made: list[Path], new: bool) -> None:
    with suppress(OSError):
        for file in made:
            file.unlink(missing_ok=True)
        if new:
            folder.rmdir()
