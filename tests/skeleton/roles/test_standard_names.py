"""Joints named by open standards: HAnim in both versions, and WebXR hands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.roles import guess_roles
from autoplace.skeleton.roles.flat import is_flat, parents_by_names
from autoplace.skeleton.roles.standard_names import WEBXR, standard_name
from autoplace.skeleton.structure import parent_indices
from tests.figures import standard_skeleton
from tests.files.hanim_figure import hanim_figure

LONG = ("metacarpal", "phalanx-proximal", "phalanx-intermediate", "phalanx-distal", "tip")
WEBXR_JOINTS = ["wrist", "thumb-metacarpal", "thumb-phalanx-proximal", "thumb-phalanx-distal"]
WEBXR_JOINTS += ["thumb-tip"]
WEBXR_JOINTS += [
    f"{f}-finger-{part}" for f in ("index", "middle", "ring", "pinky") for part in LONG
]
"""All 25, in the order of the W3C WebXR Hand Input Module, Level 1, section "Skeleton Joints"."""


def roles_of(skeleton: Skeleton) -> dict[str, str | None]:
    roles = guess_roles(skeleton.names, parent_indices(skeleton), skeleton.positions())
    return {guess.own_name: guess.name for guess in roles.guesses}


def test_every_joint_of_the_nominal_figure():
    """HAnim version 2: limbs, fingers and eyes are ours, and vertebrae are counted through."""
    ours = roles_of(hanim_figure())
    expected = {
        "humanoid_root": "pelvis",
        "vl5": "spine_1",
        "vl3": "spine_2",
        "vl1": "spine_3",
        "vt10": "spine_4",
        "vt6": "spine_5",
        "vt1": "chest",
        "vc4": "neck",
        "vc2": "neck_2",
        "skullbase": "head",
        "l_eyeball_joint": "left_eye",
        "r_hip": "right_hip",
        "l_knee": "left_knee",
        "l_talocrural": "left_ankle",
        "r_metatarsophalangeal_2": "right_ball",
        "l_sternoclavicular": "left_clavicle",
        "l_shoulder": "left_shoulder",
        "r_elbow": "right_elbow",
        "l_radiocarpal": "left_wrist",
        "l_carpometacarpal_1": "left_thumb_1",
        "l_metacarpophalangeal_1": "left_thumb_2",
        "l_carpal_interphalangeal_1": "left_thumb_3",
        "r_carpometacarpal_3": "right_middle_metacarpal",
        "r_metacarpophalangeal_3": "right_middle_1",
        "r_carpal_proximal_interphalangeal_3": "right_middle_2",
        "r_carpal_distal_interphalangeal_3": "right_middle_3",
        "sacroiliac": None,
        "l_acromioclavicular": None,
        "l_tarsometatarsal_2": None,
        "l_tarsal_distal_interphalangeal_2": None,
    }
    assert {name: ours[name] for name in expected} == expected
    unnamed = [name for name, our in ours.items() if our is None]
    assert len(unnamed) == 7  # one in the middle and three on each side


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        ("HumanoidRoot", "pelvis"),
        ("l_ankle", "left_ankle"),
        ("r_wrist", "right_wrist"),
        ("l_midtarsal", "left_ball"),
        ("l_thumb1", "left_thumb_1"),
        ("r_index0", "right_index_metacarpal"),
        ("hanim_l_pinky3", "left_pinky_3"),
        ("l_subtalar", "other"),
        ("vl6", None),
        ("knee", None),
    ],
)
def test_names_of_version_one(theirs, ours):
    """Version 1 of HAnim (19774:2006), with the prefix of the standard's examples or without."""
    assert standard_name(theirs) == ours


def test_webxr_names_are_complete():
    """The table has the 25 joints of the standard and no other."""
    assert sorted(WEBXR) == sorted(WEBXR_JOINTS)


def webxr_hand(side: str, *, curl: float) -> Skeleton:
    """The hand of the standard figure with metacarpals, under WebXR's names."""
    figure = standard_skeleton("T", curl=curl)
    theirs = {our: name for name, our in WEBXR.items()}
    wrist = figure[f"{side}_wrist"].position
    rows = [Joint("wrist", None, wrist)]
    for joint in figure:
        our = joint.name.removeprefix(f"{side}_")
        if not joint.name.startswith(side) or our == "wrist" or our not in theirs:
            continue
        parent = theirs[joint.parent.removeprefix(f"{side}_")]
        if our.endswith("_1") and our != "thumb_1":
            base = theirs[our.replace("_1", "_metacarpal")]
            rows.append(Joint(base, "wrist", wrist + 0.2 * (joint.position - wrist)))
            parent = base
        rows.append(Joint(theirs[our], parent, joint.position))
    return Skeleton(tuple(rows))


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_webxr_hand_and_its_side(side):
    """The standard's names do not tell the side; thumb and curl do."""
    hand = webxr_hand(side, curl=12)
    assert sorted(hand.names) == sorted(WEBXR_JOINTS)
    assert roles_of(hand) == {name: f"{side}_{WEBXR[name]}" for name in WEBXR_JOINTS}


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_thumb_shows_the_side_of_a_straight_hand(side):
    """Fingers without any bend show no palm, but the thumb lies before it."""
    assert roles_of(webxr_hand(side, curl=0))["wrist"] == f"{side}_wrist"


def test_the_side_of_a_flat_hand_is_not_invented():
    """A hand with all joints in one plane shows no side: one is taken, and a note says so."""
    hand = webxr_hand("right", curl=0)
    level = np.array([1.0, 0.0, 1.0])
    hand = hand.with_joints(tuple(replace(j, position=j.position * level) for j in hand))
    roles = guess_roles(hand.names, parent_indices(hand), hand.positions())
    assert any("could not be told" in note for note in roles.notes)
    told = guess_roles(hand.names, parent_indices(hand), hand.positions(), side="right")
    assert told.guesses[0].name == "right_wrist"


@pytest.mark.parametrize("skeleton", [webxr_hand("left", curl=9), standard_skeleton("T")])
def test_parents_of_joints_side_by_side(skeleton):
    """Flat lists under the names of WebXR or ours get the parents back, in any order."""
    order = np.random.default_rng(2).permutation(len(skeleton))
    names = [skeleton.names[i] for i in order]
    parents = parents_by_names(names)
    got = {n: None if p < 0 else names[p] for n, p in zip(names, parents, strict=True)}
    assert got == {j.name: j.parent for j in skeleton}


def test_flat_joints_without_such_names_are_refused():
    """Joints that hang from nothing and say nothing are refused with what to do."""
    assert is_flat(np.full(25, -1))
    assert not is_flat(np.array([-1, 0, 0, 0, 0, 0]))
    with pytest.raises(SkeletonError, match=r"'joint_0', do not tell .*: give the joints parents"):
        parents_by_names([f"joint_{i}" for i in range(25)])
