"""`mesh.machine` and `mesh.contacts`: what is needed of a figure in many rigid pieces."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.contacts import find_contacts
from autoplace.mesh.layers import layer_grid
from tests.mesh.capsule_figures import box, joined, tube
from tests.mesh.dressed_figures import judged, role_of
from tests.mesh.jointed_figure import jointed_parts


def test_covers_of_a_machine_are_the_machine():
    """Limbs, balls in their joints and the covers over them are body, all of them."""
    parts = jointed_parts()
    roles = judged(parts)
    assert {role for name in parts for role in role_of(roles, name)} == {"body"}


def test_what_joins_thigh_and_shank_is_no_garment():
    """The knees stay body where a cloak hangs over a machine, so that its covers are held against
    the rest: without them the shanks hang in the air."""
    cloak = tube([(0.84, 0.13, 0.11, -0.01), (0.5, 0.19, 0.16, -0.02), (0.15, 0.2, 0.2, -0.03)], 90)
    roles = judged(jointed_parts() | {"Object099": cloak})
    assert role_of(roles, "Object016") == role_of(roles, "Object029") == {"body"}


@pytest.mark.parametrize(("gap", "lost"), [(0.0, 0.06), (0.017, 0.0)], ids=["touch", "stand_off"])
def test_a_joint_holds_what_touches_it(gap, lost):
    """Without the block between them two blocks are apart; not where all blocks stand off one
    another as far as these two would."""
    sides = [(0.0, 0.1), (0.1 + gap, 0.114), (0.114 + gap, 0.214), (0.214 + 2 * gap, 0.3)]
    if gap:
        sides = [(0.0, 0.1), (0.1, 0.114), (0.115, 0.215), (0.215 + gap, 0.3)]
    meshes = [box((0.0, low, 0.0), (0.1, high, 0.1)) for low, high in sides]
    vertices, faces = joined(*meshes)
    corners = vertices[faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(across, axis=1)
    label = np.repeat(np.arange(4), 12)
    whole = np.bincount(label, area)
    contacts = find_contacts(layer_grid(corners, area, label), whole, range(4), range(4))
    assert contacts.detached([1], [0, 2, 3]) == pytest.approx(lost, abs=0.001)
