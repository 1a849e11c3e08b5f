"""`mesh.machine` and `mesh.contacts`: what is needed of a figure in many rigid pieces."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.mesh.contacts import Contacts, find_contacts
from autoplace.mesh.layers import layer_grid
from autoplace.mesh.triangles import face_normals
from tests.mesh.capsule_figures import Mesh, box, joined, tube
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


def contacts_of(*meshes: Mesh) -> Contacts:
    """How some meshes touch, all of them islands of one figure, and all large."""
    vertices, faces = joined(*meshes)
    label = np.repeat(np.arange(len(meshes)), [len(own) for _, own in meshes])
    area = face_normals(vertices, faces)[1]
    every = range(len(meshes))
    grid = layer_grid(vertices[faces], area, label)
    return find_contacts(grid, np.bincount(label, area), every, every)


@pytest.mark.parametrize(("gap", "lost"), [(0.0, 0.06), (0.017, 0.0)], ids=["touch", "stand_off"])
def test_a_joint_holds_what_touches_it(gap, lost):
    """Without the block between them two blocks are apart; not where all blocks stand off one
    another as far as these two would."""
    sides = [(0.0, 0.1), (0.1 + gap, 0.114), (0.114 + gap, 0.214), (0.214 + 2 * gap, 0.3)]
    if gap:
        sides = [(0.0, 0.1), (0.1, 0.114), (0.115, 0.215), (0.215 + gap, 0.3)]
    contacts = contacts_of(*(box((0.0, low, 0.0), (0.1, high, 0.1)) for low, high in sides))
    assert contacts.detached([1], [0, 2, 3]) == pytest.approx(lost, abs=0.001)


def test_a_sleeve_holds_the_hand_that_touches_nothing():
    """Without its forearm a hand that hangs free in the wide sleeve is lost; with two sleeves one
    over the other, either will do."""

    def lost(*sleeves: float) -> float:
        blocks = [box((0.0, 0.5, 0.0), (0.1, 0.6, 0.1)), box((0.26, 0.54, 0.04), (0.4, 0.56, 0.06))]
        walls = [tube([(0.5 - w, w, w, 0.0), (0.7, w, w, 0.0)], 0) for w in sleeves]
        # tubes stand upright, and an arm lies level
        laid = [(v[:, [1, 0, 2]] - [0.4, -0.55, -0.05], f) for v, f in walls]
        contacts = contacts_of(*blocks, *laid)
        others = [0, 1, *range(3, 2 + len(laid))]
        return contacts.detached([2], others) / float(contacts.area[1])

    assert lost(0.045) == pytest.approx(1.0)
    assert lost(0.045, 0.05) == 0.0
