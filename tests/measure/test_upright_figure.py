"""Which branches, standing how, are believed to be a figure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from autoplace.errors import NotACharacter
from autoplace.measure.frame_record import Frame
from autoplace.measure.limb_record import Limbs
from autoplace.measure.limbs import find_limbs
from autoplace.measure.upright_figure import must_be_a_figure, must_have_a_trunk
from tests.measure.blocks import T_ARM, block_body
from tests.place.trunks import a_trunk


def stood(axis: str, degrees: float) -> Frame:
    """A frame whose figure stands in the file turned about one of the file's axes."""
    turn = Rotation.from_euler(axis, degrees, degrees=True).as_matrix()
    return Frame(turn, np.zeros(3), 1.0, "+Y", "+Z", 0.01)


@pytest.fixture(scope="module")
def one_armed() -> Limbs:
    """Two legs and one arm: the other lies folded against the trunk."""
    return find_limbs(block_body({"left": T_ARM}))


@pytest.mark.parametrize(("axis", "degrees"), [("y", 25.0), ("x", 7.0)])
def test_a_posed_figure_may_lack_an_arm(one_armed, axis, degrees):
    """About upright in the file, on two legs that are alike, it is a figure whichever way it
    faces."""
    must_be_a_figure(one_armed, stood(axis, degrees), hidden=False)


def test_a_posed_figure_may_hide_its_legs(one_armed):
    """Over a skirt to the floor, one arm and no leg are enough where it is upright in the file."""
    rest = Limbs(tuple(limb for limb in one_armed.limbs if limb.kind != "leg"), one_armed.seed)
    must_be_a_figure(rest, stood("y", 25.0), hidden=True)
    with pytest.raises(NotACharacter, match="askew"):
        must_be_a_figure(rest, stood("x", 25.0), hidden=True)


@pytest.mark.parametrize("missing", ["head", "arm"])
def test_what_leans_in_the_file_may_lack_one_arm_and_no_more(one_armed, missing):
    """Fingers look like the limbs of such a figure from one side or another, but for a head."""
    must_be_a_figure(one_armed, stood("x", 25.0), hidden=False)
    rest = Limbs(tuple(limb for limb in one_armed.limbs if limb.kind != missing), one_armed.seed)
    with pytest.raises(NotACharacter, match="askew"):
        must_be_a_figure(rest, stood("x", 25.0), hidden=False)


def test_legs_that_are_unlike_carry_no_figure_that_is_turned(one_armed):
    """With one leg cut off at the knee it is refused when turned, and not when it is not."""
    left = one_armed.one("leg", "left")
    stump = left.cells[left.cells[:, 1] > 0.25]
    rest = [limb for limb in one_armed.limbs if limb is not left]
    cut = Limbs((replace(left, cells=stump), *rest), one_armed.seed)
    must_be_a_figure(cut, stood("y", 0.0), hidden=False)
    with pytest.raises(NotACharacter, match="askew"):
        must_be_a_figure(cut, stood("y", 25.0), hidden=False)


def test_what_has_its_neck_below_its_legs_is_refused():
    """A cart with a beast before it narrows below the place where its shafts part."""
    trunk = a_trunk()
    must_have_a_trunk(trunk)
    turned = replace(trunk, neck=trunk.crotch - [0.0, 0.02, 0.0])
    with pytest.raises(NotACharacter, match="lower than where the legs part"):
        must_have_a_trunk(turned)
