"""Which joints belong together on the page."""

from __future__ import annotations

from autoplace.review.chains import column_joints, whole_chain
from autoplace.skeleton.model import Joint, Skeleton

NAMES = (
    "pelvis",
    "spine_1",
    "spine_2",
    "chest",
    "neck",
    "head",
    "left_shoulder",
    "left_elbow",
    "left_index_1",
    "left_index_tip",
    "right_elbow",
    "tail",
)
SKELETON = Skeleton(tuple(Joint(name, None, (0.0, 0.0, 0.0)) for name in NAMES))


def test_the_spine_ends_in_the_chest():
    """The spine's joints are counted with the chest, the neck's without the head."""
    assert column_joints(SKELETON, "spine") == ("spine_1", "spine_2", "chest")
    assert column_joints(SKELETON, "neck") == ("neck",)


def test_a_chain_is_one_limb_of_one_side():
    """An elbow goes with its own arm, a finger alone, a joint of no known kind alone."""
    assert whole_chain(SKELETON, "left_elbow") == ("left_shoulder", "left_elbow")
    assert whole_chain(SKELETON, "left_index_tip") == ("left_index_1", "left_index_tip")
    assert whole_chain(SKELETON, "chest") == NAMES[:6]
    assert whole_chain(SKELETON, "tail") == ("tail",)
