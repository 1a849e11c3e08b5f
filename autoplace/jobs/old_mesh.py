"""The earlier model that a skeleton, or edits, were made in, found again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.errors import SkeletonError

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.skeleton.model import Source

__all__ = ["find_old_mesh"]


def find_old_mesh(
    source: Source, path: Path, character: Character, old_mesh: Path | None
) -> tuple[Character, tuple[str, ...]]:
    """The model that a file was made in, and what is odd about it.

    Args:
        source: the mesh that the file names.
        path: the file, a skeleton or edits.
        character: the new model, which may be the same.
        old_mesh: where the earlier model is; unsaid, the file of that name and content beside
            `path`, or beside the new model.

    Raises:
        SkeletonError: it is not there, or has changed since.
        InputError: the file given cannot be read.
    """
    from autoplace.mesh.load import load

    if old_mesh is not None:
        earlier = load(old_mesh)
        if source.sha256 and source.sha256 != earlier.sha256:
            return earlier, (
                f"{old_mesh.name} is not the very file that {path.name} was made in (their "
                "sha256 differ); joints are right only if the model in it is the same.",
            )
        return earlier, ()
    return _found(source, path, character), ()


def _found(source: Source, path: Path, character: Character) -> Character:
    """The mesh of that name and content, looked for beside the file and beside the new model."""
    from autoplace.mesh.load import load

    if source.sha256 and source.sha256 == character.sha256:
        return character
    if not (source.mesh and source.sha256):
        raise SkeletonError(
            f"'{path}' does not record the mesh it was made in; give that with --old-mesh."
        )
    name = Path(source.mesh).name
    folders = [path.parent, *([character.path.parent] if character.path else [])]
    changed = None
    for folder in dict.fromkeys(folders):
        candidate = folder / name
        if not candidate.is_file():
            continue
        earlier = load(candidate)
        if earlier.sha256 == source.sha256:
            return earlier
        changed = candidate
    if changed is not None:
        raise SkeletonError(
            f"'{changed}' has changed since '{path}' was made in it; give the earlier file with "
            "--old-mesh."
        )
    raise SkeletonError(
        f"The mesh '{name}' that '{path}' was made in is not beside it; say where it is with "
        "--old-mesh."
    )
