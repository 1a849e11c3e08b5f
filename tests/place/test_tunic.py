"""A hem is told from a crotch by what ends there and by where such a head has its crotch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from autoplace.measure.hem_step import HemStep
from autoplace.place.tunic import REACHES, WIDEST_GAP, arms_sign, hem_for_crotch, hem_odds

CROTCH = HemStep(broad=1.0, area=1.2, gap=0.05)
HEM = HemStep(broad=1.2, area=3.0, gap=0.3)
GROWN = ((7.4, 0.4815), (7.8, 0.4802))
"""Stature over vertex-menton and crotch height over stature of women and men (US Army 2012
survey)."""


@pytest.mark.parametrize(("heads_tall", "crotch"), GROWN)
def test_a_crotch_where_the_survey_has_it_is_none_of_a_hem(heads_tall, crotch):
    """Where legs part at the surveyed height, nothing that ends there makes it a hem."""
    assert hem_for_crotch(heads_tall, crotch) < 0.0
    assert hem_odds(HEM, heads_tall, crotch) == -np.inf


@pytest.mark.parametrize(("heads_tall", "crotch"), GROWN)
def test_grown_legs_that_part_at_mid_thigh_come_out_of_a_tunic(heads_tall, crotch):
    """Half way from the surveyed crotch to the knee (.285 of stature, Winter 2009) it is a hem if
    a hem's share of the body ends there, and is not sure to be one if a crotch's does."""
    thigh = 0.5 * (crotch + 0.285)
    assert hem_odds(HEM, heads_tall, thigh) > 1.0
    assert hem_odds(CROTCH, heads_tall, thigh) < hem_odds(HEM, heads_tall, thigh) - 3.0


def test_a_big_head_on_short_legs_is_no_sign():
    """At three heads tall legs may part at a quarter of the height."""
    assert hem_for_crotch(3.0, 0.27) < hem_for_crotch(7.5, 0.27)
    assert hem_odds(CROTCH, 3.0, 0.25) < 0.0


def test_a_head_too_small_to_be_read_tells_nothing():
    """Twenty heads tall is a head that was cut off wrongly."""
    assert hem_for_crotch(20.0, 0.3) == 0.0
    assert hem_odds(HEM, 20.0, 0.3) == -np.inf


def test_legs_far_apart_under_a_belly_are_no_sign():
    """Thin legs under a belly are farther apart than in any tunic, and much ends above them."""
    belly = HemStep(broad=1.1, area=5.0, gap=0.7)
    assert hem_odds(belly, 3.8, 0.2) == -np.inf
    assert hem_odds(replace(belly, gap=0.9 * WIDEST_GAP), 3.8, 0.2) > 0.0


def test_short_arms_for_such_a_trunk_speak_for_a_tunic():
    """Trousers fill a tunic without a step; then arms that reach less far than its length lets
    expect tell. Grown arms reach .57 of stature from the middle, chins are at .87 (Winter 2009)."""
    reach, chin, thigh = 0.57, 0.87, 0.36
    trousers = HemStep(broad=1.0, area=1.6, gap=0.1)
    long_body = replace(trousers, reach=reach / (chin - thigh) * 1.3)
    short_arms = replace(trousers, reach=reach / (chin - thigh) * 0.65)
    assert hem_odds(short_arms, 7.5, thigh) > hem_odds(trousers, 7.5, thigh)
    assert hem_odds(long_body, 7.5, thigh) < hem_odds(trousers, 7.5, thigh)


def test_arms_hidden_or_lengthened_tell_no_more_than_arms_do():
    """An arm that ends in a sleeve on the hip, or in a staff, counts as the shortest or longest."""
    assert arms_sign(replace(HEM, reach=0.1)) == np.log(REACHES[0])
    assert arms_sign(replace(HEM, reach=5.0)) == np.log(REACHES[1])
    assert arms_sign(HEM) == 0.0
