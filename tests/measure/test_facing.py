"""`measure.facing`: which way a figure looks, by single clues."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.facing import find_facing
from autoplace.mesh.triangles import face_normals
from tests.mesh.capsule_figures import capsule, joined, sphere

PLANE = (np.array([1.0, 0.0, 0.0]), 0.0, np.array([0.0, 1.0, 0.0]))
EYES = np.array([[-0.03, 0.9, 0.055], [0.03, 0.9, 0.055]])


def post(head):
    """A head on a round post, which has neither feet nor a face."""
    vertices, faces = joined(capsule(np.zeros(3), np.array([0.0, 0.75, 0.0]), 0.08, 0.08), head)
    return vertices, faces, *face_normals(vertices, faces)


@pytest.mark.parametrize("cap", [180.0, 90.0], ids=["whole", "mask"])
def test_eyes_are_ahead_of_the_middle_of_a_head(cap):
    """Under hair a head is a mask, which lies ahead of the eyes in it but for its rim."""
    head = sphere(np.array([0.0, 0.9, 0.0]), 0.1, 24, cap)
    facing = find_facing(*post(head), PLANE, EYES)
    assert facing.forward @ [0.0, 0.0, 1.0] > 0.99
    assert "eyes" in facing.why
