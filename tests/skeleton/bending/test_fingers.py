"""Hands: where the palm is, what a fist gives, and what is crossed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from scipy.optimize import minimize

from autoplace.skeleton.bending.gaps import segment_gap, thumb_gap
from autoplace.skeleton.bending.hand_shape import PALM_DEPTH, find_hand
from autoplace.skeleton.bending.subject import Flesh, subject_of
from autoplace.skeleton.orient import orient
from autoplace.skeleton.skin.binding import Binding
from tests.figures import HAND, moved, standard_skeleton, without
from tests.skeleton.bending.bent import bent, figure, twisted, values


def test_the_hand_is_as_long_as_it_was_made():
    """From the wrist along the middle finger: 0.073 + 0.373 + 0.277 + 0.170 + 0.108 hand lengths
    (Buchholz et al. 1992) make one."""
    hand = find_hand(subject_of(figure()), "left")
    assert hand.length == pytest.approx(1.001 * HAND, rel=1e-9)
    assert hand.long_fingers == ("index", "middle", "ring", "pinky")
    assert not hand.by_skin


def test_without_skin_the_palm_lies_over_wrist_and_knuckles():
    """A point over the middle of the palm is as far from it as it is high, less the depth."""
    subject = subject_of(figure())
    hand = find_hand(subject, "right")
    corners = [subject.place(f"right_{n}") for n in ("wrist", "index_1", "middle_1", "pinky_1")]
    middle = np.mean(corners, axis=0)
    for height in (0.2, 0.4):
        above = middle + height * hand.length * hand.palm.facing
        assert hand.from_palm(above) == pytest.approx(height - PALM_DEPTH, abs=0.03)


def test_with_skin_the_palm_is_where_the_skin_is():
    """A slab along the palm, a twentieth of the hand thick on either side of the joints, and bound
    to the wrist: a point over it is as far as it is high, less the slab; the back is no palm."""
    subject = subject_of(figure())
    bare = find_hand(subject, "left")
    palm, wrist = bare.palm, subject.place("left_wrist")
    frame = np.array([palm.along, palm.thumbward, palm.facing])
    box = trimesh.creation.box(extents=(1.2, 1.2, 0.1)).subdivide().subdivide().subdivide()
    vertices = wrist + HAND * (box.vertices + np.array([0.3, 0.0, 0.0])) @ frame
    joints = np.zeros((len(vertices), 4), dtype=int)
    joints[:, 0] = subject.index["left_wrist"]
    weights = np.tile([1.0, 0, 0, 0], (len(vertices), 1))
    flesh = Flesh(vertices, box.faces, Binding(joints, weights, np.arange(len(vertices))))
    hand = find_hand(replace(subject, flesh=flesh), "left")
    assert hand.by_skin
    for height in (0.1, 0.3):
        above = wrist + HAND * (0.25 * palm.along + height * palm.facing)
        assert hand.from_palm(above) * hand.length == pytest.approx((height - 0.05) * HAND, rel=0.1)
    assert hand.surface.shape[1] == 3
    assert ((hand.surface - wrist) @ palm.facing).min() == pytest.approx(0.05 * HAND)


def test_a_fist_lands_where_planar_turns_take_it():
    """The middle finger of the figure is straight on from its knuckle: turned to 90, 190 and 270
    degrees its tip stands 0.277 sin 90 + 0.170 sin 190 + 0.108 sin 270 hand lengths under the
    plane of the joints, less the depth of the palm."""
    skeleton = figure(curl=0)
    tip = values(bent(skeleton, "fist")["fist"], "tip")["left_middle"]
    angles = np.radians([90.0, 190.0, 270.0])
    under = np.array([0.277, 0.170, 0.108]) @ np.sin(angles) / 1.001
    # the palm is measured to at points that lie up to 1 percent apart sideways
    assert tip == pytest.approx(100 * (under - PALM_DEPTH), abs=0.4)
    assert tip < 12


def test_a_finger_stops_at_the_palm():
    """A middle finger whose last bone is longer by a fifth of the hand would go deep into the palm
    at the end of its ranges; it stops when its tip is there, all its joints at one share, and the
    index finger, which does not reach the palm, goes all the way."""
    skeleton = figure(curl=0)
    longer = {}
    for side in ("left", "right"):
        tip, last = (skeleton[f"{side}_middle_{end}"].position for end in ("tip", "3"))
        along = (tip - last) / np.linalg.norm(tip - last)
        longer[f"{side}_middle_tip"] = tip + 0.2 * HAND * along
    result = bent(orient(moved(skeleton, longer)), "fist")["fist"]
    assert values(result, "tip")["left_middle"] < 0.5
    turns = result.poses[""]
    ranges = {"1": 90, "2": 100, "3": 80}
    shares = [turns[f"left_middle_{n}"].bend / most for n, most in ranges.items()]
    assert shares == pytest.approx([shares[0]] * 3)
    assert 0.5 < shares[0] < 0.95
    assert turns["left_index_1"].bend == pytest.approx(90)
    assert turns["left_middle_1"] == turns["right_middle_1"]


def test_a_thumb_lies_on_the_fist():
    """Its tip ends within the target of a curled finger's skin or the palm; a thumb that bends
    backward does not get there."""
    spoilt = figure()
    for number in (1, 2, 3):
        spoilt = twisted(spoilt, f"left_thumb_{number}", 180)
    off = values(bent(spoilt, "fist")["fist"], "thumb")
    assert off["left_thumb"] > 12 > off["right_thumb"]


def test_a_finger_is_half_its_share_of_the_hand_thick():
    """The thumb's tip of a straight hand is as far from the fingers' bones as they are, less an
    eighth of the hand's breadth (0.44 of its length), and a quarter where two fingers share it."""
    for gone, half in (((), 0.055), (("middle", "ring"), 0.11)):
        subject = subject_of(orient(without(standard_skeleton("A", curl=0), *gone)))
        hand = find_hand(subject, "left")
        tip = subject.place("left_thumb_tip") + 0.3 * hand.length * hand.palm.thumbward
        place = subject.index["left_thumb_tip"]
        posed = subject.posed({})
        posed.positions[place] = tip
        bones = [
            segment_gap(tip, tip, subject.place(a), subject.place(b))
            for finger in hand.long_fingers
            for a, b in pairwise(hand.fingers[finger])
        ]
        wanted = min(hand.from_palm(tip), min(bones) / hand.length - half)
        assert thumb_gap(subject, posed, hand) == pytest.approx(wanted)


