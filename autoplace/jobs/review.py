"""One character under review, from its files to the page and back to the files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.errors import OutputError
from autoplace.jobs.outputs import (
    Outputs,
    check_alone,
    check_outputs,
    edits_beside,
    plan_outputs,
    plan_refit,
    skeleton_stem,
    write_together,
)

if TYPE_CHECKING:
    from autoplace.files.open_skeleton import OpenedSkeleton
    from autoplace.measure.frame_record import Frame
    from autoplace.mesh.character import Character
    from autoplace.mesh_facts import MeshFacts
    from autoplace.review.draft import Draft
    from autoplace.review.snaps import SnapTargets
    from autoplace.skeleton.edits import Edits
    from autoplace.skeleton.model import Finding, Skeleton, Source

__all__ = ["Review", "open_review"]


@dataclass(frozen=True)
class Review:
    """What was opened: the character, its skeleton, and the corrections so far."""

    character: Character
    frame: Frame
    placed: Skeleton
    """Without corrections, joints under our names."""
    edits: Edits
    """Corrections to start from."""
    saved: Edits
    """Those that the files hold which saving writes."""
    unsaved: Edits | None
    """Corrections that an earlier page left without saving."""
    draft: Draft
    facts: MeshFacts
    opened: OpenedSkeleton | None
    """The skeleton's file, None where one was placed."""
    skeleton_path: Path
    edits_path: Path
    replaces_another: bool
    """Whether a skeleton lies where saving writes that is not the one that was opened."""
    notes: tuple[str, ...]
    """What the readers had to pass over, and where skeleton and corrections came from."""

    def snap_targets(self) -> SnapTargets:
        """Where its joints may snap to."""
        from autoplace.refit.recorded import roles_in, settings_for
        from autoplace.review.snaps import SnapTargets

        settings = settings_for(self.character, self.placed)
        prepared, roles = roles_in(self.frame, self.character, settings)
        return SnapTargets(self.character, self.frame, self.placed, prepared.original_roles(roles))

    def check(self, skeleton: Skeleton) -> tuple[Finding, ...]:
        """Findings of a skeleton in this mesh, after those that placing alone can make."""
        return self.facts.survey(skeleton).after(self.placed.findings)

    def save(
        self, skeleton: Skeleton, edits: Edits, *, set_aside: bool = False
    ) -> tuple[Path, ...]:
        """Write skeleton and corrections, both or none; the paths.

        With `set_aside` an earlier skeleton at that place is kept beside as `*.previous.json`.

        Raises OutputError when the disk refuses.
        """
        from autoplace.files.edits_json import write_edits
        from autoplace.files.skeleton_json import write_skeleton

        checked = replace(skeleton, findings=self.check(skeleton))
        own = checked if self.opened is None else self.opened.under_own_names(checked)
        write_together(
            {
                self.edits_path: lambda path: write_edits(edits, path),
                self.skeleton_path: lambda path: write_skeleton(own, path),
            },
            keep=(self.skeleton_path,) if set_aside else (),
        )
        self.draft.forget()
        return (self.edits_path, self.skeleton_path)

    def export(self, skeleton: Skeleton, ending: str) -> tuple[Path, tuple[str, ...]]:
        """Write the skeleton, with the mesh where the format holds one, beside the skeleton's file.

        Raises OutputError when the file is not ours to replace, or the disk refuses.
        """
        from autoplace.files.export import export_format, export_skeleton

        path = self.skeleton_path.with_name(skeleton_stem(self.skeleton_path) + ending)
        export_format(path)
        taken = {} if self.character.path is None else {self.character.path: "the mesh itself"}
        check_alone(path, taken)
        own = skeleton if self.opened is None else self.opened.under_own_names(skeleton)
        names = None if own.names == skeleton.names else own.names
        notes: list[str] = []

        def write(target: Path) -> None:
            notes.extend(export_skeleton(skeleton, target, self.character, names=names))

        write_together({path: write})
        return path, tuple(notes)


