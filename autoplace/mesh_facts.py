"""What the mesh tells the checks: depths, floor, symmetry and eyeballs, in a recorded frame.

Nothing is placed: the frame is the one that the skeleton records, and only what a joint is held
against is measured.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from autoplace.errors import SkeletonError
from autoplace.measure.body_depth import depth_in_body
from autoplace.measure.frame_record import Frame
from autoplace.measure.mirror_plane import Plane, register, some
from autoplace.measure.samples import sample_surface
from autoplace.mesh.triangles import without_doubles
from autoplace.place.eyes import EyePlace, EyesFound, eye_surfaces, place_eyes
from autoplace.refit.recorded import recorded_frame, roles_in, settings_for
from autoplace.skeleton.checks import Eyeball, Survey, survey
from autoplace.skeleton.model import Finding

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.skeleton.convention import Convention
    from autoplace.skeleton.model import Skeleton

__all__ = ["MeshFacts", "mesh_facts"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAMPLES, QUERIES = 6000, 1500
"""Surface points, and how many of them are mirrored, to tell how symmetric a mesh is."""
NEARLY_ALL = 0.95
"""Share of a surface that is said to be symmetric: a hand is 2 percent (common practice)."""
OTHER_UNITS = 0.05
"""Largest extent of a mesh to the recorded height below which the two are in other units: a hand
alone has twice as much, and metres for centimetres are 0.01 (common practice, no source)."""
SAME_SIZE = (0.7, 1.05)
"""How tall all joints together may stand against the body: with tips they are 0.98 of it, without
fingers and with a raised arm the least (common practice, no source)."""


@dataclass(frozen=True)
class MeshFacts:
    """What was measured on a mesh for the checks of `survey`, under the names of its arguments."""

    depth_at: Callable[[FloatArray], FloatArray] | None
    """Depth of points (n, 3), skeleton's frame, in heights; None where the mesh shows no body."""
    symmetry_residual: float | None
    """Typical distance between the body and its mirror image, in heights."""
    whole_residual: float | None
    """The same for all of the body but a twentieth, limbs included."""
    floor: float | None
    """Of the body's lowest point, along up in the skeleton's frame and units."""
    middle: float | None
    """Of the body's symmetry plane, along the character's left, same frame and units."""
    eyeballs: Mapping[str, Eyeball]
    """By the names of their joints."""
    findings: tuple[Finding, ...] = ()
    """What is odd about mesh and skeleton together."""

    def survey(
        self,
        skeleton: Skeleton,
        *,
        turned: Mapping[str, float] | None = None,
        scaled: Mapping[str, tuple[float, float, float]] | None = None,
        convention: Convention | None = None,
    ) -> Survey:
        """All checks of a skeleton in this mesh; arguments as of `checks.survey`."""
        return survey(
            skeleton,
            depth_at=self.depth_at,
            symmetry_residual=self.symmetry_residual,
            whole_residual=self.whole_residual,
            floor=self.floor,
            middle=self.middle,
            eyeballs=self.eyeballs,
            turned=turned,
            scaled=scaled,
            convention=convention,
            first=self.findings,
        )


def mesh_facts(character: Character, skeleton: Skeleton) -> MeshFacts:
    """Measure a mesh where a skeleton stands in it, both in one frame and units.

    Parts that the skeleton's settings leave out, or whose role they tell, count as told.

    Raises:
        SkeletonError: mesh and skeleton are not in the same units.
    """
    frame = recorded_frame(character, skeleton)
    _must_be_same_units(character, frame)
    prepared, roles = roles_in(frame, character, settings_for(character, skeleton))
    vertices, faces = roles.surface(prepared.character, ("body",))
    original = prepared.original_roles(roles)
    working = [frame.to_working(part.vertices) for part in character.parts]
    eyes = place_eyes(eye_surfaces(character, original, working))
    findings = _other_file(character, skeleton)
    if not len(faces):
        return MeshFacts(None, None, None, None, None, _balls(eyes, frame), findings)
    vertices = frame.to_working(vertices)
    faces = without_doubles(vertices, faces)
    plane, whole = _symmetry(vertices, faces)
    return MeshFacts(
        lambda points: depth_in_body(vertices, faces, frame.to_working(points)),
        plane.misfit,
        whole,
        float(frame.rotation[1] @ frame.origin + frame.height * vertices[:, 1].min()),
        float(frame.rotation[0] @ frame.origin + frame.height * plane.offset),
        _balls(eyes, frame),
        (*findings, *_other_size(vertices, skeleton, frame)),
    )


