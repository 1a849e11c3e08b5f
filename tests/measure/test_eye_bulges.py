"""Balls that are one skin with the face are found behind it."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.eye_bulges import EyeBulges, find_eye_bulges
from tests.eyes.cases import CASES
from tests.eyes.hosts import light_host, plain_host


def box_of(host):
    """The head's box as the trunk's cuts give it."""
    half = 0.5 * 0.675 * host.head
    return np.array([-half, host.chin, 0.0]), np.array([half, float(host.top[1]), 0.0])


@pytest.mark.parametrize("size", [1.0, 1.9])
@pytest.mark.parametrize("seed", [0, 1])
def test_balls_in_the_skin(size, seed):
    """Both centres within a twentieth of the radius, and the radius as well."""
    host = plain_host(size)
    made = CASES["one_with_the_skin"](host, np.random.default_rng(seed))
    found = find_eye_bulges(*made.parts["Object001"], *box_of(host))
    assert isinstance(found, EyeBulges)
    for side, fit in (("left", found.left), ("right", found.right)):
        known = made.eyes[side]
        assert np.linalg.norm(fit.center - known.centre) < 0.05 * known.radius
        assert fit.radius == pytest.approx(known.radius, rel=0.05)
    assert 0.13 < found.shown < 0.6


def test_a_ball_on_one_side_is_no_pair():
    """Half of the face alone is not believed."""
    host = plain_host(1.0)
    made = CASES["one_with_the_skin"](host, np.random.default_rng(0))
    vertices, faces = made.parts["Object001"]
    left = vertices[faces].mean(axis=1)[:, 0] > 0
    assert not find_eye_bulges(vertices, faces[left], *box_of(host))


@pytest.mark.parametrize("host", [plain_host(1.0), plain_host(2.4)], ids=lambda h: h.name)
def test_smooth_heads_have_none(host):
    """A smooth head is one ball, and no eye."""
    found = find_eye_bulges(*host.parts["Object001"], *box_of(host))
    assert not found
    assert "ball" in str(found)


def test_sockets_and_lids_are_no_balls():
    """A face with sockets, nose and cheeks shows none."""
    host = light_host()
    vertices, faces = max(host.parts.values(), key=lambda mesh: len(mesh[1]))
    assert not find_eye_bulges(vertices, faces, *box_of(host))


def test_a_head_without_height_has_no_face():
    """A box of no height or breadth is answered, not divided by."""
    host = plain_host(1.0)
    low, high = box_of(host)
    surface = CASES["one_with_the_skin"](host, np.random.default_rng(0)).parts["Object001"]
    for axis in (0, 1):
        flat = high.copy()
        flat[axis] = low[axis]
        assert not find_eye_bulges(*surface, low, flat)
