"""Clothes follow the body beneath them: a sleeve, a skirt between two legs, a cloak by an arm."""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.orient import orient
from autoplace.skeleton.skin.binding import bind_mesh
from tests.binding.measures import dense
from tests.figures import Y, standard_skeleton
from tests.tubes import figure_of_tubes, part, tube

SKELETON = orient(standard_skeleton("T"))
NAMES = SKELETON.names
AT = {joint.name: np.asarray(joint.position) for joint in SKELETON}


def bound(cloth, role="garment", skeleton=SKELETON, body=None):
    """Shares (n, joints) of the body's vertices and of the cloth's."""
    if body is None:
        tubes = figure_of_tubes(skeleton).parts[0]
        body = tubes.vertices, tubes.faces
    vertices = np.concatenate([body[0], cloth[0]])
    faces = np.concatenate([body[1], cloth[1] + len(body[0])])
    roles = np.where(np.arange(len(vertices)) < len(body[0]), "body", role)
    binding = bind_mesh(vertices, faces, skeleton, roles=roles)
    assert np.allclose(binding.weights.sum(axis=1), 1.0, atol=1e-6)
    assert binding.joints.shape[1] == 4
    shares = dense(binding, len(skeleton))
    return shares[: len(body[0])], shares[len(body[0]) :]


def legs():
    """A trunk and two legs in mirror image, fine enough to be near everywhere."""
    trunk = tube(AT["pelvis"] - 0.03 * Y, AT["chest"], 0.08, rings=25, sides=24)
    a, b = AT["left_hip"], AT["left_ankle"]
    left = tube(a, b, 0.04, rings=60, sides=24)
    right = left[0] * [-1.0, 1.0, 1.0], left[1][:, ::-1]
    whole = part("legs", [trunk, left, right])
    return whole.vertices, whole.faces


def sheet(rows):
    """(r, c, 3) points as a sheet of triangles."""
    high, wide = rows.shape[:2]
    faces = []
    for r in range(high - 1):
        for c in range(wide - 1):
            a = r * wide + c
            faces += [(a, a + 1, a + wide + 1), (a, a + wide + 1, a + wide)]
    return rows.reshape(-1, 3), np.array(faces)


def skirt(columns=33, rows=25):
    """An open cone from the waist to the floor round both legs, closed by its first column."""
    turn = np.linspace(0, 2 * np.pi, columns)
    high = np.linspace(float(AT["pelvis"][1]), 0.02, rows)
    wide = np.linspace(0.09, 0.2, rows)
    circle = np.stack([np.sin(turn), 0 * turn, np.cos(turn)], axis=1)
    return wide[:, None, None] * circle + high[:, None, None] * np.array([0, 1.0, 0])


def test_a_sleeve_bends_where_the_arm_bends():
    """Each ring of a close sleeve has the shares of the skin beneath it, a ring off at most.

    From ring to ring the skin's shares differ by up to 0.3, and the sleeve's are a little softer.
    """
    a, b = AT["left_shoulder"], AT["left_wrist"]
    body = tube(a, b, 0.02, rings=61, sides=16)
    vertices, faces = tube(a, b, 0.022, rings=61, sides=16)
    skin, cloth = bound((vertices, faces), body=body)
    off = np.abs(skin[1:-1] - cloth[1:-1])
    assert off.sum(axis=1).mean() < 0.03
    assert off.max() < 0.15


def test_a_skirt_is_split_between_the_legs():
    """Its left side follows nothing on the right, its middle both alike, and no edge jumps."""
    rows = skirt()
    _, shares = bound(sheet(rows), body=legs())
    right = shares[:, [n.startswith("right") for n in NAMES]].sum(axis=1)
    left = shares[:, [n.startswith("left") for n in NAMES]].sum(axis=1)
    points = rows.reshape(-1, 3)
    # a quarter of the way round and more from the middle of front and back
    side = points[:, 0] / np.repeat(np.linspace(0.09, 0.2, len(rows)), rows.shape[1])
    assert right[side > 0.71].max() < 0.05
    assert left[side < -0.71].max() < 0.05
    back = (np.abs(points[:, 0]) < 1e-9) & (points[:, 2] < 0)
    assert back.any()
    # what is as near to both legs is given to one, which puts the middle half a column aside
    assert np.abs(left[back] - right[back]).max() < 0.25
    assert np.abs(np.diff(left.reshape(rows.shape[:2]), axis=1)).max() < 0.4


def test_seams_of_clothes_stay_closed():
    """Every triangle of a skirt apart: vertices at one place get one share."""
    vertices, faces = sheet(skirt())
    _, joined = bound((vertices, faces))
    apart = vertices[faces].reshape(-1, 3)
    _, split = bound((apart, np.arange(len(apart)).reshape(-1, 3)))
    assert np.allclose(split, joined[faces.reshape(-1)])


def test_a_cloak_behind_an_arm_hangs_from_the_trunk():
    """A sheet far behind hanging arms, nearer to them than to the back, follows no forearm.

    A sleeve about the same arm does.
    """
    skeleton = orient(standard_skeleton("hanging"))
    at = {joint.name: np.asarray(joint.position) for joint in skeleton}
    elbow, wrist = at["left_elbow"], at["left_wrist"]
    names = [i for i, n in enumerate(NAMES) if "elbow" in n or "wrist" in n]
    aside = np.linspace(-1, 1, 21) * (abs(float(elbow[0])) + 0.02)
    high = np.linspace(float(at["neck"][1]), float(wrist[1]), 21)
    back = float(elbow[2]) - 0.07
    rows = np.stack(np.broadcast_arrays(aside[None], high[:, None], back), axis=2)
    _, cloak = bound(sheet(rows), skeleton=skeleton)
    assert cloak[:, names].sum(axis=1).max() < 0.05
    _, sleeve = bound(tube(elbow, wrist, 0.025, rings=15), skeleton=skeleton)
    assert sleeve[:, names].sum(axis=1).min() > 0.3


def test_clothes_without_a_body_go_by_the_bones():
    """A mesh of nothing but a garment is bound all the same."""
    vertices, faces = tube(AT["left_knee"], AT["left_ankle"], 0.03, rings=9)
    roles = np.full(len(vertices), "garment")
    binding = bind_mesh(vertices, faces, SKELETON, roles=roles)
    shares = dense(binding, len(NAMES))
    assert shares[25:49, NAMES.index("left_knee")].min() > 0.5


def test_the_sides_are_in_mirror_image():
    """A skirt in mirror image of itself is bound so, but for what is as near to both legs."""
    rows = skirt()
    _, shares = bound(sheet(rows), body=legs())
    mirrored = [
        NAMES.index(n.replace("left", "*").replace("right", "left").replace("*", "right"))
        for n in NAMES
    ]
    table = shares.reshape(*rows.shape[:2], -1)
    assert np.allclose(rows[:, ::-1] * [-1.0, 1.0, 1.0], rows)
    assert np.allclose(table, table[:, ::-1][:, :, mirrored], atol=0.15)
