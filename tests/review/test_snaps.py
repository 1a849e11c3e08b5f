"""Where joints snap to on the demo characters, whose joints are known, and on bodies of tubes."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from autoplace import load
from autoplace.data import data_folder
from autoplace.measure.not_found import NotFound
from autoplace.refit.recorded import recorded_frame, roles_in, settings_for
from autoplace.review.snaps import Snap, SnapTargets
from autoplace.skeleton.model import Skeleton
from tests.known_skeleton import known_skeleton

ROUND = ("elbow", "wrist", "knee")
"""Joints in the middle of a tube of flesh, by how the demo characters are made."""
AMONG_OTHERS = ("index_1", "middle_1", "thumb_1", "shoulder", "hip")
"""Joints whose section runs on into the palm or the trunk."""


class Known:
    """A demo character with its known joints, as if they came from elsewhere."""

    def __init__(self, name: str) -> None:
        folder = data_folder("meshes")
        self.character = load(folder / f"{name}.obj")
        truth = json.loads((folder / f"{name}.truth.json").read_text(encoding="utf-8"))
        joints = {key: np.array(place) for key, place in truth["joints"].items()}
        self.height = float(truth["height"])
        self.skeleton: Skeleton = known_skeleton(
            joints, self.height, up=truth["up"], forward=truth["forward"]
        )
        self.frame = recorded_frame(self.character, self.skeleton)
        prepared, roles = roles_in(
            self.frame, self.character, settings_for(self.character, self.skeleton)
        )
        self.targets = SnapTargets(
            self.character, self.frame, self.skeleton, prepared.original_roles(roles)
        )

    def at(self, name: str) -> np.ndarray:
        """(3,) where a joint is known to be."""
        return np.asarray(self.skeleton[name].position)

    def off(self, name: str, snap: Snap | NotFound) -> float:
        """Distance of a place from where the joint is known to be, percent of the height."""
        assert isinstance(snap, Snap), snap
        return 100.0 * float(np.linalg.norm(snap.position - self.at(name))) / self.height


@pytest.fixture(scope="module", params=["lamplighter", "bell_child"])
def known(request) -> Known:
    """One of two demo characters, in its own frame and units."""
    return Known(request.param)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("joint", ROUND)
def test_section_leads_back_to_a_joint_that_was_moved(known, joint, side):
    """Moved aside by 1.5 percent of the height, elbow, wrist and knee come back to within .5
    percent."""
    name = f"{side}_{joint}"
    aside = known.at(name) + 0.015 * known.height * known.skeleton[name].axes[0]
    snap = known.targets.section_centre(name, aside)
    assert known.off(name, snap) < 0.5
    assert snap.words == "centre of the section"


@pytest.mark.parametrize("joint", ["index_2", "index_3", "middle_2", "pinky_2", "pinky_3"])
def test_section_of_a_finger_leaves_its_neighbours_out(known, joint):
    """Finger joints come back to within a twentieth of a percent of the height, less than a tenth
    of a finger's thickness."""
    name = f"left_{joint}"
    aside = known.at(name) + 0.002 * known.height * known.skeleton[name].axes[0]
    assert known.off(name, known.targets.section_centre(name, aside)) < 0.05


@pytest.mark.parametrize("joint", AMONG_OTHERS)
def test_joint_among_others_keeps_its_place_along_the_slab(known, joint):
    """A knuckle, the thumb's base, a shoulder and a hip are not drawn to the middle of the palm or
    the trunk, which is 2 percent of the height away and more."""
    name = f"right_{joint}"
    assert known.off(name, known.targets.section_centre(name, known.at(name))) < 1.2


@pytest.mark.parametrize("side", ["left", "right"])
def test_eyeball_is_found_again(known, side):
    """From two eyes' breadth off, an eye joint snaps to the centre of its eyeball: to a hundredth
    of a percent of the height, for the eyeballs are balls."""
    name = f"{side}_eye"
    aside = known.at(name) + 0.02 * known.height * np.array([0.0, 0.5, 1.0])
    snap = known.targets.eyeball(name, aside)
    assert known.off(name, snap) < 0.01
    assert "sphere" in snap.words


@pytest.mark.parametrize("joint", ["elbow", "wrist", "knee", "index_2", "index_3", "middle_2"])
def test_centreline_runs_through_the_joints(known, joint):
    """Beside its limb's or finger's line a joint snaps to within .5 percent of the height of where
    it is known to be."""
    name = f"left_{joint}"
    aside = known.at(name) + 0.004 * known.height * known.skeleton[name].axes[0]
    assert known.off(name, known.targets.centreline(name, aside)) < 0.5


def test_centreline_ends_where_the_limb_does(known):
    """A hip lies beyond the line of its leg, which begins where the legs part."""
    found = known.targets.centreline("left_hip", known.at("left_hip"))
    assert isinstance(found, NotFound)
    assert "beyond the end" in found.why


def test_snapping_twice_changes_nothing(known):
    """The second time the place is the same to a twentieth of a percent of the height."""
    for name in ("left_elbow", "left_index_1", "right_hip", "chest"):
        aside = known.at(name) + 0.01 * known.height * np.array([0.3, 0.2, -0.5])
        once = known.targets.section_centre(name, aside)
        twice = known.targets.section_centre(name, once.position)
        assert np.linalg.norm(twice.position - once.position) < 5e-4 * known.height


def test_what_makes_no_sense_is_not_found(known):
    """An eye has no section, a knee no eyeball, and a spine no line; each says why."""
    targets, at = known.targets, known.at("chest")
    for found in (
        targets.section_centre("left_eye", at),
        targets.section_centre("left_clavicle", at),
        targets.eyeball("left_knee", at),
        targets.centreline("chest", at),
        targets.centreline("left_eye", at),
    ):
        assert isinstance(found, NotFound)
        assert found.why


def test_joints_that_are_missing_give_a_reason(known):
    """A skeleton of legs alone has no wrist to measure a hand from, and a mesh without roles no
    eyeballs."""
    words = ("pelvis", "hip", "knee", "ankle", "ball", "toe")
    joints = tuple(j for j in known.skeleton if any(word in j.name for word in words))
    joints = (*joints, replace(known.skeleton["left_index_1"], parent="pelvis"))
    targets = SnapTargets(known.character, known.frame, known.skeleton.with_joints(joints))
    found = targets.centreline("left_index_1", known.at("left_index_1"))
    assert isinstance(found, NotFound)
    assert "left_wrist" in found.why
    assert isinstance(targets.eyeball("left_eye", known.at("left_eye")), NotFound)
