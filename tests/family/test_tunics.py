"""Hips under a tunic of one skin with the body, whose hem is where the legs part."""

from __future__ import annotations

import numpy as np
import pytest

import autoplace
from meshes.box_family import BoxMember, box_family
from meshes.box_kinds import TUNIC_DECKS, TUNICS
from tests.family.built import built

DEAL = TUNICS + 1
"""Not learned from."""
SOME = {"over bare thighs": "d45b066", "over trousers": "d45b077", "none": "d45b013"}
MOST_OFF = 5.0
"""Percent of height, as for all seen joints of figures of boxes."""
WIDE = 1.5
"""Percent of height: seen hips are sure to .3 to 1."""


@pytest.fixture(scope="module")
def members() -> list[BoxMember]:
    return box_family(DEAL)


def test_deals_hold_every_kind_of_tunic(members):
    """All kinds are dealt, and a tunic ends below the crotch and above the knee."""
    kinds = [member.traits["tunic"] for member in members]
    assert set(kinds) == set(TUNIC_DECKS["tunic"])
    for member, kind in zip(members, kinds, strict=True):
        assert (member.params.hem is None) == (kind == "none")
    assert not any(member.params.hem for member in box_family(TUNICS - 1))


@pytest.mark.parametrize("kind", SOME)
def test_hips_under_a_tunic_are_where_hips_are(members, kind):
    """They lie within 5 percent of where they are, widely spread, and a finding says that they were
    not seen; without a tunic nothing is said."""
    (member,) = (m for m in members if m.name.startswith(SOME[kind]))
    assert member.traits["tunic"] == kind
    one = built(member)
    skeleton = autoplace.place(one.character).skeleton
    for side in ("left", "right"):
        hip = skeleton[f"{side}_hip"]
        off = 100 * float(np.linalg.norm(hip.position - one.joints[hip.name])) / one.height
        assert off < MOST_OFF
        if kind != "none":
            assert hip.spread is not None
            assert 100 * hip.spread / one.height > WIDE
    said = any(found.check == "hidden_legs" for found in skeleton.findings)
    assert said == (kind != "none")