def _must_be_same_units(character: Character, frame: Frame) -> None:
    used = np.concatenate([part.vertices[np.unique(part.faces)] for part in character.parts])
    extent = float(np.ptp(used, axis=0).max())
    if extent < OTHER_UNITS * frame.height:
        raise SkeletonError(
            f"The mesh is {extent:.4g} units large and the skeleton's character {frame.height:.4g} "
            "tall; bring both to the same units, or give the mesh that the skeleton was made in."
        )


def _symmetry(vertices: FloatArray, faces: IntArray) -> tuple[Plane, float]:
    """The symmetry plane across x near the joints' own, with how well the body mirrors in it.

    Working frame. The plane's misfit is over the best-fitting part of the surface, as when a
    skeleton is placed, so that a raised arm makes no body asymmetric; the number beside it is what
    all of the surface but a twentieth stays below.
    """
    surface = sample_surface(vertices, faces, SAMPLES)
    tree = cKDTree(surface.points)
    start = Plane(np.array([1.0, 0.0, 0.0]), 0.0, np.inf)
    plane = register(some(surface, QUERIES), surface, tree, start, turn=False)
    mirrored = surface.points * [-1.0, 1.0, 1.0] + [2.0 * plane.offset, 0.0, 0.0]
    gap, match = tree.query(mirrored)
    across = np.abs(np.einsum("ij,ij->i", mirrored - surface.points[match], surface.normals[match]))
    # samples do not lie on one another's images, so as much as they lie apart says nothing
    off = np.maximum(across, gap - 2.0 * surface.spacing)
    return plane, float(np.quantile(off, NEARLY_ALL))


def _balls(eyes: EyesFound, frame: Frame) -> dict[str, Eyeball]:
    return {
        name: Eyeball(
            frame.to_input(eye.center), eye.radius * frame.height, eye.spread * frame.height
        )
        for name, eye in eyes.by_joint().items()
        if isinstance(eye, EyePlace)
    }


def _other_file(character: Character, skeleton: Skeleton) -> tuple[Finding, ...]:
    known, given = skeleton.source.sha256, character.sha256
    if not (known and given) or known == given:
        return ()
    return (
        Finding(
            "mesh_file",
            None,
            "note",
            f"The mesh is not the file that the skeleton was placed in ({skeleton.source.mesh}): "
            "their contents differ (sha256).",
            "Nothing, if it is the same character; else give the mesh of this skeleton.",
        ),
    )


def _other_size(vertices: FloatArray, skeleton: Skeleton, frame: Frame) -> tuple[Finding, ...]:
    """A body much taller or shorter than its joints; vertices (n, 3), working frame."""
    if len(skeleton) < 2 or skeleton.source.part:
        return ()
    joints = float(np.ptp(frame.to_working(skeleton.positions())[:, 1]))
    body = float(np.ptp(vertices[:, 1]))
    ratio = joints / body if body > 0 else np.inf
    if SAME_SIZE[0] <= ratio <= SAME_SIZE[1]:
        return ()
    bound = SAME_SIZE[0] if ratio < SAME_SIZE[0] else SAME_SIZE[1]
    return (
        Finding(
            "mesh_size",
            None,
            "warning",
            f"The joints reach over {100 * ratio:.0f} % of the height of the mesh's body; the "
            f"limit is {100 * bound:.0f} % (common practice).",
            "Check that mesh and skeleton belong together and are in the same units.",
            ratio,
            bound,
            "",
            "common practice",
        ),
    )
