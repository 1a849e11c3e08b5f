"""Joints placed in adults of average build against published anthropometry.

Each value comes from another source, or another row of it, than the one the template was built
from. Unless a test says otherwise the tolerance is two standard deviations between people, from the
US Army 2012 survey (Gordon et al. 2014; 4,082 men, 1,986 women). Lengths are fractions of stature;
millimetres are those of people 1756 (men) and 1628 (women) tall, the survey's means. The bodies are
an artist's, not scans, so no agreement closer than among people can be asked.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.adults import ADULTS, adult

pytestmark = [pytest.mark.usefixtures("_dataset"), pytest.mark.parametrize("name", ADULTS)]

STATURE = {"young man": 1756.0, "old man": 1756.0, "old woman": 1628.0}
SIDES = ("left", "right")


@pytest.fixture
def _but_for_the_old_man(request, name) -> None:
    """The artist gave the old man of average build a crotch at .491 of stature and hips whose own
    frontal angle is 3.2 degrees; what is learned of others puts his hip 15 mm above the formula and
    the knee, with the hip as near to the middle as published, 3.8 degrees off the line."""
    if name == "old man":
        request.applymarker(pytest.mark.xfail(strict=True, reason="hip of the old man"))


@pytest.mark.parametrize(
    ("joint", "low", "high", "two_sd"),
    [
        # ISO/IEC 19774-1 nominal figure: talocrural .0656 of 1.7504; Drillis & Contini 1966 in
        # Winter 2009; spread: lateral malleolus
        ("ankle", 0.0375, 0.039, 2 * 0.0029),
        # ISO/IEC 19774-1 nominal figure: knee .4867; Drillis & Contini 1966 in Winter 2009;
        # spread: lateral femoral epicondyle
        ("knee", 0.278, 0.285, 2 * 0.0102),
        # trochanterion of women (US Army 2012 survey), the hip's centre at its height; Drillis &
        # Contini 1966 in Winter 2009; spread: trochanterion
        ("hip", 0.519, 0.530, 2 * 0.0152),
        # Dempster 1955: 51 mm under the acromion of .8203; Dumas & Wojtusch 2018: 36 mm; spread:
        # acromion
        ("shoulder", 0.791, 0.800, 2 * 0.0096),
        # US Army 2012 survey, women and men (eyes are measured: no template says where they are)
        ("eye", 0.9331, 0.9352, 2 * 0.0050),
    ],
)
def test_heights_of_joints(name, joint, low, high, two_sd):
    """Ankle, knee, hip, shoulder and eye are as high above the floor as in the lowest and highest
    of the sources, within two standard deviations."""
    for side in SIDES:
        assert low - two_sd < adult(name).at[f"{side}_{joint}"][1] < high + two_sd


def test_the_shank_is_as_long_as_people_s(name):
    """Knee to ankle is .253 of stature (de Leva 1996, men and women), within two standard
    deviations of the epicondyle's height."""
    shank = adult(name).length("left_knee", "left_ankle")
    assert shank == pytest.approx(0.253, abs=2 * 0.0080)


def test_the_thigh_is_as_long_as_people_s(name):
    """Hip to knee is .2425 of stature (de Leva 1996, men) or 432 of 1770 mm (Dumas & Wojtusch
    2018), within two standard deviations of the epicondyle's height."""
    thigh = adult(name).length("left_hip", "left_knee")
    assert 0.2425 - 2 * 0.0080 < thigh < 432 / 1770 + 2 * 0.0080


def test_the_parts_of_the_arm_have_people_s_ratio(name):
    """Upper arm over forearm lies between the sources, which disagree: 271/283 (Dumas & Wojtusch
    2018) and 290.7/256.3 (Klein Breteler et al. 1999)."""
    at = adult(name)
    ratio = at.length("left_shoulder", "left_elbow") / at.length("left_elbow", "left_wrist")
    assert 271 / 283 < ratio < 290.7 / 256.3


@pytest.mark.usefixtures("_but_for_the_old_man")
def test_legs_are_straight_seen_from_the_front(name):
    """Hip, knee and ankle lie within 3 degrees of a line in the frontal plane, as the mechanical
    axis does: 1.3 +- 2.3 degrees (Bellemans et al. 2012)."""
    for side in SIDES:
        hip, knee, ankle = (adult(name).at[f"{side}_{n}"][:2] for n in ("hip", "knee", "ankle"))
        one, two = knee - hip, ankle - knee
        turn = np.degrees(np.arctan2(one[0] * two[1] - one[1] * two[0], one @ two))
        assert abs(turn) < 3.0


@pytest.mark.usefixtures("_but_for_the_old_man")
def test_the_hip_s_centre_agrees_with_a_regression_on_leg_length(name):
    """Hara et al. 2016: the hip lies 9 mm + .078 L under the front iliac spines and 8 mm + .086 L
    beside the middle, L from there to the ankle.

    The spines' height is that of the ISO/IEC 19774-1 nominal figure, 1.0021 of 1.7504. Tolerance:
    12.3 mm, the error of the best such formula on CT (Mantovani et al. 2016).
    """
    stature = STATURE[name]
    spines = 1.0021 / 1.7504
    for side in SIDES:
        hip, ankle = adult(name).at[f"{side}_hip"], adult(name).at[f"{side}_ankle"]
        length = (spines - ankle[1]) * stature
        assert abs(hip[0]) * stature == pytest.approx(8 + 0.086 * length, abs=12.3)
        assert hip[1] * stature == pytest.approx(spines * stature - 9 - 0.078 * length, abs=12.3)


