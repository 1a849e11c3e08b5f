"""Legs that a skirt to the floor hides are placed all the same, and with a wide spread."""

from __future__ import annotations

import numpy as np
import pytest

import autoplace
from autoplace.skeleton.model import Skeleton
from tests.family.built import built
from tests.family.veiled import Veiled, as_one_skin, members_in, without_legs

TO_FLOOR = ("skirt_floor", "gown")
SOME = ("m099", "m202")
"""Of all that the marked test goes through: the tallest, and one in a gown."""
MOST_OFF = 5.0
"""Percent of height: under a skirt only the figure's head and waist tell where legs are."""
WIDE = 1.0
"""Percent of height: seen joints of legs are sure to .3 to 1."""


def some_members():
    return [m for m in members_in(*TO_FLOOR) if m.name[:4] in SOME]


def placed(veiled: Veiled) -> Skeleton:
    return autoplace.place(veiled.character).skeleton


def assert_legs_are_guessed_well(veiled: Veiled, skeleton: Skeleton) -> None:
    misses = veiled.leg_misses(skeleton)
    assert max(far for far, _ in misses.values()) < MOST_OFF, (veiled.character.name, misses)
    assert min(spread for _, spread in misses.values()) > WIDE, (veiled.character.name, misses)


@pytest.fixture(scope="module")
def legless() -> list[tuple[Veiled, Skeleton]]:
    return [(veiled, placed(veiled)) for veiled in map(without_legs, some_members())]


def test_legs_are_placed_under_a_skirt_over_nothing(legless):
    """Where no legs are modelled, each stands within 5 percent of where it would, widely spread."""
    assert len(legless) == len(SOME)
    for veiled, skeleton in legless:
        assert_legs_are_guessed_well(veiled, skeleton)


def test_spread_of_hidden_legs_is_honest(legless):
    """About two thirds of the axes of hidden joints lie within one spread, 95 of 100 within two."""
    ratios = []
    for veiled, skeleton in legless:
        for name in veiled.leg_misses(skeleton):
            joint = skeleton[name]
            ratios += list(np.abs(joint.position - veiled.joints[name]) / joint.spread)
    within = [float(np.mean(np.array(ratios) < limit)) for limit in (1.0, 2.0)]
    assert 0.55 < within[0] < 0.95, within
    assert within[1] > 0.90, within


def test_finding_names_the_part_that_hides_the_legs(legless):
    """One sentence says which part hides the legs and what was assumed."""
    for veiled, skeleton in legless:
        names = {part.name for part in veiled.character.parts}
        (found,) = [f for f in skeleton.findings if f.check == "hidden_legs"]
        assert any(f"'{name}'" in found.message for name in names - {"body"}), found.message
        assert "template" in found.message
        assert "both legs" in found.message
        assert not [f for f in skeleton.findings if f.check == "missing_limb"]


def test_trunk_and_arms_are_not_led_astray(legless):
    """The shoulders stand within 4 percent although no crotch tells how long the trunk is."""
    for veiled, skeleton in legless:
        for side in ("left", "right"):
            joint = skeleton[f"{side}_shoulder"]
            far = np.linalg.norm(joint.position - veiled.joints[joint.name]) / veiled.height
            assert far < 0.04, (veiled.character.name, far)


@pytest.mark.wide
def test_one_skin_with_its_skirt():
    """A figure that is one skin with its gown has its legs placed by the same rule, and told."""
    member = next(m for m in members_in("gown") if m.name.startswith("m110"))
    veiled = as_one_skin(member)
    skeleton = placed(veiled)
    assert_legs_are_guessed_well(veiled, skeleton)
    (found,) = [f for f in skeleton.findings if f.check == "hidden_legs"]
    assert "'figure'" in found.message


def test_one_skin_with_a_skirt_to_the_knee():
    """Below the hem legs are measured, above it guessed: ankles are sure, hips are not."""
    member = next(m for m in members_in("skirt") if m.name.startswith("m192"))
    veiled = as_one_skin(member)
    skeleton = placed(veiled)
    misses = veiled.leg_misses(skeleton)
    for side in ("left", "right"):
        assert misses[f"{side}_ankle"][0] < 1.0, misses
        assert misses[f"{side}_ankle"][1] < WIDE, misses
        assert misses[f"{side}_hip"][0] < 4.0, misses
        assert misses[f"{side}_hip"][1] > WIDE, misses
    assert [f for f in skeleton.findings if f.check == "hidden_legs" and "percent" in f.message]


def test_legs_modelled_under_a_skirt_are_measured_and_told():
    """Legs that are there under a skirt are measured, and a note names the skirt over them."""
    member = next(m for m in members_in("skirt_floor") if m.name.startswith("m072"))
    one = built(member)
    skeleton = autoplace.place(one.character).skeleton
    found = [f for f in skeleton.findings if f.check == "covered_legs"]
    assert len(found) == 1
    assert "'skirt'" in found[0].message
    knee = skeleton["left_knee"]
    assert np.linalg.norm(knee.position - one.joints["left_knee"]) < 0.01 * one.height
    assert knee.spread < 0.01 * one.height


@pytest.mark.family
@pytest.mark.parametrize("make", [without_legs, as_one_skin])
def test_spread_of_all_hidden_legs_is_honest(make):
    """Over all members in skirts to the floor 90 of 100 axes lie within two spreads."""
    ratios, lost = [], []
    for member in members_in(*TO_FLOOR):
        veiled = make(member)
        skeleton = placed(veiled)
        misses = veiled.leg_misses(skeleton)
        lost += [member.name] * (max(far for far, _ in misses.values()) > 10.0)
        for name in misses:
            joint = skeleton[name]
            ratios += list(np.abs(joint.position - veiled.joints[name]) / joint.spread)
    assert np.mean(np.array(ratios) < 2.0) > 0.90, (np.mean(np.array(ratios) < 2.0), lost)
    assert len(lost) <= 1, lost
