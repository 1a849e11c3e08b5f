"""Figures with eyes, hair, clothes and props, and the roles that their parts are given."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.parts import assign_roles
from tests.mesh.capsule_figures import box, capsule, figure, joined, mirrored, sphere, tube


def working(character):
    """Its vertices with the floor at 0 and height 1."""
    low, high = character.vertices[:, 1].min(), character.vertices[:, 1].max()
    return [(p.vertices - [0, low, 0]) / (high - low) for p in character.parts]


def judged(parts, **said):
    character = figure(parts)
    return assign_roles(character, working(character), **said)


def role_of(roles, part):
    """The roles of a part's pieces, with sides, as a set."""
    return {p.role + (f" {p.side}" if p.side else "") for p in roles.pieces if p.part == part}


def scaled(limb, factor):
    a, b, ra, rb = mirrored(limb)
    return capsule(a, b, ra * factor, rb * factor)


def ball(x, y, z, radius):
    return sphere(np.array([x, y, z]), radius)


HAIR = tube(
    [
        (0.875, 0.060, 0.060, -0.002),
        (0.90, 0.066, 0.066, -0.002),
        (0.95, 0.068, 0.068, 0),
        (0.985, 0.055, 0.055, 0),
        (1.006, 0.02, 0.02, 0.01),
        (1.012, 0.001, 0.001, 0.01),
    ],
    gap=110,
)


DRESS = tube(
    [
        (0.05, 0.22, 0.22, 0),
        (0.3, 0.18, 0.18, 0),
        (0.5, 0.14, 0.13, 0),
        (0.6, 0.09, 0.09, 0),
        (0.75, 0.095, 0.09, 0),
        (0.80, 0.08, 0.07, 0),
    ]
)


CLOAK = tube(
    [
        (0.08, 0.26, 0.16, -0.03),
        (0.4, 0.2, 0.13, -0.02),
        (0.7, 0.16, 0.11, -0.01),
        (0.80, 0.12, 0.09, 0),
        (0.86, 0.05, 0.05, 0),
    ],
    gap=130,
)


COAT = joined(
    tube([(0.3, 0.16, 0.12, 0), (0.5, 0.11, 0.10, 0), (0.65, 0.09, 0.09, 0), (0.8, 0.1, 0.09, 0)]),
    *[scaled(s + limb, 1.25) for s in ("left_", "right_") for limb in ("upper_arm", "forearm")],
)


SWORD = joined(
    capsule(np.array([-0.37, 0.5, -0.03]), np.array([-0.37, 0.5, 0.08]), 0.012, 0.012),
    box((-0.375, 0.49, 0.08), (-0.365, 0.51, 0.5)),
)