def test_the_hips_are_as_far_apart_as_harrington_s(name):
    """Harrington et al. 2007 with a pelvis 240 mm wide and 160 deep and a leg of 900 put the hip
    91.1 mm from the middle; Bell et al. 1990 86.4; tolerance 12.3 mm (Mantovani et al. 2016)."""
    for side in SIDES:
        aside = abs(adult(name).at[f"{side}_hip"][0]) * STATURE[name]
        assert 86.4 - 12.3 < aside < 91.1 + 12.3


def test_the_spine_lies_in_the_back_part_of_the_trunk(name):
    """All spine joints lie between .14 (ISO/IEC 19774-1 nominal figure) and .45 (L5/S1, Dumas &
    Wojtusch 2018, coarse) of the local depth from the back skin."""
    trunk = adult(name).trunk
    for joint in ("spine_1", "spine_2", "chest"):
        _, y, z = adult(name).at[joint]
        share = (z - trunk.depth_at(y, 0.0)) / (trunk.depth_at(y, 1.0) - trunk.depth_at(y, 0.0))
        assert 0.14 < share < 0.45, joint


def test_the_spine_begins_between_hip_and_iliac_crest(name):
    """L5/S1 lies above the hips and under the top of the iliac crest, .6044 of stature, which is
    at the level of L4 (US Army 2012 survey)."""
    at = adult(name).at
    assert at["left_hip"][1] + 0.02 < at["spine_1"][1] < 0.6044


def test_the_lumbar_part_of_the_column(name):
    """L5/S1 to T12/L1 is .24 to .31 of the way to the skull: .31 of the presacral column along its
    curves (R. Fick), .31 of the way to C7/T1 only (Dumas & Wojtusch 2018), which is .245."""
    y = {joint: adult(name).at[joint][1] for joint in ("spine_1", "spine_2", "head")}
    assert 0.24 < (y["spine_2"] - y["spine_1"]) / (y["head"] - y["spine_1"]) < 0.31


def test_the_neck_s_root_lies_under_the_tip_of_c7(name):
    """C7/T1 lies under the skin of the seventh cervical spine, .8639 (men) or .8570 of stature, and
    over the notch of the breast bone, .8191 or .8164 (US Army 2012 survey)."""
    notch, tip = (0.8164, 0.8570) if "woman" in name else (0.8191, 0.8639)
    assert notch < adult(name).at["neck"][1] < tip + 2 * 0.0067


def test_the_head_turns_between_axis_and_skull_base(name):
    """The head's joint lies between the pivot of C1-C2, 46.7 mm under the ear opening (Chancey et
    al. 2007; .899 of stature), and the skull base of the ISO/IEC 19774-1 nominal figure, .926."""
    assert 0.899 < adult(name).at["head"][1] < 0.926


def test_the_collar_bone_begins_at_the_notch_of_the_breast_bone(name):
    """The sternoclavicular joint is at the height of the notch of the breast bone, .8191 or .8164
    of stature (US Army 2012 survey), within two standard deviations."""
    height = 0.8164 if "woman" in name else 0.8191
    for side in SIDES:
        assert adult(name).at[f"{side}_clavicle"][1] == pytest.approx(height, abs=2 * 0.0071)


def test_the_collar_bones_begin_20_to_30_mm_beside_the_middle(name):
    """The sternoclavicular joints are 39.4 mm apart as landmarks and 45 as joints in one person
    (Klein Breteler et al. 1999, two readings), within half of that."""
    at = adult(name).at
    gap = (at["left_clavicle"][0] - at["right_clavicle"][0]) * STATURE[name]
    assert 0.5 * 39.4 < gap < 1.5 * 45.0


def test_a_symmetric_body_gets_a_symmetric_skeleton(name):
    """These bodies are symmetric to .0003 of the height: paired joints are mirror images, within
    a thousandth."""
    at = adult(name).at
    for joint, place in at.items():
        if joint.startswith("left_"):
            twin = at[joint.replace("left_", "right_")] * [-1.0, 1.0, 1.0]
            assert np.linalg.norm(place - twin) < 1e-3, joint


def test_eyes_are_at_half_the_height_of_the_head(name):
    """Eyes lie at half the head's height: ectocanthus .481 (men) and .490 (women) from the top,
    +- .023, of a head that is measured a few millimetres too long (US Army 2012 survey)."""
    trunk = adult(name).trunk
    for side in SIDES:
        eye = adult(name).at[f"{side}_eye"][1]
        share = (trunk.crown[1] - eye) / (trunk.crown[1] - trunk.chin[1])
        assert share == pytest.approx(0.50, abs=2 * 0.023)


