"""The findings of a placed skeleton again, after some of its joints were set elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SettingsError
from autoplace.measure.body_depth import depth_in_body
from autoplace.mesh.triangles import without_doubles
from autoplace.reports.place import findings_report
from autoplace.skeleton.checks import check
from autoplace.skeleton.model import Finding

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.result import PlaceResult
    from autoplace.skeleton.model import Skeleton

__all__ = ["placed_with"]

FloatArray = NDArray[np.float64]


def placed_with(
    skeleton: Skeleton,
    placed: PlaceResult,
    character: Character,
    told: tuple[Finding, ...] = (),
    **reported: Mapping[str, Any],
) -> PlaceResult:
    """A placing with another skeleton in it, checked anew, and its report accordingly.

    What placing itself had to tell stays, what the checks told is told of the skeleton as it is.

    Args:
        skeleton: that of `placed` with some joints elsewhere, or some more or fewer of them.
        placed: the placing in `character`.
        character: the mesh.
        told: findings to add.
        reported: entries to add to the report, plain data.
    """
    frame = placed.frame
    depth = _depth(character, placed)
    floor = float(frame.rotation[1] @ frame.origin)

    def checks(of: Skeleton) -> tuple[Finding, ...]:
        found = check(
            replace(of, findings=()),
            depth_at=depth,
            symmetry_residual=frame.symmetry_residual,
            floor=floor,
        )
        return tuple(found)

    before = checks(placed.skeleton)
    of_placing = tuple(f for f in placed.skeleton.findings if f not in before)
    skeleton = replace(skeleton, findings=(*of_placing, *told, *checks(skeleton)))
    report = {
        **placed.report,
        "joints": len(skeleton),
        "findings": findings_report(skeleton),
        **reported,
    }
    return replace(placed, skeleton=skeleton, report=report)


def _depth(character: Character, placed: PlaceResult) -> Callable[[FloatArray], FloatArray]:
    """Depth of points (n, 3) of the file in its body, heights."""
    vertices, faces = placed.roles.surface(character, ("body",))
    if not len(faces):
        raise SettingsError("No part was taken for the body; name it with --role PART=body.")
    vertices = placed.frame.to_working(vertices)
    faces = without_doubles(vertices, faces)
    return lambda points: depth_in_body(vertices, faces, placed.frame.to_working(points))
