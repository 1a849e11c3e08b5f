"""Spine, neck and head: do they stay in the middle, and does the head go where it should?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.angles import angle_between
from autoplace.skeleton.bending.records import Value
from autoplace.skeleton.bending.subject import FORWARD, LEFT, UP, Subject
from autoplace.skeleton.names import family, side_of
from autoplace.skeleton.pose import Pose, Posed

__all__ = ["measure_nod", "measure_spine", "measure_turn"]

FloatArray = NDArray[np.float64]

HEAD_TURNED = 5.0
"""Degrees below which the line through the eyes is taken for level noise, as when a head is
oriented; common practice, no source."""


def measure_spine(subject: Subject, posed: Posed, pose: Pose) -> list[Value]:
    """Forward curl: leaving the symmetry plane, agreement of the axes, where the head goes."""
    turned = [name for name in pose if family(name) == "trunk"]
    values = [Value("off_middle", "spine", _off_middle(subject, posed))]
    axes = [subject.axis(name, "bend") for name in turned]
    if len(axes) > 1:
        apart = max(angle_between(a, b) for a in axes for b in axes)
        values.append(Value("axes", "spine", apart))
    end = "head" if subject.has("head") else turned[-1]
    gone = subject.place(end, posed) - subject.place(end)
    values += [
        Value("ahead", end, 100.0 * float(gone @ FORWARD)),
        Value("down", end, -100.0 * float(gone @ UP)),
    ]
    return values


def measure_nod(subject: Subject, posed: Posed) -> list[Value]:
    """How far the head nods forward, and how far it leaves the symmetry plane.

    A head that is turned at rest has no one plane to nod in: its neck bends to where the body faces
    and the head to where it looks.
    """
    if not subject.has("head"):
        return []
    up = subject.bone("head")
    gone = posed.turn[subject.index["head"]] @ up
    forward = angle_between(up, gone) * (1.0 if float(gone @ FORWARD) > float(up @ FORWARD) else -1)
    values = [Value("forward", "head", forward)]
    if not _turned(subject):
        values.append(Value("off_middle", "head", _off_middle(subject, posed)))
    return values


def measure_turn(subject: Subject, posed: Posed) -> list[Value]:
    """How far the face turns aside, and how far the top of the head leaves the middle by it."""
    if not subject.has("head"):
        return []
    turn = posed.turn[subject.index["head"]]
    face = turn @ FORWARD
    level = face - (face @ UP) * UP
    return [
        Value("turned", "head", angle_between(FORWARD, level)),
        Value("tilted", "head", angle_between(UP, turn @ UP)),
        Value("off_middle", "head", _off_middle(subject, posed)),
    ]


def _turned(subject: Subject) -> bool:
    """Whether the line through the eyes shows a head that is turned or tilted at rest."""
    if not subject.has("left_eye", "right_eye"):
        return False
    line = subject.between("right_eye", "left_eye")
    return bool(np.any(line)) and angle_between(line, LEFT) > HEAD_TURNED


def _off_middle(subject: Subject, posed: Posed) -> float:
    """Greatest sideways way of a middle joint, percent of the height."""
    rows = [i for name, i in subject.index.items() if side_of(name) is None]
    gone = (posed.positions[rows] - subject.at[rows]) @ LEFT
    return 100.0 * float(np.abs(gone).max())
