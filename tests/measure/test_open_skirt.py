"""Legs that end inside a skirt which is open below are led up to the trunk."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.body_limbs import find_body_limbs
from autoplace.measure.limbs import find_limbs
from autoplace.measure.open_skirt import with_thighs
from autoplace.measure.solid import Solid, fill_solid
from tests.measure.blocks import CELL, CROTCH, LEG_HALF, LEG_X, block_meshes
from tests.mesh.capsule_figures import joined


def figure(*tops: float) -> Solid:
    """The block figure on legs that end at heights, left first, with nothing between them and the
    trunk."""
    return fill_solid(*joined(*block_meshes(leg_tops=tops)), CELL)


def legs(solid: Solid) -> list[str | None]:
    return [limb.side for limb in find_limbs(solid).limbs if limb.kind == "leg"]


@pytest.mark.parametrize("tops", [(0.42, 0.34), (0.34, 0.42)])
def test_both_legs_are_led_up_where_a_bridge_joins_one(tops):
    """In a stride one leg ends near the trunk and the other farther off than a bridge reaches."""
    solid = figure(*tops)
    assert len(legs(solid)) < 2
    assert sorted(map(str, legs(with_thighs(solid)))) == ["left", "right"]


@pytest.mark.parametrize("tops", [(0.38, 0.38), (0.37, 0.32)])
def test_legs_under_an_open_skirt_are_led_up(tops):
    """The thighs that are not there stand over the legs, up to the trunk and no farther."""
    solid = figure(*tops)
    assert legs(solid) == []
    whole = with_thighs(solid)
    assert sorted(map(str, legs(whole))) == ["left", "right"]
    added = whole.to_points(np.argwhere(whole.inside & ~solid.inside))
    for sign, top in zip((1.0, -1.0), tops, strict=True):
        mine = added[sign * added[:, 0] > 0.0]
        assert mine[:, 1].min() == pytest.approx(top, abs=2 * CELL)
        assert mine[:, 1].max() == pytest.approx(CROTCH, abs=2 * CELL)
        assert np.abs(np.abs(mine[:, 0]) - LEG_X).max() < LEG_HALF + CELL


@pytest.mark.parametrize(("tops", "led"), [((0.38, 0.38), True), ((0.48, 0.48), False)])
def test_the_limbs_tell_that_legs_were_led_on(tops, led):
    """Whoever reports on a placing can say that the thighs are not modelled."""
    solid, limbs = find_body_limbs(figure(*tops), [])
    assert limbs.led_up == led
    assert len(limbs.pair("leg")) == 2
    assert solid.inside.any()


@pytest.mark.parametrize(
    "tops",
    [(0.38,), (0.1, 0.1), (0.44, 0.44), (0.22, 0.22)],
    ids=["one leg", "feet", "near", "far"],
)
def test_what_is_no_pair_of_such_legs_stays(tops):
    """One leg, two shoes, legs that a bridge joins and legs far below the trunk are left alone."""
    solid = figure(*tops)
    assert with_thighs(solid) is solid