def test_eyes_are_as_far_apart_as_people_s(name):
    """Pupils are 50 to 75 mm apart in most adults (Dodgson 2004)."""
    at = adult(name).at
    assert 50.0 < (at["left_eye"][0] - at["right_eye"][0]) * STATURE[name] < 75.0


def test_the_head_goes_seven_to_eight_times_into_the_height(name):
    """A figure is 7 to 8 heads tall: 7.4 to 7.8 measured (US Army 2012 survey), 7.5 to 8 the canon
    of drawing (Domljan et al. 2024), within a chin's uncertainty of a cell."""
    trunk = adult(name).trunk
    assert 7.0 < 1.0 / (trunk.crown[1] - trunk.chin[1]) < 8.4


def test_the_crotch_is_as_high_as_people_s(name):
    """The crotch is at .472 of stature (ISO/IEC 19774-1 nominal figure), within two standard
    deviations of the survey's."""
    assert adult(name).trunk.crotch[1] == pytest.approx(0.472, abs=2 * 0.0151)


def test_the_foot_is_as_long_as_people_s(name):
    """Heel to toe is .132 (women) to .148 (men) of stature in de Leva 1996, .152 in Drillis &
    Contini 1966 (Winter 2009)."""
    assert 0.132 - 2 * 0.0053 < adult(name).leg.foot.length < 0.152 + 2 * 0.0053


def test_the_hand_is_as_long_as_people_s(name):
    """Wrist to the tip of the middle finger is .098 of stature (women, de Leva 1996) to .1112
    (women, US Army 2012 survey; no placing uses it), within two standard deviations."""
    for side in SIDES:
        hand = adult(name).length(f"{side}_wrist", f"{side}_middle_tip")
        assert 0.098 - 2 * 0.0047 < hand < 0.1112 + 2 * 0.0047


# mean and standard deviation, mm, of middle phalanx, distal phalanx, and flesh beyond the bone
# (Buryanov & Kotiuk 2010, radiographs of 66 adults)
PHALANGES = {
    "index": ((22.38, 2.5), (15.82, 2.3), 3.84),
    "middle": ((26.33, 3.0), (17.40, 1.9), 3.95),
    "ring": ((25.65, 3.3), (17.30, 2.2), 3.95),
    "pinky": ((18.11, 2.5), (15.96, 2.5), 3.73),
}
FINGER = {"index": 81.8, "middle": 92.3, "ring": 88.3, "pinky": 70.5}
"""Knuckle to fingertip, mm, sums of the same radiographs."""


@pytest.mark.parametrize("finger", PHALANGES)
def test_middle_and_end_of_a_finger_have_people_s_ratio(name, finger):
    """The middle phalanx over what lies beyond the last joint is that of radiographs (Buryanov &
    Kotiuk 2010), within two standard deviations of the ratio."""
    (middle, middle_sd), (distal, distal_sd), flesh = PHALANGES[finger]
    ratio = middle / (distal + flesh)
    sd = ratio * np.hypot(middle_sd / middle, distal_sd / (distal + flesh))
    _, second, third = adult(name).phalanges(finger)
    assert second / third == pytest.approx(ratio, abs=2 * sd)


@pytest.mark.parametrize("finger", [f for f in FINGER if f != "middle"])
def test_fingers_have_people_s_lengths_among_each_other(name, finger):
    """Knuckle to tip over that of the middle finger is that of radiographs (Buryanov & Kotiuk
    2010), within two standard deviations: the first phalanx varies by 9 percent."""
    ratio = FINGER[finger] / FINGER["middle"]
    own = adult(name).phalanges(finger).sum() / adult(name).phalanges("middle").sum()
    assert own == pytest.approx(ratio, rel=2 * 0.09)


@pytest.mark.parametrize("finger", FINGER)
def test_bones_of_a_finger_grow_shorter_outward(name, finger):
    """The first phalanx is the longest, as in all radiographs (Buryanov & Kotiuk 2010), and the
    two beyond it are no longer than twice it: .96 to 1.04 of it in people, more where a modeller
    puts the knuckle at the web (the dataset does)."""
    first, second, third = adult(name).phalanges(finger)
    assert first > second
    assert first > third
    assert second + third < 2.0 * first


@pytest.mark.parametrize(
    ("finger", "first", "second"),
    [
        ("index", (39.78, 4.9), (22.38, 2.5)),
        ("middle", (44.63, 3.8), (26.33, 3.0)),
        ("ring", (41.37, 3.9), (25.65, 3.3)),
        ("pinky", (32.74, 2.8), (18.11, 2.5)),
    ],
)
def test_first_and_middle_phalanx_have_people_s_ratio(name, finger, first, second):
    """Proximal over middle phalanx is that of radiographs (Buryanov & Kotiuk 2010, mm and standard
    deviations), within two standard deviations of both bones together."""
    ratio = first[0] / second[0]
    two_sd = 2.0 * ratio * float(np.hypot(first[1] / first[0], second[1] / second[0]))
    own = adult(name).phalanges(finger)
    assert own[0] / own[1] == pytest.approx(ratio, abs=two_sd)
