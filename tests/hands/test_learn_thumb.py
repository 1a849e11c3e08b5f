"""What the thumb's base is learned from."""

from __future__ import annotations

import numpy as np

from autoplace.place.readings import known_shapes
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


def test_the_base_lies_between_knuckle_and_wrist():
    """The reading is surer of the base than a tenth of the hand, and has it between the two."""
    known = known_shapes(KIND)
    reader = known.joints[JOINT]
    assert (reader.spread < 0.1).all()
    wrist = -known.mean[:3]
    assert 0.0 < float(reader.middle @ wrist / (wrist @ wrist)) < 1.0


def test_a_rough_mesh_moves_the_base_no_farther_than_the_thumb():
    """A thumb measured a hundredth of the hand elsewhere in every value moves its base by less
    than three hundredths."""
    known = known_shapes(KIND)
    weight = known.joints[JOINT].weight @ known.basis / known.scale
    assert np.linalg.norm(0.01 * weight) < 0.03
