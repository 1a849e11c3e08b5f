"""A skeleton written as any of the formats there are, told by the ending of the file's name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.errors import OutputError, SettingsError

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.skeleton.model import Skeleton

__all__ = ["ExportFormat", "export_format", "export_skeleton", "refuse_unit"]


@dataclass(frozen=True)
class ExportFormat:
    """One kind of file."""

    name: str
    endings: tuple[str, ...]
    mesh: bool
    """Whether it can hold the character's mesh, and says what one unit is in metres."""
    table: str | None = None
    """The table of names that it has by its standard."""


FORMATS = (
    ExportFormat("glTF", (".glb", ".gltf"), mesh=True),
    ExportFormat("USD", (".usda", ".usdc", ".usdz", ".usd"), mesh=True),
    ExportFormat("X3D", (".x3d",), mesh=True, table="hanim"),
    ExportFormat("BVH", (".bvh",), mesh=False),
    ExportFormat("CSV", (".csv",), mesh=False),
    ExportFormat("JSON", (".skeleton.json", ".json"), mesh=False),
)


def export_format(path: Path) -> ExportFormat:
    """The format that a path's ending tells.

    Raises OutputError with the list for any other ending, for a folder, and when a library is
    missing that the format needs.
    """
    if path.is_dir():
        raise OutputError(f"{str(path)!r} is a folder; name a file to write.")
    name = path.name.lower()
    for known in FORMATS:
        if name.endswith(known.endings):
            if known.name == "USD" and find_spec("pxr") is None:
                raise OutputError(
                    f"Writing {path.name!r} needs the library usd-core: pip install usd-core."
                )
            return known
    endings = [ending for known in FORMATS for ending in known.endings if ending != ".json"]
    raise OutputError(
        f"{path.name!r} does not tell by its ending what to write: it must end in "
        f"{', '.join(endings[:-1])} or {endings[-1]}."
    )


def refuse_unit(kind: ExportFormat, metres_per_unit: float | None) -> None:
    """SettingsError for a unit that is no length, or that changes nothing in this kind of file."""
    if metres_per_unit is None:
        return
    if not kind.mesh:
        raise SettingsError(
            f"{kind.name} keeps the units of the skeleton, so --metres-per-unit changes nothing: "
            "leave it out."
        )
    if not 0 < metres_per_unit < float("inf"):
        raise SettingsError(
            f"--metres-per-unit {metres_per_unit:g} is no length: give a positive number, such as "
            "0.01 for centimetres."
        )


def export_skeleton(
    skeleton: Skeleton,
    path: str | Path,
    character: Character | None = None,
    *,
    names: Sequence[str] | None = None,
    metres_per_unit: float | None = None,
) -> tuple[str, ...]:
    """Writes a skeleton, and the character where the format holds meshes, whole or not at all.

    Args:
        skeleton: Under our own names as far as they are known, which tell tips, eyes and sides.
        path: Its ending tells the format.
        character: The mesh that the skeleton stands in, in the same frame and units.
        names: What the joints, in order, are called in the file; unsaid, as in the skeleton, but
            in X3D as HAnim calls them.
        metres_per_unit: For formats that count in metres; unsaid, a power of ten is guessed from
            the height, and said in a note.

    Returns:
        Notes, one sentence each: what was taken for granted, and what the format cannot carry.

    Raises:
        OutputError: the ending tells no format, a name is forbidden in it or given twice, or the
            file cannot be written.
        SkeletonError: a broken tree.
    """
    target = Path(path)
    kind = export_format(target).name
    if kind == "BVH":
        from autoplace.files.bvh_writer import write_bvh

        return write_bvh(skeleton, target, names=names)
    if kind == "CSV":
        from autoplace.files.joint_table import write_joint_table

        return write_joint_table(skeleton, target, names=names)
    if kind == "JSON":
        from autoplace.files.export_notes import names_or_own
        from autoplace.files.skeleton_json import write_skeleton
        from autoplace.skeleton.renaming import renamed

        given = names_or_own(skeleton, names)
        called = renamed(skeleton, dict(zip(skeleton.names, given, strict=True)))
        write_skeleton(called, target)
        return ()
    if kind == "USD":
        from autoplace.files.usd_writer import write_usd

        return write_usd(skeleton, target, character, names=names, metres_per_unit=metres_per_unit)
    if kind == "X3D":
        from autoplace.files.x3d_writer import write_x3d

        return write_x3d(skeleton, target, character, names=names, metres_per_unit=metres_per_unit)
    from autoplace.files.gltf import write_glb

    return write_glb(character, skeleton, target, metres_per_unit=metres_per_unit, names=names)
