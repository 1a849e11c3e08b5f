"""The bend test of a character: its skeleton, with its mesh or alone, in common motions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SettingsError
from autoplace.files.bend_tests import read_bend_tests
from autoplace.skeleton.bending.records import BendReport, BendTest
from autoplace.skeleton.bending.run import run_bend_tests
from autoplace.skeleton.bending.subject import Flesh, Subject, subject_of
from autoplace.skeleton.names import family

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles
    from autoplace.skeleton.model import Skeleton

IntArray = NDArray[np.int64]

LAYERS = {
    "body": ("body", "unknown"),
    "veil": ("hair", "garment", "accessory", "left_out"),
    "eye": ("eyeball",),
}
"""What is drawn as what, by role; the inner mouth is not."""

__all__ = ["BentCharacter", "bend", "bend_character", "chosen_tests"]


@dataclass(frozen=True)
class BentCharacter:
    """A bend test with all that a picture of it needs."""

    report: BendReport
    subject: Subject
    """In the working frame of `frame`, with the mesh bound to the skeleton."""
    frame: Frame
    layers: dict[str, IntArray]
    """Triangles (m, 3) of the subject's flesh to be drawn: 'body', 'veil' (hair, garments and what
    else is not measured) and 'eye'."""


def bend(
    skeleton: Skeleton, character: Character | None = None, *, only: Sequence[str] = ()
) -> BendReport:
    """Moves a skeleton through common motions and measures where everything goes.

    Args:
        skeleton: Any skeleton with axes; its recorded convention says which axis bends.
        character: Its mesh, in the same frame and units; then tips are measured to the skin of the
            palm, and eyeballs are turned. Without it the palm is guessed from the hand's joints.
        only: Names of the tests to run, such as 'fist'; all when empty.

    Raises SettingsError for a test that does not exist, SkeletonError for a broken skeleton or one
    in other units than the mesh.
    """
    if character is None:
        return run_bend_tests(subject_of(skeleton), chosen_tests(only))
    return bend_character(skeleton, character, only=only).report


def bend_character(
    skeleton: Skeleton,
    character: Character,
    *,
    only: Sequence[str] = (),
    progress: Callable[[str], None] = lambda stage: None,
) -> BentCharacter:
    """As `bend`, with the bound mesh and what its parts were taken for beside the report."""
    from autoplace.mesh.vertex_roles import vertex_roles
    from autoplace.refit.recorded import recorded_frame, roles_in, settings_for
    from autoplace.skeleton.skin.binding import bind_mesh

    tests = chosen_tests(only)
    progress("parts")
    frame = recorded_frame(character, skeleton)
    prepared, roles = roles_in(frame, character, settings_for(character, skeleton))
    progress("bind")
    subject = subject_of(skeleton, origin=frame.origin)
    vertices = frame.to_working(prepared.character.vertices)
    balls = _eyeball_vertices(prepared.character, roles)
    faces = prepared.character.faces
    kinds = np.concatenate(vertex_roles(prepared.character, {}, roles))
    binding = bind_mesh(vertices, faces, subject.skeleton, roles=kinds)
    eyes = [joint for joint in subject.skeleton if family(joint.name) == "eye"]
    eyeballs: dict[str, list[np.ndarray]] = {}
    for rows in balls if eyes else ():
        middle = vertices[rows].mean(axis=0)
        nearest = min(eyes, key=lambda joint: float(np.linalg.norm(joint.position - middle)))
        eyeballs.setdefault(nearest.name, []).append(vertices[rows])
    flesh = Flesh(
        vertices, faces, binding, {name: np.concatenate(found) for name, found in eyeballs.items()}
    )
    subject = replace(subject, flesh=flesh)
    progress("bend")
    report = run_bend_tests(subject, tests)
    return BentCharacter(report, subject, frame, _layers(prepared.character, roles))


def chosen_tests(only: Sequence[str] = ()) -> tuple[BendTest, ...]:
    """The tests of these names, in their usual order; all when none is named.

    Raises SettingsError for a name that no test has.
    """
    tests = read_bend_tests()
    names = [test.name for test in tests]
    for name in only:
        if name not in names:
            raise SettingsError(
                f"There is no bend test '{name}'; the tests are {', '.join(names)}."
            )
    return tuple(test for test in tests if not only or test.name in only)


def _layers(character: Character, roles: Roles) -> dict[str, IntArray]:
    starts = np.cumsum([0, *(len(part.vertices) for part in character.parts)])
    layers = {}
    for kind, wanted in LAYERS.items():
        faces = [
            character.parts[piece.part_index].faces[piece.face_ids] + starts[piece.part_index]
            for piece in roles.pieces
            if piece.role in wanted
        ]
        layers[kind] = np.concatenate([np.zeros((0, 3), dtype=np.int64), *faces])
    return layers


def _eyeball_vertices(character: Character, roles: Roles) -> list[np.ndarray]:
    """Rows of `character.vertices` of each eyeball."""
    starts = np.cumsum([0, *(len(part.vertices) for part in character.parts)])
    return [
        np.unique(character.parts[piece.part_index].faces[piece.face_ids])
        + starts[piece.part_index]
        for piece in roles.of("eyeball")
    ]
