"""What a figure lacks, and what was told apart, is said with what to do about it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.not_found import NotFound
from autoplace.place.eyes import EyesFound
from autoplace.place.missing import missing_findings

LINE = np.zeros((2, 3))
NO_EYES = EyesFound(NotFound("left eye", "none"), NotFound("right eye", "none"))
NO_HANDS = {side: NotFound(f"{side} hand", "none") for side in ("left", "right")}


def limbs_of(*kinds: tuple[str, str], notes: tuple[str, ...] = ()) -> Limbs:
    found = [Limb(kind, side, LINE, np.ones(2), LINE[0], LINE) for kind, side in kinds]
    return Limbs(tuple(found), np.zeros(3), notes)


def told(limbs: Limbs, check: str):
    return [f for f in missing_findings(limbs, NO_HANDS, NO_EYES) if f.check == check]


def test_a_missing_arm_may_be_one_with_the_trunk():
    """A warning for each missing limb; of an arm it says what to do if it is one with the trunk."""
    found = told(limbs_of(("leg", "left"), ("leg", "right"), ("arm", "left")), "missing_limb")
    assert [f.level for f in found] == ["warning"]
    assert "right arm" in found[0].message
    assert "grown together with the trunk" in found[0].fix


def test_what_was_told_apart_is_a_note():
    """Each note of how limbs were told is a finding with a capital and a stop."""
    everything = [(kind, side) for kind in ("leg", "arm") for side in ("left", "right")]
    found = told(limbs_of(*everything, notes=("the left arm lies against it",)), "arm_from_piece")
    assert [f.message for f in found] == ["The left arm lies against it."]
    assert not told(limbs_of(*everything), "arm_from_piece")


def test_legs_that_were_led_on_are_a_note():
    """That the thighs are not modelled is said, since hips and knees rest on it."""
    everything = [(kind, side) for kind in ("leg", "arm") for side in ("left", "right")]
    limbs = limbs_of(*everything)
    (found,) = told(replace(limbs, led_up=True), "thighs_led_on")
    assert found.level == "note"
    assert "trunk" in found.message
    assert not told(limbs, "thighs_led_on")
