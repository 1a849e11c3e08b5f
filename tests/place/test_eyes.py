"""Eye joints from eyeball pieces, and from the head where there are none."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.not_found import NotFound
from autoplace.mesh.parts import assign_roles
from autoplace.place.eyes import EyePlace, EyeSurface, eye_surfaces, eyes_from_head, place_eyes
from tests.mesh.capsule_figures import EYE_PLACE, EYE_RADIUS, box, figure, joined, sphere

LEFT, RIGHT = EYE_PLACE, EYE_PLACE * [-1, 1, 1]


def turned(mesh, centre, yaw, pitch=0.0):
    """A mesh turned about a centre, degrees: yaw to its left, pitch up."""
    y, p = np.radians([yaw, -pitch])
    about_y = np.array([[np.cos(y), 0, np.sin(y)], [0, 1, 0], [-np.sin(y), 0, np.cos(y)]])
    about_x = np.array([[1, 0, 0], [0, np.cos(p), -np.sin(p)], [0, np.sin(p), np.cos(p)]])
    vertices, faces = mesh
    return (vertices - centre) @ (about_y @ about_x).T + centre, faces


def marked(centre, height, mark_angle=29.0, rings=24, cap=180.0):
    """An eyeball with a cornea (height > 0) or a dished iris (height < 0) at its +Z pole."""
    vertices, faces = sphere(centre, EYE_RADIUS, rings=rings, cap=cap)
    away = vertices - centre
    angle = np.degrees(np.arccos(np.clip(away[:, 2] / EYE_RADIUS, -1, 1)))
    lift = np.where(angle < mark_angle, height * (1 - (angle / mark_angle) ** 2), 0.0)
    return centre + away * (1 + lift)[:, None], faces


def surfaces(left=None, right=None):
    pairs = [("left", m) for m in left or []] + [("right", m) for m in right or []]
    return [EyeSurface(side, *mesh) for side, mesh in pairs]


def degrees_between(a, b):
    return float(np.degrees(np.arccos(np.clip(a @ b / np.linalg.norm(b), -1, 1))))


def test_whole_balls():
    """Centre and radius of whole balls to a thousandth of the radius; no look where none shows."""
    eyes = place_eyes(surfaces([sphere(LEFT, EYE_RADIUS)], [sphere(RIGHT, EYE_RADIUS)]))
    for place, centre in ((eyes.left, LEFT), (eyes.right, RIGHT)):
        assert np.linalg.norm(place.center - centre) < 1e-3 * EYE_RADIUS
        assert place.radius == pytest.approx(EYE_RADIUS, rel=1e-3)
        assert place.share_seen == pytest.approx(1.0)
        assert place.look is None
        assert place.spread < 0.01 * EYE_RADIUS
        assert [e.kind for e in place.evidence] == ["sphere_fit"]
        assert sum(e.weight for e in place.evidence) == pytest.approx(1.0)


@pytest.mark.parametrize("cap", [60, 70.5, 90])
def test_open_backed_balls(cap):
    """The front part of a ball gives the ball's centre, and looks along the cap's middle."""
    mesh = turned(sphere(LEFT, EYE_RADIUS, cap=cap), LEFT, 10)
    place = place_eyes(surfaces([mesh])).left
    assert np.linalg.norm(place.center - LEFT) < 0.01 * EYE_RADIUS
    forward = [np.sin(np.radians(10)), 0, np.cos(np.radians(10))]
    assert degrees_between(place.look, np.array(forward)) < 1.0
    assert "cap" in place.look_from


@pytest.mark.parametrize("height", [0.1, -0.1], ids=["cornea", "iris"])
@pytest.mark.parametrize("cap", [180, 80])
def test_look_from_a_cornea_or_an_iris(height, cap):
    """The bulge or the dish shows where each eye looks, here inward and up; the centre stays."""
    left = turned(marked(LEFT, height, cap=cap), LEFT, -8, 12)
    right = turned(marked(RIGHT, height, cap=cap), RIGHT, 8, 12)
    eyes = place_eyes(surfaces([left], [right]))
    for place, centre, yaw in ((eyes.left, LEFT, -8), (eyes.right, RIGHT, 8)):
        assert np.linalg.norm(place.center - centre) < 0.02 * EYE_RADIUS
        y, p = np.radians([yaw, 12])
        look = np.array([np.cos(p) * np.sin(y), np.sin(p), np.cos(p) * np.cos(y)])
        assert degrees_between(place.look, look) < 2.0
        assert ("cornea" if height > 0 else "iris") in place.look_from


def test_shells_of_one_eye():
    """Of a ball with an iris disc on it the ball is fitted, and the disc shows the look."""
    ball = sphere(LEFT, EYE_RADIUS)
    iris = turned(sphere(LEFT, 1.01 * EYE_RADIUS, cap=25), LEFT, 15)
    place = place_eyes(surfaces([iris, ball])).left
    assert np.linalg.norm(place.center - LEFT) < 1e-3 * EYE_RADIUS
    assert (
        degrees_between(place.look, np.array([np.sin(np.radians(15)), 0, np.cos(np.radians(15))]))
        < 1
    )


def test_looks_that_cross_are_not_believed():
    """Marks that point one eye far out and the other far up are no pupils."""
    left = turned(marked(LEFT, 0.1), LEFT, 60)
    right = turned(marked(RIGHT, 0.1), RIGHT, 0, 30)
    eyes = place_eyes(surfaces([left], [right]))
    assert eyes.left.look is None
    assert eyes.right.look is None


def test_small_cap_takes_the_radius_of_the_other_eye():
    """A lid-cropped noisy cap beside a whole ball is held by the ball's radius."""
    errors, free = [], []
    for seed in range(12):
        vertices, faces = sphere(RIGHT, EYE_RADIUS, rings=10, cap=16)
        noise = np.random.default_rng(seed).normal(size=len(vertices)) * 0.015
        vertices = RIGHT + (vertices - RIGHT) * (1 + noise)[:, None]
        both = place_eyes(surfaces([sphere(LEFT, EYE_RADIUS)], [(vertices, faces)]))
        errors.append(np.linalg.norm(both.right.center - RIGHT) / EYE_RADIUS)
        alone = place_eyes(surfaces([], [(vertices, faces)])).right
        free.append(np.linalg.norm(alone.center - RIGHT) / EYE_RADIUS)
    assert max(errors) < 0.1
    assert np.median(errors) < 0.5 * np.median(free)


