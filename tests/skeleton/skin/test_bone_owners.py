"""Skin belongs to the bone under it: not through the air, and not in scattered patches."""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.skin.binding import bind_mesh
from autoplace.skeleton.skin.bone_owners import find_owners, flesh_normals
from autoplace.skeleton.skin.bone_reach import BoneLines, bone_lines, distances, relatives
from autoplace.skeleton.structure import parent_indices
from tests.figures import X, Y, standard_skeleton
from tests.tubes import part, tube

GAP = 0.01
"""Between the two tubes, a tenth of the thick one's radius."""


def two_limbs(thick=0.1, thin=0.06, long=2.0):
    """A thick limb along Y and a thin one beside its upper half, and the tubes round them.

    The skin of the thick limb that faces the thin one lies nearer to the thin one's bone. No vertex
    lies on a bone, where rounding decides.
    """
    aside = (thick + GAP + thin) * X
    joints = [
        ("pelvis", None, 1.2 * Y + aside / 2),
        ("left_hip", "pelvis", 0.97 * Y),
        ("left_knee", "left_hip", (1.0 - long / 2) * Y),
        ("left_ankle", "left_knee", (1.03 - long) * Y),
        ("right_hip", "pelvis", 0.97 * Y + aside),
        ("right_knee", "right_hip", 0.5 * Y + aside),
        ("right_ankle", "right_knee", 0.03 * Y + aside),
    ]
    skeleton = Skeleton(tuple(Joint(name, above, at) for name, above, at in joints))
    first = tube(Y, (1.0 - long) * Y, thick, rings=1 + round(20 * long), sides=24)
    second = tube(Y + aside, 0.0 * Y + aside, thin, rings=21, sides=24)
    both = part("limbs", [first, second])
    return skeleton, both.vertices, both.faces, len(first[0])


def moved_by(skeleton, vertices, faces):
    """(n, joints) shares."""
    binding = bind_mesh(vertices, faces, skeleton)
    shares = np.zeros((len(vertices), len(skeleton)))
    rows = np.repeat(np.arange(len(vertices)), 4)
    np.add.at(shares, (rows, binding.joints.reshape(-1)), binding.weights.reshape(-1))
    return shares


def of_side(skeleton, side):
    return [i for i, name in enumerate(skeleton.names) if name.startswith(side)]


def test_a_limb_beside_another_keeps_its_skin():
    """Between two limbs the nearest bone is the wrong one, and still nothing of it is taken.

    The upper ends are left out, as far as smoothing reaches (10 rings of vertices): bones of both
    limbs leave through them, to a root outside the mesh.
    """
    skeleton, vertices, faces, count = two_limbs()
    facing = np.flatnonzero(np.abs(vertices[:count] - [0.1, 0.4, 0.0]).max(axis=1) < 0.01)
    assert len(facing), "no vertex of the thick limb faces the thin one"
    shares = moved_by(skeleton, vertices, faces)
    shaft = vertices[:, 1] < 0.45
    first, second = shaft.copy(), shaft.copy()
    first[count:], second[:count] = False, False
    assert shares[first][:, of_side(skeleton, "right")].max() == 0
    assert shares[second][:, of_side(skeleton, "left")].max() == 0


def test_the_winding_of_the_faces_does_not_matter():
    """A mesh turned inside out is bound to the same joints."""
    skeleton, vertices, faces, _ = two_limbs()
    inside_out = moved_by(skeleton, vertices, faces[:, ::-1])
    assert np.allclose(inside_out, moved_by(skeleton, vertices, faces), atol=1e-12)


def test_scale_does_not_matter():
    """Vertices and joints a million times as large get the same shares."""
    skeleton, vertices, faces, _ = two_limbs()
    joints = tuple(Joint(j.name, j.parent, 1e6 * j.position) for j in skeleton)
    large = moved_by(skeleton.with_joints(joints), 1e6 * vertices, faces)
    assert np.allclose(large, moved_by(skeleton, vertices, faces), atol=1e-9)


def test_a_way_out_of_the_skin_is_longer():
    """From the skin 1 off a bone a way in at 30 degrees or steeper is 1, a way out is 1 + 2 x 1.35.

    Closed form: length + 2 max(0, outward part of the way + .35 length); sin 30 degrees is .5. On
    a level with the skin that is 1.7, and so it is where nothing is known about the skin.
    """
    lines = BoneLines(np.array([0]), -5.0 * Y[None], 5.0 * Y[None], 1)
    slanting = np.array([0.5, 0.0, np.sqrt(0.75)])
    normals = np.array([X, slanting, -X, Y, 0 * X])
    ((_, found),) = distances(np.tile(X, (5, 1)), normals, lines)
    assert np.allclose(found[:, 0], [1, 1, 3.7, 1.7, 1.7])


def test_a_patch_cut_off_goes_to_the_skin_around_it():
    """A few vertices nearest to a far joint's bone, amid another's skin, follow what is around.

    The second bone comes up under the middle of the first one's strip of skin and has a large skin
    of its own elsewhere in the same piece.
    """
    steps = np.arange(41)
    places = np.stack([steps * 0.1, 0 * steps, 0 * steps], axis=1)
    edges = np.stack([steps[:-1], steps[1:]], axis=1)
    lines = BoneLines(
        np.array([0, 1, 1]),
        np.array([[0.0, -0.2, 0], [1.0, -0.1, 0], [2.2, -0.2, 0]]),
        np.array([[2.2, -0.2, 0], [1.1, -0.1, 0], [4.0, -0.2, 0]]),
        2,
    )
    flat, even = np.zeros_like(places), np.ones(len(places))
    ((_, distance),) = distances(places, flat, lines)
    nearest = np.argmin(distance, axis=1)
    assert set(nearest[10:12]) == {1}
    owner = find_owners(places, flat, even, edges, lines, np.array([-1, 0]))
    assert np.all(owner[places[:, 0] < 2.15] == 0)
    assert np.all(owner[places[:, 0] > 2.25] == 1)


