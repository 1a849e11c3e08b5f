"""Joints of known skeletons are recognised without names: proportions of every build."""

from __future__ import annotations

import pytest

from meshes.family import family
from tests.skeleton.roles.known import TIPS, bodies, member_skeleton
from tests.skeleton.roles.renamed import lacking, mistakes, numbers


@pytest.mark.parametrize("number", range(1, 220, 18))
def test_members_of_the_invented_family(number):
    """Two to nine heads tall, with three to five fingers, posed: every joint, with tips or not."""
    skeleton = member_skeleton(family()[number])
    assert mistakes(skeleton, numbers) == {}
    assert mistakes(lacking(skeleton, *TIPS, "eye"), numbers) == {}


@pytest.mark.dataset
@pytest.mark.usefixtures("_dataset")
@pytest.mark.xfail(
    strict=True, reason="one baby in a random pose is read head down: 98.5 of 100 joints, not 99"
)
def test_bodies_of_the_open_dataset():
    """On bodies never looked at, 99 of 100 joints are recognised by place alone."""
    wrong = joints = 0
    for _, skeleton in bodies(tuning=False):
        wrong += len(mistakes(skeleton, numbers))
        joints += len(skeleton)
    assert wrong <= 0.01 * joints