def test_one_eye_and_no_eye():
    """A side without a piece is a false value that says so."""
    eyes = place_eyes(surfaces([sphere(LEFT, EYE_RADIUS)]))
    assert isinstance(eyes.left, EyePlace)
    assert isinstance(eyes.right, NotFound)
    assert "right eye" in str(eyes.right)
    assert not place_eyes([]).left
    assert not place_eyes([]).of("right")


def test_third_eye_is_kept_apart():
    """An eye of no side is neither left nor right."""
    middle = EyeSurface(None, *sphere(np.array([0, 0.95, 0.05]), EYE_RADIUS))
    eyes = place_eyes([middle])
    assert not eyes.left
    assert len(eyes.others) == 1
    assert eyes.others[0].side is None


@pytest.mark.parametrize("cap", [180, 90])
def test_an_oval_is_fitted_as_one(cap):
    """A cartoon's drawn-out eye, or its front half, is part of an ellipsoid, whose centre it is."""
    vertices, faces = sphere(LEFT, EYE_RADIUS, cap=cap)
    oval = (vertices - LEFT) * [1.0, 1.7, 0.7] + LEFT
    place = place_eyes(surfaces([(oval, faces)])).left
    assert np.linalg.norm(place.center - LEFT) < 1e-3 * EYE_RADIUS
    assert place.shape == "ellipsoid"
    assert place.evidence[0].kind == "ellipsoid_fit"
    assert place.spread < 0.01 * EYE_RADIUS


@pytest.mark.parametrize("depth", [0.4, 0.7])
def test_a_flat_round_eye_looks_along_its_short_axis(depth):
    """An eye that is a lens or a button looks along its axis."""
    vertices, faces = sphere(LEFT, EYE_RADIUS)
    flat = turned(((vertices - LEFT) * [1.0, 1.0, depth] + LEFT, faces), LEFT, 20)
    place = place_eyes(surfaces([flat])).left
    assert (
        degrees_between(place.look, np.array([np.sin(np.radians(20)), 0, np.cos(np.radians(20))]))
        < 1
    )
    assert "flat" in place.look_from