def test_mirrored_limbs_get_mirrored_shares():
    """Two limbs that are mirror images of one another are bound in mirror image."""
    skeleton, vertices, faces, count = two_limbs(thick=0.05, thin=0.05, long=1.0)
    shift, across = (0.05 + GAP / 2) * X, np.array([-1.0, 1.0, 1.0])
    joints = tuple(Joint(j.name, j.parent, j.position - shift) for j in skeleton)
    one, triangles = vertices[:count] - shift, faces[: len(faces) // 2]
    both = np.concatenate([one, one * across])
    shares = moved_by(
        skeleton.with_joints(joints),
        both,
        np.concatenate([triangles, triangles[:, ::-1] + count]),
    )
    left, right = of_side(skeleton, "left"), of_side(skeleton, "right")
    assert np.allclose(shares[:count][:, left], shares[count:][:, right], atol=1e-9)


def test_no_chin_lies_below_the_root_of_the_neck():
    """With eyes in the lower third of the head the head's bone down to the chin ends at the neck.

    Half the height of the head below such eyes would be the chest.
    """
    joints = [
        ("neck", None, 0.8 * Y),
        ("head", "neck", 0.85 * Y),
        ("head_top", "head", 1.0 * Y),
        ("left_eye", "head", np.array([0.02, 0.88, 0.05])),
        ("right_eye", "head", np.array([-0.02, 0.88, 0.05])),
    ]
    skeleton = Skeleton(tuple(Joint(name, above, at) for name, above, at in joints))
    lines = bone_lines(skeleton, parent_indices(skeleton))
    assert np.allclose(lines.start[-1], [0, 0.88, 0.05])
    assert np.allclose(lines.end[-1], [0, 0.8, 0.05])


def test_a_tube_is_flesh_and_a_belt_is_not():
    """All skin of a tube round a bone looks away from it; half of a shell is its lining.

    The shell is a ring of skin with one turned inside out in it, joined as by its rims.
    """
    lines = BoneLines(np.array([0]), 0.0 * Y[None], Y[None], 1)
    steps = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    out = np.stack([np.cos(steps), 0 * steps, np.sin(steps)], axis=1)
    places = np.concatenate([0.20 * out, 0.19 * out]) + 0.5 * Y
    ring = np.stack([np.arange(16), np.roll(np.arange(16), -1)], axis=1)
    edges = np.concatenate([ring, ring + 16])
    rims = np.concatenate([edges, [[0, 16]]])
    areas = np.ones(32)
    flesh = flesh_normals(places, np.concatenate([out, out]), areas, edges, lines)
    assert np.allclose(flesh, np.concatenate([out, out]))
    worn = flesh_normals(places, np.concatenate([out, -out]), areas, rims, lines)
    assert np.all(worn == 0)


def test_the_side_of_a_breast_follows_the_trunk():
    """A place at half the chest's breadth and in front is nearer to the ribs than to the clavicle.

    Depth and breadth of a chest 254 and 289 mm, nipples at 1291 mm, shoulder joints 192 mm aside
    (ANSUR II, men); the spine runs in the back part of the trunk (common practice, no source).
    """
    above, low = 1.30 * Y, 1.10 * Y
    joints = [
        ("pelvis", None, 0.95 * Y),
        ("spine_1", "pelvis", low),
        ("chest", "spine_1", above),
        ("neck", "chest", 1.45 * Y),
        *(
            (f"{side}_{name}", f"{side}_clavicle" if name == "shoulder" else "chest", at)
            for side, way in (("left", X), ("right", -X))
            for name, at in (
                ("clavicle", 1.40 * Y + 0.02 * way),
                ("shoulder", 1.38 * Y + 0.192 * way),
            )
        ),
    ]
    skeleton = Skeleton(tuple(Joint(name, parent, at) for name, parent, at in joints))
    lines = bone_lines(skeleton, parent_indices(skeleton))
    breast = np.array([[0.11, 1.291, 0.14]])
    outward = np.array([[0.85, 0.0, 0.53]])
    ((_, found),) = distances(breast, outward, lines)
    assert skeleton.names[int(np.argmin(found[0]))] == "spine_1"
    bare = BoneLines(lines.owner[:-2], lines.start[:-2], lines.end[:-2], lines.joints)
    ((_, found),) = distances(breast, outward, bare)
    assert skeleton.names[int(np.argmin(found[0]))] == "left_clavicle", "the ribs decide nothing"


def test_necks_and_clavicles_move_no_flesh_below_the_chest():
    """They ride on the chest; the loins two joints below them are none of theirs."""
    skeleton = standard_skeleton("T")
    related = relatives(skeleton, parent_indices(skeleton))
    number = skeleton.names.index
    assert related[number("neck"), number("chest")]
    assert related[number("left_clavicle"), number("chest")]
    assert related[number("left_shoulder"), number("chest")]
    assert related[number("spine_1"), number("chest")]
    assert not related[number("neck"), number("spine_2")]
    assert not related[number("left_clavicle"), number("spine_2")]
