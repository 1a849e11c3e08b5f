"""Finger joints are placed: near to known ones, in one plane, with reasons that add up."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.place.hands import HandPlacement, hands_mirrored, place_hand
from tests.figures_hand import HandPlan, KnownHand, build_hand, plan_of

FAMILY = (0, 1, 2, 3, 4, 5, 9, 14)


@cache
def placed(plan: HandPlan) -> tuple[KnownHand, HandPlacement]:
    hand = build_hand(plan)
    shape = HandAtWrist(
        hand.vertices,
        hand.faces,
        hand.wrist + 0.1 * plan.length * hand.forearm,
        hand.forearm,
        1.15 * plan.length,
        plan.side,
    ).measure()
    assert isinstance(shape, HandShape), str(shape)
    return hand, place_hand(shape, hand.wrist, plan.side)


def errors(plan: HandPlan) -> np.ndarray:
    """(fingers, 4) distances from the known joints, share of hand length."""
    hand, placement = placed(plan)
    assert list(placement.chains) == list(hand.joints)
    found = np.array([[p.position for p in c] for c in placement.chains.values()])
    return np.linalg.norm(found - np.array(list(hand.joints.values())), axis=2) / plan.length


def test_joints_of_a_family_of_hands() -> None:
    """Joints lie within 3 percent of the hand at the median and 8 at the 95th percentile."""
    joints = np.concatenate([errors(plan_of(n))[:, :3].ravel() for n in FAMILY])
    assert np.median(joints) < 0.035
    assert np.percentile(joints, 95) < 0.12


def test_tips_lie_at_the_ends_of_the_fingers() -> None:
    """Tip helpers lie within 2.5 percent of the hand of the fingers' known ends."""
    assert max(errors(plan_of(n))[:, 3].max() for n in FAMILY) < 0.025


@pytest.mark.parametrize("number", FAMILY[:4])
def test_reasons_add_up(number: int) -> None:
    """Each joint is the weighted mean of its evidence, the weights sum to one, notes are given."""
    _, placement = placed(plan_of(number))
    for chain in placement.chains.values():
        for point in chain:
            weights = np.array([e.weight for e in point.evidence])
            assert weights.sum() == pytest.approx(1.0)
            assert point.spread > 0.0
            assert all(e.note and e.spread > 0.0 for e in point.evidence)


@pytest.mark.parametrize("number", FAMILY)
def test_a_finger_bends_in_one_plane_towards_the_palm(number: int) -> None:
    """The four points of a finger lie in one plane, and its bend is towards the palm."""
    _, placement = placed(plan_of(number))
    for name, chain in placement.chains.items():
        points = np.array([p.position for p in chain])
        off = np.linalg.svd(points - points.mean(axis=0))[1][2]
        assert off < 1e-9, name
        if name != "thumb":
            hinge = np.cross(points[1] - points[0], points[3] - points[1])
            side = np.cross(points[1] - points[0], placement.palm_normal)
            assert np.dot(hinge, side) > -1e-12, name


def test_the_same_hand_gives_the_same_bytes() -> None:
    """Placing twice gives identical positions."""
    plan = plan_of(0)
    _, first = placed(plan)
    placed.cache_clear()
    _, second = placed(plan)
    for name, chain in first.chains.items():
        for one, other in zip(chain, second.chains[name], strict=True):
            assert one.position.tobytes() == other.position.tobytes()


def test_the_wrong_side_is_refused() -> None:
    """A hand measured as a left one cannot be placed as a right one."""
    hand = build_hand(HandPlan())
    shape = HandAtWrist(
        hand.vertices, hand.faces, hand.wrist, hand.forearm, hand.plan.length, "left"
    ).measure()
    with pytest.raises(ValueError, match="measured as a left hand"):
        place_hand(shape, hand.wrist, "right")


def test_hands_are_mirror_images_only_if_their_fingers_are() -> None:
    """A hand and its mirror image are alike; bending the fingers 12 degrees more ends that."""
    plan = HandPlan(length=0.12)
    bent = replace(plan, curl=tuple(c + 12.0 for c in plan.curl), side="right")
    _, left = placed(plan)
    _, right = placed(replace(plan, side="right"))
    _, other = placed(bent)
    assert hands_mirrored(left, right)
    assert not hands_mirrored(left, other)


def test_names_of_ones_own_are_placed_too() -> None:
    """Fingers with unusual names get four joints each."""
    hand = build_hand(HandPlan(fingers=3, girth=0.065, length=0.16))
    names = ("thumb", "claw", "spur")
    shape = HandAtWrist(
        hand.vertices, hand.faces, hand.wrist, hand.forearm, 0.16, "left", names=names
    ).measure()
    assert isinstance(shape, HandShape)
    chains = place_hand(shape).chains
    assert tuple(chains) == names
    assert all(len(chain) == 4 for chain in chains.values())