def open_review(
    mesh: Path,
    skeleton: Path | None = None,
    *,
    out: Path | None = None,
    edits: Path | None = None,
    changes: Any = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> Review:
    """Read the character, open or place its skeleton, and find the corrections made before.

    Args:
        mesh: The character's file.
        skeleton: Its skeleton, any kind of file that is read. Unsaid, the one beside the mesh, if
            it was made in this very mesh, and else one is placed.
        out: Where saving writes the skeleton, file or folder; unsaid, the skeleton that is opened,
            or beside the mesh.
        edits: Corrections to start from; unsaid, those beside the skeleton.
        changes: Settings by name for placing.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend.
    """
    from autoplace.mesh.load import load

    progress("read")
    character = load(mesh)
    usual = plan_outputs(mesh, out, no_sheet=True).skeleton
    notes = list(character.notes)
    if skeleton is None and out is None and not changes and _is_of(usual, character):
        skeleton = usual
        notes.append(f"{usual.name} is reviewed, which was made in this mesh.")
    target = usual if skeleton is None else plan_refit("review", mesh, skeleton, out).skeleton
    opened, start = _skeleton(character, skeleton, changes or {}, progress)
    check_outputs(Outputs(target), mesh, fitted=skeleton)
    return _with_edits(character, start, opened, skeleton, target, edits, tuple(notes), progress)


def _skeleton(
    character: Character,
    path: Path | None,
    changes: dict[str, Any],
    progress: Callable[[str], None],
) -> tuple[OpenedSkeleton | None, Skeleton]:
    """The skeleton to review, opened or placed."""
    if path is not None:
        from autoplace.files.open_skeleton import open_skeleton

        opened = open_skeleton(path)
        return opened, opened.skeleton
    from autoplace.pipeline import place

    return None, place(character, progress=progress, **changes).skeleton


def _with_edits(
    character: Character,
    start: Skeleton,
    opened: OpenedSkeleton | None,
    opened_path: Path | None,
    target: Path,
    given: Path | None,
    notes: tuple[str, ...],
    progress: Callable[[str], None],
) -> Review:
    from autoplace.mesh_facts import mesh_facts
    from autoplace.refit.recorded import recorded_frame
    from autoplace.review.draft import Draft
    from autoplace.skeleton.edits import apply_edits, edits_of, without_edits

    progress("edits")
    placed, saved = without_edits(start), edits_of(start)
    path = edits_beside(target)
    # what was locked in the skeleton's own file is a decision too
    saved = _joined(saved, _read(path, character)) if path.is_file() else saved
    edits = saved if given is None else _joined(saved, _read(given, character))
    if given is not None or path.is_file():
        notes = (*notes, f"Corrections are from {(given or path).name}.")
    # wherever the skeleton came from, the corrections are places in this mesh
    source = _source(character, placed)
    saved, edits = replace(saved, source=source), replace(edits, source=source)
    apply_edits(placed, edits)  # refused here, where the user is told which joint is not there
    draft = Draft(path)
    progress("mesh")
    facts = mesh_facts(character, placed)
    if opened is not None:
        notes = (*notes, *opened.notes)
    was_opened = opened_path is not None and opened_path.resolve() == target.resolve()
    return Review(
        character=character,
        frame=recorded_frame(character, placed),
        placed=placed,
        edits=edits,
        saved=saved,
        unsaved=draft.found(character.sha256),
        draft=draft,
        facts=facts,
        opened=opened,
        skeleton_path=target,
        edits_path=path,
        replaces_another=target.exists() and not was_opened,
        notes=notes,
    )


def _read(path: Path, character: Character) -> Edits:
    """Corrections made in this mesh, from a file."""
    from autoplace.files.edits_json import read_edits

    read = read_edits(path)
    if read.source.sha256 not in (None, character.sha256):
        raise OutputError(
            f"'{path}' holds corrections of another mesh than '{character.name}': carry them over "
            "with autoplace place --edits, or move the file away."
        )
    return read


def _joined(first: Edits, then: Edits) -> Edits:
    """Both; where both decide the same thing the second goes before."""
    joined = first.with_joints(then.joints)
    return replace(joined, spine=then.spine or first.spine, neck=then.neck or first.neck)


def _source(character: Character, skeleton: Skeleton) -> Source:
    name = character.path.name if character.path else character.name
    return replace(skeleton.source, mesh=name, sha256=character.sha256)


def _is_of(path: Path, character: Character) -> bool:
    """Whether a skeleton of ours lies at the path that was made in this very mesh."""
    from autoplace.errors import AutoplaceError
    from autoplace.files.skeleton_json import read_skeleton

    if not path.is_file():
        return False
    try:
        return read_skeleton(path).source.sha256 == character.sha256
    except AutoplaceError:
        return False
