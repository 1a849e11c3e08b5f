"""Proportions: published people pass, and each figure is judged by its own template."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.skeleton.checks import check
from autoplace.skeleton.model import Joint, Skeleton, Source
from autoplace.skeleton.orient import orient
from tests.figures import moved, standard_skeleton

NOMINAL = {
    # nominal joint centres of ISO/IEC 19774-1, metres; the figure is 1.7504 tall
    "pelvis": (None, (0.0, 0.9149, 0.0016)),
    "spine_1": ("pelvis", (0.0028, 1.0568, -0.0776)),
    "spine_2": ("spine_1", (0.0048, 1.1912, -0.0805)),
    "chest": ("spine_2", (0.0059, 1.3866, -0.0800)),
    "neck": ("chest", (0.0065, 1.4951, -0.0387)),
    "head": ("neck", (0.0044, 1.6209, 0.0236)),
    "head_top": ("head", (0.0050, 1.7504, 0.0055)),
    "left_hip": ("pelvis", (0.0961, 0.9124, -0.0001)),
    "left_knee": ("left_hip", (0.1040, 0.4867, 0.0308)),
    "left_ankle": ("left_knee", (0.1101, 0.0656, -0.0736)),
    "left_shoulder": ("chest", (0.2029, 1.4376, -0.0387)),
    "left_elbow": ("left_shoulder", (0.2014, 1.1357, -0.0682)),
    "left_wrist": ("left_elbow", (0.1984, 0.8663, -0.0583)),
}


def about_proportions(skeleton):
    return {(f.joint, f.level) for f in check(skeleton) if f.check == "proportions"}


def test_the_nominal_figure_of_the_standard_passes():
    """Legs, arms, widths and head of the figure of ISO/IEC 19774-1 are an adult's."""
    rows = dict(NOMINAL)
    for name, (parent, at) in NOMINAL.items():
        if name.startswith("left_"):
            above = parent.replace("left_", "right_")
            rows[name.replace("left_", "right_")] = (above, (-at[0], at[1], at[2]))
    joints = tuple(Joint(n, p, np.array(at)) for n, (p, at) in rows.items())
    skeleton = orient(Skeleton(joints, Source(height=1.7504), "adult"))
    assert about_proportions(skeleton) == set()


@pytest.mark.parametrize(
    ("thigh", "shank", "upper_arm", "forearm", "stature"),
    [
        (0.245, 0.246, 0.162, 0.154, 1.0),  # Winter 2009 for the leg; de Leva 1996 for the arm
        (432, 433, 271, 283, 1770),  # men, Dumas & Wojtusch 2018; stature from memory
        (0.2330, 0.2384, 0.1909, 0.1525, 1.0),  # US Army 2012 survey, men, between surface marks
    ],
)
def test_published_limbs_pass(thigh, shank, upper_arm, forearm, stature):
    """Thigh, shank, upper arm and forearm as published, on an adult's trunk."""
    figure = standard_skeleton("T")
    at = {j.name: j.position for j in figure}
    changes: dict[str, np.ndarray] = {}
    for side in ("left", "right"):
        chains = (("hip", "knee", thigh), ("knee", "ankle", shank))
        chains += (("shoulder", "elbow", upper_arm), ("elbow", "wrist", forearm))
        for above, below, length in chains:
            bone = at[f"{side}_{below}"] - at[f"{side}_{above}"]
            start = changes.get(f"{side}_{above}", at[f"{side}_{above}"])
            bone *= length / stature / np.linalg.norm(bone)
            changes[f"{side}_{below}"] = start + bone
    hands = {"left": "left_wrist", "right": "right_wrist"}
    for joint in figure:  # hands go with their wrists
        side = joint.name.split("_")[0]
        if side in hands and any(f in joint.name for f in ("thumb", "index", "middle")):
            changes[joint.name] = joint.position + changes[hands[side]] - at[hands[side]]
    found = about_proportions(orient(moved(figure, changes)))
    assert not {joint for joint, _ in found if joint.endswith(("knee", "hip", "elbow", "wrist"))}


def toddler() -> Skeleton:
    """One year old: 4.5 heads tall (NAVEDTRA 14262), legs .37 of the height (from memory)."""
    figure = standard_skeleton("T")
    adult, child = (0.0, 0.039, 0.521, 0.905, 1.0), (0.0, 0.039, 0.43, 0.838, 1.0)

    def smaller(at):
        return np.array([0.95 * at[0], np.interp(at[1], adult, child), 0.95 * at[2]])

    return orient(moved(figure, {j.name: smaller(j.position) for j in figure}))


def test_a_small_child_is_judged_as_one():
    """By its own template nothing is odd; as an adult its legs are short and its head is large."""
    child = replace(toddler(), template="toddler")
    assert about_proportions(child) == set()
    assert about_proportions(replace(child, template="adult")) == {
        ("left_hip", "note"),
        ("right_hip", "note"),
        ("head", "note"),
    }


def test_an_unknown_template_is_an_adult_s():
    """A skeleton from elsewhere names no template of ours."""
    child = replace(toddler(), template="of somebody else")
    assert about_proportions(child) == about_proportions(replace(child, template="adult"))


def test_far_off_is_a_warning():
    """Knees at a quarter of the leg: the limit is named with the template it comes from."""
    figure = standard_skeleton("A")
    places = {}
    for side in ("left", "right"):
        hip, ankle = figure[f"{side}_hip"].position, figure[f"{side}_ankle"].position
        places[f"{side}_knee"] = hip + 0.25 * (ankle - hip) + [0.0, 0.0, 0.01]
    found = [f for f in check(orient(moved(figure, places))) if f.check == "proportions"]
    assert {(f.joint, f.level) for f in found} == {
        ("left_knee", "warning"),
        ("right_knee", "warning"),
    }
    assert found[0].measured == pytest.approx(0.25, abs=0.01)
    assert found[0].limit == pytest.approx(0.498 - 4 * 0.02)
    assert "template adult" in found[0].message