def test_all_fingers_are_keyed_by_one_sign_on_one_axis():
    """Of every joint of every finger only the bend axis gets a value, and none is negative."""
    pose = bent(figure(), "fist")["fist"].poses[""]
    assert len(pose) == 30
    assert all(turn.bend > 0 and turn.third == turn.aim == 0 for turn in pose.values())


def test_a_finger_that_leans_crosses_its_neighbour():
    """An index finger whose knuckle axis is turned by 40 degrees lies across the middle finger."""
    for degrees in (40, -40):
        result = bent(twisted(figure(), "left_index_1", degrees), "fist")["fist"]
        order = values(result, "order")
        if order["left_index and middle"] < 0:
            break
    else:
        pytest.fail("neither way crosses")
    assert "left_index and middle" in {m.joint for m in result.failures if m.of == "order"}
    assert order["right_index and middle"] > 50


@pytest.mark.parametrize("seed", range(12))
def test_segment_gap_is_the_least_distance(seed):
    """Against a bounded minimisation over both segments; also for parallel ones and points."""
    draw = np.random.default_rng(seed)
    a, b, c, d = draw.normal(size=(4, 3))
    if seed == 0:
        d = c + (b - a)
    if seed == 1:
        b = a

    def gap(shares):
        s, t = shares
        return float(np.linalg.norm(a + s * (b - a) - c - t * (d - c)))

    starts = [(s, t) for s in (0.1, 0.9) for t in (0.1, 0.9)]
    least = min(minimize(gap, start, bounds=[(0, 1), (0, 1)]).fun for start in starts)
    assert segment_gap(a, b, c, d) == pytest.approx(least, abs=1e-5)


def test_spread_fingers_part_by_what_is_keyed():
    """Index and little finger turn from a middle finger that stays, in the plane of the palm."""
    result = bent(figure(curl=0), "finger_spread")["finger_spread"]
    apart = values(result, "apart")
    assert apart["left_index and middle"] == pytest.approx(15, abs=0.3)
    assert apart["left_middle and ring"] == pytest.approx(12, abs=0.3)
    assert apart["left_ring and pinky"] == pytest.approx(18, abs=0.3)
    assert max(values(result, "out_of_palm").values()) < 1.5
