"""The bend test of one character, from its files to the report and the picture strip."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.bend_character import bend_character, chosen_tests
from autoplace.errors import SkeletonError
from autoplace.jobs.outputs import check_picture, skeleton_stem, write_together

if TYPE_CHECKING:
    from autoplace.skeleton.bending.records import BendReport

__all__ = ["BendJob", "bend_data", "run_bend_job", "strip_path"]


@dataclass(frozen=True)
class BendJob:
    """What one run found and wrote."""

    mesh: str
    """Name of the mesh file."""
    skeleton: str
    """Name of the skeleton file."""
    report: BendReport
    """Joints under the names that the skeleton file gives them."""
    face_count: int
    """Triangles of the character."""
    joint_count: int
    notes: tuple[str, ...]
    """What the readers of both files had to repair or pass over."""
    strip: Path | None
    """The picture that was written."""


def strip_path(mesh: Path, skeleton: Path, out: Path | None = None) -> Path:
    """Where the picture strip goes: unsaid, beside the skeleton under its name."""
    stem = skeleton_stem(skeleton)
    stem = skeleton.stem if stem == skeleton.name else stem
    usual = f"{stem or mesh.stem}.bend.png"
    if out is None:
        return skeleton.with_name(usual)
    return out / usual if out.is_dir() else out


def run_bend_job(
    mesh: Path,
    skeleton: Path,
    strip: Path | None,
    *,
    only: Sequence[str] = (),
    bake: bool = False,
    up: str | None = None,
    forward: str | None = None,
    overwrite: bool = False,
    progress: Callable[[str], None] = lambda stage: None,
) -> BendJob:
    """Read both files, bend, draw, and write the picture at the end.

    Args:
        mesh: The character's file.
        skeleton: Its skeleton, of any kind that can be read.
        strip: Where the picture goes; None draws none.
        only: Names of the tests to run; all when empty.
        bake: Take how a posed skeleton stands for its rest.
        up: Axis that points up in the skeleton's file, where the file does not say.
        forward: Axis that the character faces, likewise.
        overwrite: Replace even a picture of somebody else's.
        progress: Called with the name of each stage when it starts.

    Raises:
        AutoplaceError: whatever is the user's to mend, a skeleton with nothing to bend among it;
            nothing is written then.
    """
    chosen_tests(only)
    if strip is not None and mesh.is_file():  # if it is not, that is what the user should hear
        check_picture(strip, {mesh: "the mesh itself", skeleton: "the skeleton itself"}, overwrite)
    progress("read")
    from autoplace.files.open_skeleton import open_skeleton
    from autoplace.mesh.load import load

    opened = open_skeleton(skeleton, bake=bake, up=up, forward=forward)
    character = load(mesh)
    bent = bend_character(opened.skeleton, character, only=only, progress=progress)
    if not only and all(result.state == "not run" for result in bent.report.results):
        raise SkeletonError(
            f"'{skeleton}' has none of the joints that are bent, such as an elbow, a knee or a "
            "finger with its tip, under a name by which they can be told: name them as the README "
            "lists them."
        )
    report = _under_names(bent.report, opened.own_names)
    if strip is not None:
        progress("picture")
        from autoplace.show.bend_strip import render_bend_strip
        from autoplace.show.sheet import write_sheet

        image = render_bend_strip(bent.subject, bent.layers, bent.report, title=character.name)
        progress("write")
        write_together({strip: partial(write_sheet, image)})
    return BendJob(
        mesh=mesh.name,
        skeleton=skeleton.name,
        report=report,
        face_count=character.face_count,
        joint_count=len(opened.skeleton),
        notes=(*character.notes, *opened.notes),
        strip=strip,
    )


def bend_data(job: BendJob) -> dict[str, Any]:
    """The report as plain data: tests with their poses and measures, notes and files."""
    return {
        "mesh": job.mesh,
        "skeleton": job.skeleton,
        "passed": job.report.passed,
        "tests": [
            {
                "test": result.test,
                "title": result.title,
                "state": result.state,
                "reason": result.reason,
                "poses": [
                    {"name": name, "degrees": {joint: vars(turn) for joint, turn in pose.items()}}
                    for name, pose in result.poses.items()
                ],
                "measures": [vars(measure) for measure in result.measures],
            }
            for result in job.report.results
        ],
        "notes": [*job.report.notes, *job.notes],
        "files": {} if job.strip is None else {"strip": str(job.strip)},
    }


def _under_names(report: BendReport, names: Mapping[str, str]) -> BendReport:
    """The report with joints under other names: ours -> the file's."""
    if all(ours == own for ours, own in names.items()):
        return report
    results = []
    for result in report.results:
        measures = []
        for measure in result.measures:
            own = names.get(measure.joint, measure.joint)
            sentence = own + measure.sentence.removeprefix(measure.joint)
            measures.append(replace(measure, joint=own, sentence=sentence))
        poses = {
            name: {names.get(joint, joint): turn for joint, turn in pose.items()}
            for name, pose in result.poses.items()
        }
        results.append(replace(result, measures=tuple(measures), poses=poses))
    return replace(report, results=tuple(results))
