"""`measure.hollow_shells`: walls hold what is in them, skirts do not."""

from __future__ import annotations

import numpy as np

from autoplace.measure.body_limbs import CELL
from autoplace.measure.hollow_shells import with_hollows
from autoplace.measure.separate_bodies import count_bodies
from autoplace.measure.solid import fill_solid
from tests.mesh.capsule_figures import box, capsule, joined

WALL = 0.002


def walled(a, b, radius):
    """A round-ended rod of which only the wall is modelled, with an inner side."""
    outer, inner = (capsule(np.array(a), np.array(b), r, r) for r in (radius, radius - WALL))
    return joined(outer, (inner[0], inner[1][:, ::-1]))


def legs(low=0.0):
    return [
        box((0.03, low, -0.05), (0.11, 0.6, 0.05)),
        box((-0.11, low, -0.05), (-0.03, 0.6, 0.05)),
    ]


def filled(*meshes):
    vertices, faces = joined(*meshes)
    solid = fill_solid(vertices, faces, CELL)
    return solid, with_hollows(solid, vertices, faces)


def test_a_trunk_of_walls_is_filled():
    """Of a trunk with thin walls the solid holds all that they enclose, and one figure stands."""
    trunk = walled((0, 0.66, 0), (0, 0.87, 0), 0.13)
    bare, whole = filled(trunk, *legs())
    assert count_bodies(whole) == 1
    full = np.pi * 0.13**2 * (0.21 + 4 / 3 * 0.13)
    gained = (whole.inside.sum() - bare.inside.sum()) * CELL**3
    assert 0.85 * full < gained < 1.05 * full


def test_what_is_solid_stays_as_it_is():
    """A figure of closed pieces has no hollows, and its solid is the same one."""
    bare, whole = filled(box((-0.13, 0.5, -0.08), (0.13, 1.0, 0.08)), *legs())
    assert whole is bare


def test_a_skirt_is_not_filled():
    """The air between legs that stand in a walled skirt, over feet as broad as it, stays air."""
    skirt = walled((0, 0.35, 0), (0, 0.45, 0), 0.15)
    feet = box((-0.2, 0.0, -0.2), (0.2, 0.05, 0.2))
    bare, whole = filled(skirt, feet, *legs(), box((-0.1, 0.5, -0.08), (0.1, 1.0, 0.08)))
    assert whole is bare
