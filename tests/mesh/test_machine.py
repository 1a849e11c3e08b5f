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


def test_a_sleeve_holds_the_hand_that_touches_nothing():
    """Without its forearm a hand that hangs free in the wide sleeve is lost; with two sleeves one
    over the other, either will do."""

    def lost(*sleeves: float) -> float:
        blocks = [box((0.0, 0.5, 0.0), (0.1, 0.6, 0.1)), box((0.26, 0.54, 0.04), (0.4, 0.56, 0.06))]
        walls = [tube([(0.5 - w, w, w, 0.0), (0.7, w, w, 0.0)], 0) for w in sleeves]
        # tubes stand upright, and an arm lies level
        laid = [(v[:, [1, 0, 2]] * [1, 1, 1] - [0.4, -0.55, -0.05], f) for v, f in walls]
        vertices, faces = joined(*blocks, *laid)
        label = np.repeat(np.arange(2 + len(laid)), [12, 12, *(len(f) for _, f in laid)])
        corners = vertices[faces]
        sides = corners[:, 1:] - corners[:, :1]
        area = 0.5 * np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
        whole = np.bincount(label, area)
        every = range(len(whole))
        contacts = find_contacts(layer_grid(corners, area, label), whole, every, every)
        return contacts.detached([2], [i for i in every if i != 2]) / float(whole[1])

    assert lost(0.045) == pytest.approx(1.0)
    assert lost(0.045, 0.05) == 0.0
