"""A skeleton oriented anew, from its file to the files a user keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.jobs.outputs import Outputs, check_outputs, write_together

if TYPE_CHECKING:
    from autoplace.files.open_skeleton import OpenedSkeleton
    from autoplace.skeleton.convention import Convention
    from autoplace.skeleton.model import Skeleton

__all__ = ["OrientJob", "run_orient"]

REDONE = (
    "oriented",
    "axes_orthonormal",
    "axes_right_handed",
    "rest_rotation",
    "rest_scale",
    "aim",
    "aim_target",
    "eye_direction",
    "tip_aligned",
    "mirrored_axes",
    "bend_axes_agree",
    "bend_sign",
)
"""Checks of axes, whose findings are made anew when the axes are."""


@dataclass(frozen=True)
class OrientJob:
    """What one run found and wrote."""

    file: str
    """Name of the file that held the skeleton."""
    opened: OpenedSkeleton
    skeleton: Skeleton
    """Oriented, under the file's own names."""
    report: Mapping[str, Any]
    """Plain data: convention, what turned, how each hinge was found, findings about axes."""
    written: Outputs
    kept: tuple[Path, ...]
    """The earlier skeleton, set aside."""


def run_orient(
    path: Path,
    outputs: Outputs,
    convention: Callable[[Convention | None], Convention],
    *,
    up: str | None = None,
    forward: str | None = None,
    bake: bool = False,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> OrientJob:
    """Read a skeleton, orient it, draw its axes, and write all files at once at the end.

    Args:
        path: The skeleton's file.
        outputs: Where the results go.
        convention: Gives the convention to use from the one the skeleton records (None if none).
        up: Axis of the file that points up; None takes what the file says.
        forward: Axis of the file that the character faces.
        bake: Make the way the joints stand their rest, where they are rotated or scaled.
        overwrite: Replace even what a person may have worked on.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend; nothing is written then.
    """
    if path.is_file():  # if it is not, that is what the user should hear about
        check_outputs(outputs, None, overwrite, fitted=path)
    progress("read")
    from autoplace.files.open_skeleton import open_skeleton

    opened = open_skeleton(path, bake=bake, up=up, forward=forward)
    progress("orientation")
    from autoplace.reports.orient import orient_report
    from autoplace.skeleton.checks import check
    from autoplace.skeleton.convention import recorded
    from autoplace.skeleton.orient import orient

    before = opened.skeleton
    used = convention(recorded(before.settings))
    oriented = orient(before, used)
    found = tuple(f for f in check(oriented) if f.check in REDONE)
    oriented = replace(
        oriented, findings=(*(f for f in before.findings if f.check not in REDONE), *found)
    )
    report = orient_report(before, oriented, opened.own_names)
    result = opened.under_own_names(oriented)
    report["findings"] = [vars(f) for f in result.findings if f.check in REDONE]
    writers: dict[Path, Callable[[Path], object]] = {}
    if outputs.sheet is not None:
        progress("picture")
        from autoplace.show.axes_sheet import render_axes_sheet
        from autoplace.show.sheet import write_sheet

        picture = render_axes_sheet(oriented, title=path.name)
        writers[outputs.sheet] = lambda target: write_sheet(picture, target)
    progress("write")
    from autoplace.files.skeleton_json import write_skeleton

    writers[outputs.skeleton] = lambda target: write_skeleton(result, target)
    kept = write_together(writers, keep=(path,))
    return OrientJob(path.name, opened, result, report, outputs, kept)
