"""What the thumb's base is learned from."""

from __future__ import annotations

import numpy as np

from autoplace.place.readings import all_known
from meshes.box_family import BoxMember
from meshes.family import Member
from meshes.hand_family import HandMember
from tests.dataset.bodies import BodySpec
from tests.hands.learn_thumb import JOINT, KIND, everything, number_of


def test_only_what_may_be_looked_at_is_learned_from():
    """No body, hand or figure is learned from that is reported on: of the families those of even
    number, of the dataset the builds that are open."""
    found = everything()
    assert all(one.tuning for one in found if isinstance(one, BodySpec | HandMember))
    figures = [one for one in found if isinstance(one, Member | BoxMember)]
    assert all(number_of(one) % 2 == 0 for one in figures)
    kinds = {type(one) for one in found}
    assert kinds == {BodySpec, HandMember, Member, BoxMember}


def test_both_families_know_the_thumb():
    """People and invented hands are known apart, both surer of the base than a hand's tenth, and
    the base lies between the knuckle and the wrist."""
    known = all_known(KIND)
    assert len(known) == 2
    for one in known:
        reader = one.joints[JOINT]
        assert (reader.spread < 0.1).all()
        wrist = -one.mean[:3]
        along = float(reader.middle @ wrist / (wrist @ wrist))
        assert 0.0 < along < 1.0
        assert np.isfinite(reader.weight).all()
