"""An invented character with its skeleton, as the sheet gets them from the pipeline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Piece, Roles
from autoplace.skeleton.model import Finding, Skeleton
from tests.figures import standard_skeleton
from tests.tubes import figure_of_tubes

SPREAD = 0.008
FINDINGS = (
    Finding("bend", "left_knee", "warning", "The left knee is straight. " * 6, "Bend it. " * 30),
    Finding("mirror", "right_eye", "error", "The eyes do not mirror each other.", "Move one."),
    *(Finding("other", None, "note", f"Note {n}.", "Nothing need be done.") for n in range(20)),
)


def scene(
    pose: str = "T", without: tuple[str, ...] = (), findings: tuple[Finding, ...] = FINDINGS
) -> tuple[Character, Roles, Frame, Skeleton]:
    """Character, roles, frame and skeleton; joints whose name holds a word of `without` lack."""
    whole = standard_skeleton(pose)
    kept = tuple(
        replace(j, spread=SPREAD) for j in whole if not any(word in j.name for word in without)
    )
    names = {j.name for j in kept}
    kept = tuple(j if j.parent in names else replace(j, parent=None) for j in kept)
    skeleton = replace(whole, joints=kept, findings=findings)
    character = figure_of_tubes(whole)
    roles = Roles(
        tuple(
            Piece(
                part.name,
                index,
                np.arange(len(part.faces)),
                "eyeball" if part.name == "eyes" else "body",
                None,
                "by its name",
                1.0,
            )
            for index, part in enumerate(character.parts)
            if len(part.faces)
        )
    )
    frame = Frame(np.eye(3), np.zeros(3), 1.0, "+Y", "+Z", 0.0)
    return character, roles, frame, skeleton
