"""Which files a run writes, whether it may, and writing them all or none.

Nothing that a person may have worked on is replaced unasked:

- a skeleton with joints that a person locked or moved, or a file at that path that is no skeleton
  of ours, stops the run before it starts, unless `--overwrite` is given;
- so does a picture or an export at a path where a file of somebody else's lies;
- an earlier skeleton of ours is replaced; if it had joints that the new one lacks, or is the one
  that was fitted anew, it is kept beside it as `*.previous.json` (or `*.previous_2.json`, ...), and
  that is said. A skeleton that is fitted anew may have such joints, for these are not touched, and
  so may one all of whose such joints are in the edits that the run is given.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from autoplace.errors import OutputError
from autoplace.files.export import export_format
from autoplace.files.marks import is_ours, joints_by_hand
from autoplace.files.texture_folder import ENDING, check_texture_folder, move_textures

__all__ = [
    "Outputs",
    "check_alone",
    "check_outputs",
    "check_picture",
    "edits_beside",
    "plan_mended",
    "plan_orient",
    "plan_outputs",
    "plan_refit",
    "skeleton_stem",
    "write_together",
]

SKELETON_SUFFIX = ".skeleton.json"


@dataclass(frozen=True)
class Outputs:
    """Where each result of a run goes."""

    skeleton: Path
    sheet: Path | None = None
    export: Path | None = None
    hand_sheet: Path | None = None
    face_sheet: Path | None = None
    page: Path | None = None

    def paths(self) -> tuple[Path, ...]:
        """All that will be written; the skeleton last, so that it stands only beside the others."""
        sheets = (self.sheet, self.hand_sheet, self.face_sheet, self.page)
        return tuple(p for p in (*sheets, self.export, self.skeleton) if p is not None)


def plan_outputs(
    mesh: Path,
    skeleton: Path | None = None,
    *,
    export: Path | None = None,
    sheet: Path | None = None,
    no_sheet: bool = False,
    hand_sheet: Path | None = None,
    face_sheet: Path | None = None,
    page: Path | None = None,
) -> Outputs:
    """Output paths from what the user said; unsaid, they stand beside the mesh under its name.

    Raises:
        OutputError: a path ends in a kind of file that is not written there, or a library is
            missing that it needs.
    """
    if skeleton is None:
        skeleton = _beside(mesh)
    elif skeleton.is_dir():
        skeleton = skeleton / (mesh.stem + SKELETON_SUFFIX)
    _must_end(skeleton, (".json",), "The skeleton is written as JSON")
    sheet = None if no_sheet else _picture(skeleton, "sheet", sheet, "picture sheet")
    for picture in (hand_sheet, face_sheet):
        if picture is not None:
            _must_end(picture, (".png",), "The picture sheet is written as PNG")
    if export is not None:
        export_format(export)
    if page is not None:
        _must_end(page, (".html", ".htm"), "The page is written as HTML")
    return Outputs(skeleton, sheet, export, hand_sheet, face_sheet, page)


def plan_refit(
    kind: str,
    mesh: Path,
    skeleton: Path | None,
    out: Path | None = None,
    *,
    sheet: Path | None = None,
    no_sheet: bool = False,
) -> Outputs:
    """Output paths of `hands` and `eyes`: unsaid, the skeleton that is fitted is replaced, or gets
    a `*.skeleton.json` beside it if it is another kind of file.

    Args:
        kind: 'hands' or 'eyes', in the picture's name.
        mesh: The character's file.
        skeleton: The skeleton to fit; None for a mesh that gets one of its own.
        out: Where the result goes, file or folder.
        sheet: Where the picture goes; unsaid, beside the result.
        no_sheet: Draw no picture.

    Raises:
        OutputError: a path ends in a kind of file that is not written there.
    """
    usual = _beside(mesh) if skeleton is None else _in_place(skeleton)
    target = usual if out is None else out / usual.name if out.is_dir() else out
    _must_end(target, (".json",), "The skeleton is written as JSON")
    picture = None if no_sheet else _picture(target, kind, sheet, "picture sheet")
    return Outputs(
        target,
        hand_sheet=picture if kind == "hands" else None,
        face_sheet=picture if kind == "eyes" else None,
    )


def plan_orient(
    given: Path, out: Path | None = None, *, sheet: Path | None = None, no_sheet: bool = False
) -> Outputs:
    """Output paths of `orient`: unsaid, a skeleton of ours is replaced; of another kind of file the
    result stands beside it as `*.skeleton.json`.

    Raises:
        OutputError: a path ends in a kind of file that is not written there.
    """
    usual = _in_place(given)
    target = usual if out is None else out / usual.name if out.is_dir() else out
    _must_end(target, (".json",), "The skeleton is written as JSON")
    return Outputs(
        target, None if no_sheet else _picture(target, "axes", sheet, "picture of the axes")
    )


def plan_mended(skeleton: Path, out: Path | None = None) -> Outputs:
    """Where `check --mend` writes: unsaid, beside the skeleton as `*.mended.skeleton.json`.

    Raises:
        OutputError: the path is not that of a JSON file.
    """
    stem = skeleton.name.removesuffix(skeleton.suffix).removesuffix(".skeleton")
    usual = skeleton.with_name(f"{stem}.mended{SKELETON_SUFFIX}")
    target = usual if out is None else out / usual.name if out.is_dir() else out
    _must_end(target, (".json",), "The skeleton is written as JSON")
    return Outputs(target)


def skeleton_stem(skeleton: Path) -> str:
    """What files beside a skeleton are named after: 'keeper' of `keeper.skeleton.json`."""
    return skeleton.name.removesuffix(".json").removesuffix(".skeleton")


def edits_beside(skeleton: Path) -> Path:
    """Where the corrections of a skeleton go: `keeper.edits.json` beside `keeper.skeleton.json`.

    Raises:
        OutputError: something else lies there.
    """
    path = skeleton.with_name(f"{skeleton_stem(skeleton)}.edits.json")
    if path.exists() and not is_ours(path):
        raise OutputError(
            f"{str(path)!r} exists and holds no corrections that autoplace wrote; move it away, or "
            "name another place for the skeleton with -o."
        )
    return path


def check_outputs(
    outputs: Outputs,
    mesh: Path | None,
    overwrite: bool = False,
    fitted: Path | None = None,
    *,
    inputs: Mapping[Path, str] | None = None,
    carried: Collection[str] = (),
) -> None:
    """Find out before the work whether the files may be written.

    Args:
        outputs: The files.
        mesh: A file that the run reads and must not write.
        overwrite: Whether what a person may have worked on may be replaced.
        fitted: A skeleton that the run starts from and whose locked joints it keeps.
        inputs: Other files that the run reads and must not write, and what each is.
        carried: Joints that a person decided in what the run is given: no skeleton is lost where
            no others were decided.

    Raises:
        OutputError: a folder is missing or closed, two files have one path, or something that must
            not be lost lies there.
    """
    taken = {path.resolve(): what for path, what in (inputs or {}).items()}
    if mesh is not None:
        taken[mesh.resolve()] = "the mesh itself"
    for path in outputs.paths():
        _check_path(path, taken)
        taken[path.resolve()] = "another output of this run"
        same = fitted is not None and path.resolve() == fitted.resolve()
        if path.exists() and not overwrite and not same:
            _check_replaceable(path, carried)


def check_picture(picture: Path, taken: Mapping[Path, str], overwrite: bool = False) -> None:
    """Find out before the work whether the picture of a run that writes no more may be written.

    `taken` are files that the run reads, and what each is.

    Raises:
        OutputError: as `check_outputs` does, or for a file that does not end in .png.
    """
    _must_end(picture, (".png",), "The picture is written as PNG")
    check_alone(picture, taken, overwrite)


def check_alone(target: Path, taken: Mapping[Path, str], overwrite: bool = False) -> None:
    """Find out before the work whether the one file of a run may be written.

    `taken` are files that the run reads, and what each is. Raises OutputError as `check_outputs`
    does.
    """
    _check_path(target, {path.resolve(): what for path, what in taken.items()})
    if target.exists() and not overwrite:
        _check_replaceable(target)


def write_together(
    writers: Mapping[Path, Callable[[Path], object]], keep: Collection[Path] = ()
) -> tuple[Path, ...]:
    """Write every file aside, then move all into place, so that a failure leaves no half set.

    Args:
        writers: For each path, in order, the function that writes that file to a path given to it.
        keep: Skeletons among them to keep under another name whenever they change.

    Returns:
        Earlier skeletons that were kept under another name (see the top of this module).

    Raises:
        OutputError: the disk refuses; what stood there before is untouched.
    """
    staging: dict[Path, Path] = {}
    waiting: dict[Path, Path] = {}  # where each file goes in the end: where it was written
    given: dict[Path, Path] = {}  # the same by the name it was given
    kept: list[Path] = []
    try:
        for path, write in writers.items():
            target = path.resolve()  # what a link points at is replaced, not the link
            given[target] = path
            folder = target.parent
            if folder not in staging:
                staging[folder] = Path(tempfile.mkdtemp(prefix=".autoplace-", dir=folder))
            waiting[target] = staging[folder] / target.name
            write(waiting[target])
            _open_to_others(waiting[target])
        always = {path.resolve() for path in keep}
        textures = {
            written: folder / written.name
            for folder, aside in staging.items()
            for written in sorted(aside.glob(f"*{ENDING}"))
            if written.is_dir()
        }
        for written, folder in textures.items():
            files = {file.name: file.read_bytes() for file in written.iterdir()}
            check_texture_folder(folder, files)
        for written, folder in textures.items():  # first, so that no file names what is not there
            move_textures(written, folder)
        for target, written in waiting.items():
            aside = _keep_if_richer(target, written, target in always)
            if aside is not None:
                beside = given[target].parent
                kept.append(beside / aside.name if beside.resolve() == aside.parent else aside)
            os.replace(written, target)
    except OSError as error:
        raise OutputError(
            f"The results could not be written beside {str(next(iter(writers)))!r}: "
            f"{error.strerror or error}."
        ) from error
    finally:
        for folder in staging.values():
            shutil.rmtree(folder, ignore_errors=True)
    return tuple(kept)


def _check_path(path: Path, taken: Mapping[Path, str]) -> None:
    """`taken` are resolved paths that must not be written, and what each is."""
    folder = path.parent
    if not folder.is_dir():
        raise OutputError(f"There is no folder {str(folder)!r} to write {path.name} into.")
    if path.is_dir():
        raise OutputError(f"{str(path)!r} is a folder; name a file to write.")
    if not os.access(folder, os.W_OK):
        raise OutputError(f"The folder {str(folder)!r} does not let {path.name} be written.")
    if path.resolve() in taken:
        raise OutputError(
            f"{str(path)!r} is already {taken[path.resolve()]}; name another file to write."
        )


def _picture(skeleton: Path, kind: str, given: Path | None, called: str) -> Path:
    """Where a picture goes: as given, else beside the skeleton as `*.KIND.png`."""
    if given is None:
        return skeleton.with_name(f"{skeleton_stem(skeleton)}.{kind}.png")
    _must_end(given, (".png",), f"The {called} is written as PNG")
    return given


def _beside(file: Path) -> Path:
    """The skeleton of ours beside another kind of file."""
    return file.with_name(file.stem + SKELETON_SUFFIX)


def _in_place(skeleton: Path) -> Path:
    """Where what is made of a skeleton goes unsaid: our own format is replaced, no other."""
    return skeleton if skeleton.suffix.lower() == ".json" else _beside(skeleton)


def _must_end(path: Path, suffixes: tuple[str, ...], what: str) -> None:
    if path.suffix.lower() not in suffixes:
        folder = "" if path.suffix else "; a folder must be there already"
        raise OutputError(f"{what}, so {path.name!r} must end in {' or '.join(suffixes)}{folder}.")


def _check_replaceable(path: Path, carried: Collection[str] = ()) -> None:
    if path.suffix.lower() == ".json":
        joints = joints_by_hand(path)
        if joints is None:
            raise OutputError(
                f"{str(path)!r} exists and is not a skeleton that autoplace wrote; "
                "choose another name with -o, or give --overwrite to replace it."
            )
        by_hand = [name for name, decided in joints.items() if decided and name not in carried]
        if by_hand:
            shown = ", ".join(by_hand[:3]) + (", ..." if len(by_hand) > 3 else "")
            number = f"{len(by_hand)} joint{'s' * (len(by_hand) > 1)}"
            raise OutputError(
                f"{str(path)!r} holds {number} placed by hand "
                f"({shown}); choose another name with -o, or give --overwrite to lose them."
            )
    elif not is_ours(path):
        raise OutputError(
            f"{str(path)!r} exists and was not written by autoplace; "
            "choose another name, or give --overwrite to replace it."
        )


def _keep_if_richer(path: Path, new: Path, always: bool) -> Path | None:
    """Set the earlier skeleton aside if it has joints that the new one lacks, or differs and shall
    always be kept."""
    if path.suffix.lower() != ".json" or not path.exists():
        return None
    if always and path.read_bytes() == new.read_bytes():
        return None
    old_joints, new_joints = joints_by_hand(path), joints_by_hand(new)
    if old_joints is None or new_joints is None:
        return None
    if old_joints.keys() <= new_joints.keys() and not always:
        return None
    stem, count = path.name.removesuffix(path.suffix), 1
    aside = path.with_name(f"{stem}.previous{path.suffix}")
    while aside.exists() and aside.read_bytes() != path.read_bytes():
        count += 1
        aside = path.with_name(f"{stem}.previous_{count}{path.suffix}")
    shutil.copy2(path, aside)
    return aside


def _open_to_others(path: Path) -> None:
    """Give a file made in a private temporary place the rights any new file would have."""
    mask = os.umask(0)
    os.umask(mask)
    path.chmod(0o666 & ~mask)
