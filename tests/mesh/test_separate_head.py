"""A cube or a ball on the trunk is the head, and a hat on a head is none."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from autoplace.mesh.separate_head import separate_head
from meshes.box_family import box_family
from tests.family.placing import score
from tests.mesh.capsule_figures import box, joined, sphere, tube
from tests.mesh.dressed_figures import judged, role_of

TRUNK = joined(
    box((-0.25, 0.37, -0.06), (0.25, 0.75, 0.06)),
    box((-0.13, 0.0, -0.06), (-0.01, 0.37, 0.06)),
    box((0.01, 0.0, -0.06), (0.13, 0.37, 0.06)),
)
"""A figure of three boxes, whose arms are one with the trunk."""


@pytest.mark.parametrize("gap", [-0.02, 0.0, 0.02], ids=["sunk", "touching", "hovering"])
@pytest.mark.parametrize("kind", ["cube", "ball"])
def test_what_lies_on_the_shoulders_is_the_head(kind, gap):
    """As broad as a head, at the middle, on a trunk broader than it: body, and it has the face."""
    low = 0.75 + gap
    cube = box((-0.125, low, -0.125), (0.125, low + 0.25, 0.125))
    head = cube if kind == "cube" else sphere(np.array((0.0, low + 0.125, 0.0)), 0.125)
    roles = judged({"Object001": TRUNK, "Object002": head})
    assert role_of(roles, "Object002") == {"body"}
    assert role_of(roles, "Object001") == {"body"}


def test_a_big_cube_over_narrow_shoulders_is_the_head():
    """Blocks for arms make the figure a little broader than its head, but no hat is a third of it
    and twice as deep as all that it lies on."""
    arms = [box((x - 0.04, 0.33, -0.04), (x + 0.04, 0.67, 0.04)) for x in (-0.17, 0.17)]
    roles = judged(
        {
            "Object001": joined(
                box((-0.13, 0.33, -0.08), (0.13, 0.67, 0.08)),
                box((-0.13, 0.0, -0.08), (0.0, 0.33, 0.08)),
                box((0.0, 0.0, -0.08), (0.13, 0.33, 0.08)),
            ),
            "Object002": arms[0],
            "Object003": arms[1],
            "Object004": box((-0.17, 0.67, -0.17), (0.17, 1.0, 0.17)),
        }
    )
    assert role_of(roles, "Object004") == {"body"}
    assert role_of(roles, "Object002") == role_of(roles, "Object003") == {"body"}


def test_a_shell_over_such_a_head_is_worn():
    """A layer around the head cube is hair or a helmet; the cube in it is body."""
    roles = judged(
        {
            "Object001": TRUNK,
            "Object002": box((-0.125, 0.75, -0.125), (0.125, 1.0, 0.125)),
            "Object003": box((-0.14, 0.74, -0.14), (0.14, 1.015, 0.14)),
        }
    )
    assert role_of(roles, "Object002") == {"body"}
    assert role_of(roles, "Object003") == {"hair"}


def test_a_hat_on_a_head_is_worn(plain):
    """A box of a hat on the crown of a figure with a head is no head."""
    hat = box((-0.06, 0.985, -0.05), (0.06, 1.10, 0.07))
    roles = judged({**plain, "Object009": hat})
    assert role_of(roles, "Object009") == {"hair"}


def test_hair_over_a_big_head_in_one_skin_is_worn():
    """The middle of a big-headed body's surface lies above where its hair begins; hair it is."""
    body = joined(
        sphere(np.array((0.0, 0.75, 0.0)), 0.22),
        box((-0.08, 0.25, -0.06), (0.08, 0.58, 0.06)),
        box((-0.30, 0.44, -0.03), (0.30, 0.50, 0.03)),
        box((-0.08, 0.0, -0.04), (-0.01, 0.3, 0.1)),
        box((0.01, 0.0, -0.04), (0.08, 0.3, 0.1)),
    )
    low, high = body[0][:, 1].min(), body[0][:, 1].max()
    hair = tube([(0.55, 0.20, 0.20, -0.02), (0.75, 0.25, 0.25, -0.02), (0.95, 0.12, 0.12, 0.0),
                 (1.0, 0.001, 0.001, 0.0)], gap=110)  # fmt: skip
    waistcoat = tube([(0.30, 0.1, 0.08, 0.0), (0.54, 0.1, 0.08, 0.0)])
    corners, label = [], []
    for number, (vertices, faces) in enumerate((body, hair, waistcoat)):
        corners.append(((vertices - [0.0, low, 0.0]) / (high - low))[faces])
        label.append(np.full(len(faces), number))
    corners, label = np.concatenate(corners), np.concatenate(label)
    points = [corners[label == number].reshape(-1, 3) for number in range(3)]
    measures = SimpleNamespace(
        low=np.array([p.min(axis=0) for p in points]),
        high=np.array([p.max(axis=0) for p in points]),
        centroid=np.array([[0.0, y, 0.0] for y in (0.60, 0.75, 0.42)]),
    )
    assert separate_head([0, 1, 2], measures, corners, label) is None


def test_a_robot_keeps_its_chest_under_a_head_broader_than_it():
    """A box for a head, broader than the chest below it, does not make the chest something worn:
    every limb is found."""
    member = box_family(5)[84]
    found = score(member)
    assert not found.in_body, found.in_body