@pytest.mark.parametrize("height", [0.1, -0.1], ids=["cornea", "iris"])
def test_marks_on_an_oval_show_its_look(height):
    """A cornea or an iris is seen on a squashed ball, too, and the ball's middle stays."""
    vertices, faces = marked(LEFT, height)
    oval = turned(((vertices - LEFT) * [1.0, 1.3, 1.0] + LEFT, faces), LEFT, 15)
    place = place_eyes(surfaces([oval])).left
    assert np.linalg.norm(place.center - LEFT) < 0.02 * EYE_RADIUS
    assert (
        degrees_between(place.look, np.array([np.sin(np.radians(15)), 0, np.cos(np.radians(15))]))
        < 2
    )


def test_noise_is_no_pupil():
    """Single vertices that stand off a noisy cap do not turn its look from the cap's middle."""
    for seed in range(20):
        rng = np.random.default_rng(seed)
        vertices, faces = sphere(LEFT, EYE_RADIUS, cap=70.5)
        noisy = LEFT + (vertices - LEFT) * (1 + 0.01 * rng.normal(size=(len(vertices), 1)))
        place = place_eyes(surfaces([(noisy, faces)])).left
        assert degrees_between(place.look, np.array([0.0, 0.0, 1.0])) < 5


def test_a_box_gives_its_middle():
    """An eye that is part of no ball: its box's middle, with a wider spread that says so."""
    low, high = LEFT - EYE_RADIUS, LEFT + EYE_RADIUS * np.array([1.0, 1.0, 0.2])
    place = place_eyes(surfaces([box(tuple(low), tuple(high))])).left
    assert np.allclose(place.center, 0.5 * (low + high))
    assert place.evidence[0].kind == "box_middle"
    assert place.spread > 0.3 * EYE_RADIUS


def test_from_a_character_with_joined_eyes():
    """Two balls in one object become a left and a right place."""
    eyes = joined(sphere(LEFT, EYE_RADIUS), sphere(RIGHT, EYE_RADIUS))
    head = sphere(np.array([0, 0.93, 0.0]), 0.06, rings=24)
    body = sphere(np.array([0, 0.6, 0.0]), 0.25, rings=24)
    character = figure({"eyes": eyes, "body": joined(head, body)})
    working = [part.vertices for part in character.parts]
    roles = assign_roles(character, working)
    found = place_eyes(eye_surfaces(character, roles, working))
    assert np.linalg.norm(found.left.center - LEFT) < 1e-3 * EYE_RADIUS
    assert np.linalg.norm(found.right.center - RIGHT) < 1e-3 * EYE_RADIUS


def test_sides_follow_the_frame():
    """When the frame was turned after the roles were given, left is still the character's left."""
    head, body = sphere(np.array([0, 0.93, 0.0]), 0.06), sphere(np.array([0, 0.6, 0.0]), 0.25)
    balls = {"a": sphere(LEFT, EYE_RADIUS), "b": sphere(RIGHT, EYE_RADIUS)}
    character = figure({**balls, "body": joined(head, body)})
    working = [part.vertices for part in character.parts]
    roles = assign_roles(character, working)
    found = place_eyes(eye_surfaces(character, roles, [v * [-1, 1, -1] for v in working]))
    assert found.left.center[0] > 0 > found.right.center[0]


def test_from_the_head_by_published_ratios():
    """Half the head height, .415 of its breadth apart, behind the brow; mirrored about the head."""
    low, high = np.array([-0.03, 0.87, -0.06]), np.array([0.05, 1.0, 0.06])
    left, right = eyes_from_head(low, high, brow_z=0.05)
    assert left.center[0] - right.center[0] == pytest.approx(0.415 * 0.08)
    assert (left.center[0] + right.center[0]) / 2 == pytest.approx(0.01)
    assert left.center[1] == pytest.approx(0.935)
    assert left.center[2] == pytest.approx(0.05 - 0.13 * 20 / 228, abs=1e-4)
    assert left.spread > 0.02 * 0.13
    assert "no eyeball" in left.evidence[0].note
    assert left.share_seen == 0.0
