"""A figure bent for the tests, and figures that are spoilt in one place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from autoplace.files.bend_tests import read_bend_tests
from autoplace.skeleton.bending.records import BendReport, BendResult
from autoplace.skeleton.bending.run import run_bend_tests
from autoplace.skeleton.bending.subject import subject_of
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton, turned


def figure(pose: str = "A", **changes) -> Skeleton:
    """A symmetric adult, oriented by the default convention."""
    return orient(standard_skeleton(pose, **changes))


def bent(skeleton: Skeleton, *only: str) -> BendReport:
    """The report of these tests, or of all."""
    tests = [test for test in read_bend_tests() if not only or test.name in only]
    return run_bend_tests(subject_of(skeleton), tests)


def twisted(skeleton: Skeleton, name: str, degrees: float, about: int = 1) -> Skeleton:
    """The skeleton with one joint's axes turned about one of them (0 X, 1 Y, 2 Z)."""
    joints = []
    for joint in skeleton:
        if joint.name == name:
            axis = joint.axes[about]
            joint = replace(joint, axes=np.array([turned(a, axis, degrees) for a in joint.axes]))
        joints.append(joint)
    return skeleton.with_joints(tuple(joints))


def values(result: BendResult, of: str) -> dict[str, float]:
    """By joint: what a measure gave."""
    return {measure.joint: measure.value for measure in result.measures if measure.of == of}


def failed(report: BendReport) -> dict[str, set[str]]:
    """By test: the joints at which it failed."""
    return {r.test: {m.joint for m in r.failures} for r in report.failed}
