"""A skeleton in one file written as another, as the ending of the new file's name says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.errors import SettingsError
from autoplace.files.export import ExportFormat, export_format, refuse_unit
from autoplace.jobs.outputs import check_alone, write_together

if TYPE_CHECKING:
    from autoplace.files.open_skeleton import OpenedSkeleton
    from autoplace.mesh.character import Character
    from autoplace.skeleton.model import Skeleton

__all__ = ["ConvertJob", "run_convert"]

AWAY = 0.5
"""Heights that the joints may stand outside the mesh before they cannot be its own: more than the
length of an arm (.44, US Army 2012 survey: span less biacromial breadth, halved), less than the
difference that another unit makes."""
SMALLER = 20.0
"""Times that the mesh may be as large as the joints. A hand alone in a whole figure is nine times
smaller (hand .11 of the height, US Army 2012 survey), a figure in metres in a mesh of centimetres a
hundred times."""


@dataclass(frozen=True)
class ConvertJob:
    """What one run read and wrote."""

    skeleton: Path
    mesh: Path | None
    opened: OpenedSkeleton
    format: str
    """Of the file that was written, such as 'BVH'."""
    names: tuple[str, ...]
    """What the joints are called in it, in order."""
    notes: tuple[str, ...]
    """What the reader and the writer passed over, took for granted, or could not carry."""
    written: Path
    kept: tuple[Path, ...]
    """An earlier skeleton, set aside."""


def run_convert(
    skeleton: Path,
    out: Path,
    *,
    mesh: Path | None = None,
    names: str | None = None,
    metres_per_unit: float | None = None,
    up: str | None = None,
    forward: str | None = None,
    bake: bool = False,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> ConvertJob:
    """Read a skeleton, bind a mesh to it if one is given, and write both.

    Args:
        skeleton: Any kind of skeleton file that is read.
        out: The file to write; its ending tells the format.
        mesh: The character's file, in the skeleton's frame and units.
        names: A table of names or a TOML file; unsaid, names stay, but X3D has HAnim's.
        metres_per_unit: What one unit of the skeleton is; unsaid, what its file says, else a power
            of ten guessed from the height.
        up: Where up is in the skeleton's file, such as '+Z', over what the file says.
        forward: Where the character faces, likewise.
        bake: Make the way the joints stand their rest, where they are rotated or scaled.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    from autoplace.skeleton.name_tables import load_names, named_by_table

    kind = export_format(out)
    _check_options(kind, mesh, metres_per_unit)
    wanted = names or kind.table
    table = None if wanted is None else load_names(wanted)
    if skeleton.is_file():  # if it is not, that is what the user should hear about
        taken = {skeleton: "the skeleton itself"}
        if mesh is not None:
            taken[mesh] = "the mesh itself"
        check_alone(out, taken, overwrite)
    progress("read")
    from autoplace.files.export import export_skeleton
    from autoplace.files.open_skeleton import open_skeleton

    opened = open_skeleton(skeleton, bake=bake, up=up, forward=forward)
    notes = list(opened.notes)
    called = opened.under_own_names(opened.skeleton).names
    if table is not None:
        called, unnamed = named_by_table(opened.skeleton, called, table)
        notes += unnamed
    character = None
    if mesh is not None:
        from autoplace.mesh.load import load

        character = load(mesh)
        notes += character.notes
        _must_fit(opened.skeleton, character, skeleton, mesh)
    progress("write")
    unit = metres_per_unit or opened.metres_per_unit
    kept = write_together(
        {
            out: lambda path: notes.extend(
                export_skeleton(
                    opened.skeleton, path, character, names=called, metres_per_unit=unit
                )
            )
        }
    )
    return ConvertJob(skeleton, mesh, opened, kind.name, called, tuple(notes), out, kept)


def _check_options(kind: ExportFormat, mesh: Path | None, metres: float | None) -> None:
    if not kind.mesh and mesh is not None:
        raise SettingsError(
            f"{kind.name} holds no mesh: leave out --mesh, or write glTF, USD or X3D."
        )
    refuse_unit(kind, metres)


def _must_fit(skeleton: Skeleton, character: Character, path: Path, mesh: Path) -> None:
    """SettingsError when the joints cannot stand in the mesh, as with another unit or up axis."""
    import numpy as np

    joints, skin = skeleton.positions(), character.vertices
    low, high = skin.min(axis=0), skin.max(axis=0)
    tall = float(np.linalg.norm(high - low))
    size = float(np.linalg.norm(np.ptp(joints, axis=0)))
    outside = np.maximum(np.maximum(low - joints, joints - high), 0.0).max(initial=0.0)
    if outside > AWAY * tall or (len(joints) > 1 and size * SMALLER < tall):
        raise SettingsError(
            f"The joints of '{path}' do not stand in '{mesh}': joints and mesh must be in the same "
            "units and axes; export one of them again."
        )
