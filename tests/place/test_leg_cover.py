"""Findings about cloth that hides the legs name the right part, and nothing else."""

from __future__ import annotations

import numpy as np

from autoplace.measure.hem import Hem
from autoplace.place.leg_cover import covered_legs, hidden_legs_finding

JOINTS = {
    f"{side}_{stem}": np.array([sign * 0.05, height, 0.0])
    for side, sign in (("left", 1.0), ("right", -1.0))
    for stem, height in (("knee", 0.27), ("ankle", 0.04))
}


def tube(radius: float, low: float, high: float, start=0.0, end=2 * np.pi, x=0.0) -> np.ndarray:
    """(m, 3, 3) triangles of an upright tube, or of the part of it between two directions; zero
    degrees is ahead."""
    turn = np.linspace(start, end, 33)
    ring = np.stack([x + radius * np.sin(turn), radius * np.cos(turn)], axis=1)
    lower = np.insert(ring, 1, low, axis=1)
    upper = np.insert(ring, 1, high, axis=1)
    a, b, c, d = lower[:-1], lower[1:], upper[1:], upper[:-1]
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def test_skirt_to_the_floor_covers_both_legs():
    """A closed tube about both legs is named; its note says that they were measured under it."""
    (found,) = covered_legs({"kilt": tube(0.15, 0.0, 0.5)}, JOINTS)
    assert (found.check, found.level) == ("covered_legs", "note")
    assert "'kilt'" in found.message
    assert "under it" in found.message


def test_skirt_to_the_knee_covers_no_leg():
    """What ends above the ankles leaves them to be seen."""
    assert covered_legs({"kilt": tube(0.15, 0.2, 0.5)}, JOINTS) == ()


def test_trousers_cover_no_legs():
    """A tube about each leg is no cover of both: it shows where they are."""
    legs = [tube(0.04, 0.0, 0.5, x=x) for x in (-0.05, 0.05)]
    assert covered_legs({"trousers": np.concatenate(legs)}, JOINTS) == ()


def test_cloak_open_in_front_covers_no_legs():
    """A cloak that is open by a quarter turn in front lets the legs be seen."""
    cloak = tube(0.2, 0.0, 0.8, 0.25 * np.pi, 1.75 * np.pi)
    assert covered_legs({"cloak": cloak}, JOINTS) == ()


def test_nothing_is_said_without_legs():
    """Where no legs are placed none can be covered."""
    assert covered_legs({"kilt": tube(0.15, 0.0, 0.5)}, {}) == ()


def hem(height: float) -> Hem:
    return Hem(height, 0.55, 0.6, np.zeros(3), np.zeros(3), {})


def test_hidden_legs_name_the_part_below_the_waist():
    """The part with most surface between hem and waist hides the legs."""
    parts = {"torso": tube(0.1, 0.5, 0.8), "robe": tube(0.2, 0.0, 0.6)}
    found = hidden_legs_finding(hem(0.0), parts)
    assert found.level == "warning"
    assert "'robe' hides both legs to the floor" in found.message
    assert "--leave-out 'robe'" in found.fix


def test_hidden_legs_of_one_skin_cannot_be_left_out():
    """A skirt that is one part with the body is called so, and leaving it out is not proposed."""
    found = hidden_legs_finding(hem(0.2), {"all": tube(0.2, 0.2, 0.8)})
    assert "of one piece with 'all'" in found.message
    assert "20 percent" in found.message
    assert "--leave-out" not in found.fix
