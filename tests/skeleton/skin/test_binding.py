"""The first binding: shares that sum to one, near bones only, no leaks across limbs or seams."""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import family, finger_of, side_of
from autoplace.skeleton.orient import orient
from autoplace.skeleton.skin.binding import bind_mesh
from tests.figures import X, Y, standard_skeleton
from tests.tubes import figure_of_tubes, tube


def bound(skeleton, vertices, faces, eyeball=None):
    roles = None if eyeball is None else np.where(eyeball, "eyeball", "body")
    return bind_mesh(vertices, faces, skeleton, roles=roles)


def whole(skeleton):
    body = figure_of_tubes(skeleton).parts[0]
    return body.vertices, body.faces


def test_shares_sum_to_one_in_order_without_doubles():
    """At most four joints, none twice, largest first, sum one to 1e-12, zeros on joint 0."""
    skeleton = orient(standard_skeleton("A"))
    binding = bound(skeleton, *whole(skeleton))
    assert np.allclose(binding.weights.sum(axis=1), 1, atol=1e-12)
    assert np.all(binding.weights >= 0)
    assert np.all(np.diff(binding.weights, axis=1) <= 1e-9)
    assert np.all(binding.joints[binding.weights == 0] == 0)
    for joints, weights in zip(binding.joints, binding.weights, strict=True):
        used = joints[weights > 0]
        assert len(set(used)) == len(used)


def test_each_bones_own_flesh_follows_it():
    """Vertices round the middle of a bone follow its joint for nine tenths or more."""
    skeleton = orient(standard_skeleton("T"))
    for joint, child in (("left_knee", "left_ankle"), ("right_shoulder", "right_elbow")):
        a, b = skeleton[joint].position, skeleton[child].position
        vertices, faces = tube(a, b, 0.02, rings=21)
        binding = bound(skeleton, vertices, faces)
        middle = np.abs((vertices - (a + b) / 2) @ (b - a)) < 0.2 * np.sum((b - a) ** 2)
        mine = binding.joints == skeleton.names.index(joint)
        share = np.sum(binding.weights * mine, axis=1)
        assert share[middle].min() > 0.9


def test_shares_blend_smoothly_across_a_joint():
    """Along a straight arm of one tube the elbow's share rises from 0 to 1 without a jump."""
    skeleton = orient(standard_skeleton("straight"))
    a, b = skeleton["left_shoulder"].position, skeleton["left_wrist"].position
    vertices, faces = tube(a, b, 0.025, rings=61)
    binding = bound(skeleton, vertices, faces)
    mine = binding.joints == skeleton.names.index("left_elbow")
    share = np.sum(binding.weights * mine, axis=1)[1:-1].reshape(61, -1).mean(axis=1)
    before_hand = share[:50]
    assert share[0] < 0.01
    assert before_hand.max() > 0.99
    assert np.all(np.diff(before_hand) > -1e-6)
    assert np.abs(np.diff(before_hand)).max() < 0.15


def test_fingers_and_legs_do_not_drag_each_other():
    """No vertex of a finger past its knuckle moves with another finger, no leg with the other."""
    skeleton = orient(standard_skeleton("T", curl=3))
    names = skeleton.names
    for chain, other in (
        (("left_index_2", "left_index_3"), lambda n: finger_of(n) not in ("index", None)),
        (("left_knee", "left_ankle"), lambda n: side_of(n) == "right"),
    ):
        a, b = (skeleton[n].position for n in chain)
        vertices, faces = tube(a, b, 0.004 if "index" in chain[0] else 0.05)
        binding = bound(skeleton, vertices, faces)
        moved_by = {names[j] for j in binding.joints[binding.weights > 0]}
        assert not {n for n in moved_by if other(n)}, moved_by


def test_heels_follow_the_ankle_and_chins_the_head():
    """A heel behind the ankle and a chin below the head joint lie nearest to their own bones."""
    skeleton = orient(standard_skeleton("T"))
    points = np.array([[0.057, 0.01, -0.045], [0.0, 0.872, 0.055]])
    binding = bound(skeleton, points, np.zeros((0, 3), dtype=np.int64))
    names = [skeleton.names[j] for j in binding.joints[:, 0]]
    assert names == ["left_ankle", "head"]
    assert binding.weights[:, 0].min() > 0.7


def test_eyes_move_only_their_eyeballs():
    """No vertex of the body follows an eye; vertices of an eyeball follow the nearer one wholly."""
    skeleton = orient(standard_skeleton("T"))
    binding = bound(skeleton, *whole(skeleton))
    moving = {skeleton.names[j] for j in binding.joints[binding.weights > 0]}
    assert not [n for n in moving if family(n) == "eye"]
    points = np.array([[0.02, 0.93, 0.06], [-0.02, 0.93, 0.06]])
    eyes = bound(skeleton, points, np.zeros((0, 3), int), np.ones(2, dtype=bool))
    assert [skeleton.names[j] for j in eyes.joints[:, 0]] == ["left_eye", "right_eye"]
    assert np.array_equal(eyes.weights, [[1, 0, 0, 0], [1, 0, 0, 0]])


def test_seams_stay_closed():
    """Vertices at one place get one share, whichever triangles use them."""
    skeleton = orient(standard_skeleton("T"))
    vertices, faces = whole(skeleton)
    split = vertices[faces].reshape(-1, 3)
    binding = bound(skeleton, split, np.arange(len(split)).reshape(-1, 3))
    joined = bound(skeleton, vertices, faces)
    assert np.array_equal(binding.joints, joined.joints[faces.reshape(-1)])
    assert np.allclose(binding.weights, joined.weights[faces.reshape(-1)])


def test_one_joint_takes_everything():
    """A skeleton of one joint moves the whole mesh."""
    vertices, faces = tube(0 * Y, Y + 0.1 * X, 0.1)
    binding = bound(Skeleton((Joint("only", None, np.zeros(3)),)), vertices, faces)
    assert np.all(binding.weights == [1, 0, 0, 0])
