"""A skeleton checked, and mended if asked for, from its file to the file a user keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.jobs.outputs import Outputs, check_outputs, plan_mended, write_together

if TYPE_CHECKING:
    from autoplace.files.open_skeleton import OpenedSkeleton
    from autoplace.mesh_facts import MeshFacts
    from autoplace.skeleton.checks import Survey
    from autoplace.skeleton.mend_record import Change
    from autoplace.skeleton.model import Skeleton

__all__ = ["CheckJob", "run_check"]


@dataclass(frozen=True)
class CheckJob:
    """What one run looked at, found, mended and wrote; joints under the file's own names."""

    skeleton: Path
    mesh: Path | None
    opened: OpenedSkeleton
    survey: Survey
    """Of the skeleton as it is after mending."""
    changes: tuple[Change, ...]
    """What was mended, in order."""
    facts: MeshFacts | None
    """What was measured on the mesh, if one was given."""
    depths: Mapping[str, float]
    """Joint -> how deep it lies in the body, in heights, where that was measured."""
    least_deep: str | None
    """The joint that lies least deep, helpers at the ends and eyes left out."""
    notes: tuple[str, ...]
    """What the readers of the files had to pass over or take for granted."""
    written: Outputs | None
    kept: tuple[Path, ...]
    """An earlier skeleton, set aside."""


def run_check(
    skeleton: Path,
    mesh: Path | None = None,
    *,
    mending: bool = False,
    out: Path | None = None,
    up: str | None = None,
    forward: str | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> CheckJob:
    """Read the files, check, mend what has one answer, check again, and write.

    Args:
        skeleton: Any kind of skeleton file that is read.
        mesh: The character's file, in the skeleton's frame and units.
        mending: Repair what has one right answer and write the result, if anything changed, or if
            `out` says where.
        out: Where the mended skeleton goes, file or folder; unsaid, beside the one given as
            `*.mended.skeleton.json`.
        up: Where up is in the file, such as '+Z', over what the file says.
        forward: Where the character faces, likewise.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    outputs = plan_mended(skeleton, out) if mending else None
    if outputs is not None and skeleton.is_file():
        check_outputs(outputs, mesh, overwrite, fitted=skeleton)
    progress("read")
    from autoplace.files.open_skeleton import open_skeleton
    from autoplace.skeleton.checks.tree import FATAL
    from autoplace.skeleton.mend import Mended, mend

    opened = open_skeleton(skeleton, up=up, forward=forward, require_tree=False, refuse_posed=False)
    facts, notes = None, opened.notes
    if mesh is not None:
        from autoplace.mesh.load import load
        from autoplace.mesh_facts import mesh_facts

        character = load(mesh)
        notes = (*notes, *character.notes)
        progress("mesh")
        facts = mesh_facts(character, opened.skeleton)
    progress("checks")
    done = Mended(opened.skeleton, ())
    if mending:
        done = mend(done.skeleton, whole_residual=None if facts is None else facts.whole_residual)
    now, changes = done.skeleton, done.changes
    found = _survey(now, opened, facts)
    now = replace(now, findings=found.after(now.findings))
    own = opened.under_own_names(now)
    names = dict(zip(now.names, own.names, strict=True))
    depths = _depths(now, facts)
    written, kept = None, tuple[Path, ...]()
    broken = any(f.check in FATAL for f in found.findings)
    if outputs is not None and broken:
        notes = (*notes, "Nothing was written, for the hierarchy is still broken.")
    elif outputs is not None and (changes or out is not None):
        progress("write")
        from autoplace.files.skeleton_json import write_skeleton

        written = outputs
        kept = write_together(
            {outputs.skeleton: lambda path: write_skeleton(own, path)}, keep=(skeleton,)
        )
    return CheckJob(
        skeleton,
        mesh,
        opened,
        replace(found, findings=own.findings[len(own.findings) - len(found.findings) :]),
        tuple(_under_own_names(change, names) for change in changes),
        facts,
        {names[name]: depth for name, depth in depths.items()},
        names.get(_least(depths) or ""),
        notes,
        written,
        kept,
    )


def _survey(skeleton: Skeleton, opened: OpenedSkeleton, facts: MeshFacts | None) -> Survey:
    from autoplace.skeleton.checks import survey

    # in our own files a scale is the length of the axes, which are looked at themselves
    scaled = {} if opened.format == "skeleton.json" else opened.scaled
    if facts is None:
        return survey(skeleton, turned=opened.turned, scaled=scaled)
    return facts.survey(skeleton, turned=opened.turned, scaled=scaled)


def _depths(skeleton: Skeleton, facts: MeshFacts | None) -> dict[str, float]:
    import numpy as np

    positions = skeleton.positions()
    if facts is None or facts.depth_at is None or not np.all(np.isfinite(positions)):
        return {}
    return dict(zip(skeleton.names, facts.depth_at(positions).tolist(), strict=True))


def _least(depths: Mapping[str, float]) -> str | None:
    from autoplace.skeleton.names import family, is_tip

    inner = [n for n in depths if family(n) not in (None, "eye") and not is_tip(n)]
    return min(inner, key=lambda name: depths[name]) if inner else None


def _under_own_names(change: Change, names: Mapping[str, str]) -> Change:
    """A change with every joint, also those in quotes, under the file's own name."""
    from autoplace.skeleton.renaming import renamed_text

    return replace(
        change,
        joint=names.get(change.joint, change.joint),
        before=renamed_text(change.before, names),
        after=renamed_text(change.after, names),
        why=renamed_text(change.why, names),
    )
