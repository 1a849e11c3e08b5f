"""Balls are cut out of what lashes, teeth or skin joined to them."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.eye_split import split_balls
from autoplace.mesh.islands import find_islands
from autoplace.mesh.spheres import measure_islands
from tests.eyes.shapes import bridged, dished, globe, looking, slab
from tests.mesh.capsule_figures import EYE_PLACE, EYE_RADIUS, capsule, figure, joined
from tests.mesh.dressed_figures import judged, role_of

AHEAD = looking(0, 0)
TEETH = slab(np.array([-0.02, 0.885, 0.03]), np.array([0.02, 0.9, 0.045]))


def eye(side, **how):
    return globe(EYE_PLACE * [side, 1, 1], EYE_RADIUS, AHEAD, 12, **how)


def split(mesh):
    """The islands of one object before and after, and their measures after."""
    character = figure({"thing": mesh})
    islands = find_islands(character)
    vertices, faces = character.vertices, character.faces
    measures = measure_islands(islands, vertices, faces)
    after = split_balls(islands, vertices, faces, measures)
    return islands, after, measure_islands(after, vertices, faces)


@pytest.mark.parametrize("how", [{}, {"lift": dished}, {"cap": 90.0}], ids=["ball", "iris", "half"])
def test_both_eyes_and_the_teeth_in_one_piece(how):
    """Of one connected piece both balls become islands of their own, and the teeth stay."""
    before, after, measures = split(bridged(bridged(eye(1, **how), eye(-1, **how)), TEETH))
    assert before.count == 1
    assert after.count == 3
    centres = measures.ball_centre[1:][np.argsort(measures.ball_centre[1:, 0])]
    np.testing.assert_allclose(centres, [EYE_PLACE * [-1, 1, 1], EYE_PLACE], atol=0.1 * EYE_RADIUS)
    assert np.bincount(after.label).sum() == len(before.label)


def test_nothing_is_cut_without_a_ball():
    """A limb with a round end and a lone box stay whole, as the same record."""
    rod = capsule(np.array([0, 0.6, 0]), np.array([0, 0.9, 0]), 0.03, 0.03)
    before, after, _ = split(joined(rod, TEETH))
    assert after is before


def test_a_ball_alone_is_an_island_already():
    """A ball that nothing hangs on is not cut from itself."""
    before, after, _ = split(eye(1))
    assert after is before


def test_roles_of_one_piece(skin):
    """The balls become the left and the right eye, and what hung on them does not."""
    one = bridged(bridged(eye(1), eye(-1)), TEETH)
    roles = judged({"Object001": skin, "Object002": one})
    found = role_of(roles, "Object002")
    assert {"eyeball left", "eyeball right"} < found
    assert not found - {"eyeball left", "eyeball right"} & {"eyeball"}
