"""Copies the demo characters to where a user can look at them and try things."""

from __future__ import annotations

import shutil
from pathlib import Path

from autoplace.data import data_folder
from autoplace.errors import OutputError

__all__ = ["FIRST", "copy_characters"]

FIRST = "keeper.obj"
"""The character that `autoplace demo` runs the job on."""
MESH_SUFFIXES = (".obj", ".mtl", ".ply", ".stl", ".glb", ".gltf")
TRUTH_SUFFIX = ".truth.json"


def copy_characters(folder: Path) -> tuple[Path, ...]:
    """Copy the meshes and their known joints into `folder`, which is made if it is missing.

    A file that is already there is left as it is: it may have been worked on.

    Returns:
        The meshes in `folder`, sorted.

    Raises:
        OutputError: the folder cannot be made or written.
    """
    sources = sorted(
        path
        for path in data_folder("meshes").iterdir()
        if path.suffix.lower() in MESH_SUFFIXES or path.name.endswith(TRUTH_SUFFIX)
    )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for source in sources:
            if not (folder / source.name).exists():
                shutil.copyfile(source, folder / source.name)
    except OSError as error:
        raise OutputError(
            f"The demo characters cannot be copied into {str(folder)!r}: "
            f"{error.strerror or error}; name another folder."
        ) from error
    return tuple(folder / s.name for s in sources if s.suffix.lower() in MESH_SUFFIXES[:1])
