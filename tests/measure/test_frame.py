"""`measure.frame`: axes, floor, height and symmetry plane of figures that stand anyhow."""

from __future__ import annotations

from functools import cache
from itertools import permutations, product

import numpy as np
import pytest

from autoplace.errors import AutoplaceError
from autoplace.measure.frame import AXES, find_frame
from autoplace.measure.frame_record import Frame
from tests.light_figure import light_figure
from tests.measure.blocks import block_meshes
from tests.measure.surfaces import rotation
from tests.mesh.capsule_figures import box, capsule, joined, limb_names, one_skin, sphere

Mesh = tuple[np.ndarray, np.ndarray]


@cache
def figure() -> Mesh:
    """A capsule figure that stands in the working frame: floor 0, height 1, its middle at x = 0."""
    vertices, faces = one_skin(limb_names(), cell=1 / 90)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    return (vertices - [0.5 * (low[0] + high[0]), low[1], 0.0]) / (high[1] - low[1]), faces


@cache
def posed(raised: tuple[float, float]) -> Mesh:
    """The block figure with a round crown, its left hand at this x and y, its right arm hanging."""
    ends = {"left": np.array([*raised, 0.0]), "right": np.array([-0.24, 0.44, 0.02])}
    return joined(*block_meshes(ends), sphere(np.array([0, 0.94, 0]), 0.06))


def turns() -> list[np.ndarray]:
    """The 24 turns that carry axes onto axes."""
    found = []
    for order, signs in product(permutations(range(3)), product((1, -1), repeat=3)):
        matrix = np.zeros((3, 3))
        matrix[range(3), order] = signs
        if np.linalg.det(matrix) > 0:
            found.append(matrix)
    return found


def name_of(direction: np.ndarray) -> str:
    return max(AXES, key=lambda name: float(AXES[name] @ direction))


def tilt(one: np.ndarray, other: np.ndarray) -> float:
    """Degrees between two unit vectors."""
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other)))


@pytest.mark.parametrize("turn", turns(), ids=lambda m: name_of(m[:, 1]) + name_of(m[:, 2]))
def test_up_and_facing_in_all_24_positions(turn):
    """However a file's axes lie, the figure's up, facing and left are found."""
    vertices, faces = figure()
    frame = find_frame(vertices @ turn.T, faces)
    assert (frame.up, frame.forward) == (name_of(turn[:, 1]), name_of(turn[:, 2]))
    np.testing.assert_allclose(frame.rotation, turn.T, atol=0.02)


@pytest.mark.parametrize("degrees", [-50, -20, 5, 15, 33])
def test_a_figure_turned_on_the_spot(degrees):
    """A figure that faces off the axes gets a symmetry plane turned with it, within 1 degree."""
    assert plane_error(degrees) < 1.0


def plane_error(degrees: float) -> float:
    """Degrees between the found symmetry normal and that of a figure turned about its height."""
    body = light_figure()[0].parts[0]
    turn = rotation((0, 1, 0), degrees)
    return tilt(find_frame(body.vertices @ turn.T, body.faces).rotation[0], turn[:, 0])


PROPS = {
    "spear": capsule(np.array([0.42, 0.05, 0.05]), np.array([0.42, 0.95, 0.05]), 0.012, 0.012),
    "bucket": box((0.36, 0.30, -0.05), (0.46, 0.42, 0.05)),
    "board": box((-0.52, 0.35, 0.05), (-0.36, 0.75, 0.08)),
    "large_board": box((-0.60, 0.35, 0.05), (-0.30, 0.95, 0.08)),
}


@pytest.mark.parametrize("prop", ["spear", "bucket"])
def test_a_prop_on_one_side_does_not_pull_the_plane(prop):
    """A spear or a bucket in one hand moves the plane by less than half a percent of the height
    and turns it by less than one degree."""
    frame = find_frame(*joined(figure(), PROPS[prop]))
    assert (frame.up, frame.forward) == ("+Y", "+Z")
    assert abs(frame.origin[0]) < 0.005
    assert tilt(frame.rotation[0], np.array([1.0, 0, 0])) < 1.0


@pytest.mark.parametrize("prop", ["board", "large_board"])
def test_a_board_on_one_side_does_not_pull_the_plane(prop):
    """A board in one hand, as a shield or a sign, leaves up and facing as they are."""
    frame = find_frame(*joined(figure(), PROPS[prop]))
    assert (frame.up, frame.forward) == ("+Y", "+Z")


@pytest.mark.parametrize("raised", [(0.44, 0.62), (0.48, 0.78)])
def test_a_pose_that_is_not_symmetric_does_not_pull_the_plane(raised):
    """With one arm out and one hanging the plane stays within half a percent of the middle."""
    frame = find_frame(*posed(raised))
    assert (frame.up, frame.forward) == ("+Y", "+Z")
    assert abs(frame.origin[0]) < 0.005
    assert tilt(frame.rotation[0], np.array([1.0, 0, 0])) < 1.0


def test_a_hand_over_the_head_is_not_a_foot():
    """A figure with one arm raised over its head still stands on its feet."""
    assert find_frame(*posed((0.30, 1.12))).up == "+Y"


def test_horns_beside_the_plane_are_not_two_feet():
    """Two long horns, parted as legs are, do not turn the figure upside down."""
    horns = [
        capsule(np.array([x * 0.04, 0.97, 0.0]), np.array([x * 0.09, 1.22, 0.0]), 0.02, 0.006)
        for x in (-1.0, 1.0)
    ]
    assert find_frame(*joined(figure(), *horns)).up == "+Y"


@pytest.mark.parametrize("low", [0.06, 0.08, 0.15])
def test_a_cape_does_not_hide_which_way_the_toes_point(low):
    """A figure with its back to where most files face is told by its feet, although a cape hangs
    behind its legs and its head is as deep in front as behind."""
    head = box((-0.05, 0.88, -0.065), (0.05, 1.0, 0.065))
    cape = box((-0.15, low, -0.16), (0.15, 0.8, -0.14))
    vertices, faces = joined(*block_meshes()[:3], head, *block_meshes()[4:], cape)
    frame = find_frame(vertices * [-1.0, 1.0, -1.0], faces)
    assert (frame.up, frame.forward) == ("+Y", "-Z")


def test_height_is_to_the_crown_and_not_to_a_raised_hand():
    """A hand raised over the head is no part of the height."""
    vertices, faces = posed((0.30, 1.12))
    assert vertices[:, 1].max() > 1.1
    frame = find_frame(vertices, faces, up="+Y", forward="+Z")
    assert frame.height == pytest.approx(1.0, abs=0.01)


def test_height_of_a_figure_with_a_block_for_a_head():
    """A head with corners only, none of them near the middle, counts for the height."""
    assert find_frame(*joined(*block_meshes())).height == pytest.approx(1.0, abs=0.01)


def test_floor_height_and_middle_are_those_of_the_figure():
    """The floor is the lowest point and the height that to the crown, but for what a stray vertex
    may reach, a thousandth; the plane is the middle."""
    vertices, faces = figure()
    frame = find_frame(vertices * 1.74 + [0.3, 0.2, -0.5], faces)
    assert frame.height == pytest.approx(1.74, rel=1e-3)
    assert frame.origin[1] == pytest.approx(0.2, abs=1e-3 * 1.74)
    assert frame.origin[0] == pytest.approx(0.3, abs=0.003 * 1.74)
    working = frame.to_working(vertices * 1.74 + [0.3, 0.2, -0.5])
    assert working[:, 1].min() == pytest.approx(0.0, abs=1e-3)
    assert working[:, 1].max() == pytest.approx(1.0, abs=1e-3)


def test_residual_tells_how_symmetric_a_figure_is():
    """A mirrored figure has a small residual; the same figure with a bulge on one side a larger."""
    vertices, faces = figure()
    whole = np.concatenate([vertices, vertices * [-1, 1, 1]])
    both = whole, np.concatenate([faces, faces[:, ::-1] + len(vertices)])
    bulge = capsule(np.array([0.04, 0.6, 0.02]), np.array([0.05, 0.9, 0.03]), 0.09, 0.08)
    assert find_frame(*both).symmetry_residual < 0.004
    assert find_frame(*joined(both, bulge)).symmetry_residual > find_frame(*both).symmetry_residual


@pytest.mark.parametrize(("up", "forward"), [("+Y", "-Z"), ("+Y", None), (None, "+Z")])
def test_what_the_user_says_holds(up, forward):
    """A named axis is taken as it is, even against what the figure shows, and the note says so."""
    frame = find_frame(*figure(), up=up, forward=forward)
    if up:
        assert frame.up == up
        assert any(f"up is {up} as told" in note for note in frame.notes)
    if forward:
        assert frame.forward == forward
        assert any(f"facing is {forward} as told" in note for note in frame.notes)
    assert np.linalg.det(frame.rotation) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("up", "forward", "words"),
    [("Y", None, "--up Y"), (None, "front", "--forward front"), ("+Y", "-Y", "lie on one axis")],
)
def test_an_impossible_axis_is_told(up, forward, words):
    """A name that is no axis, or two names of one axis, is refused with the option's name."""
    with pytest.raises(AutoplaceError, match=words):
        find_frame(*figure(), up=up, forward=forward)


@pytest.mark.parametrize("ahead", [0.06, -0.06])
def test_the_eyes_decide_where_the_figure_looks(ahead):
    """Points known to be eyes and clearly at one end of the head outweigh feet and head."""
    eyes = np.array([[0.02, 0.93, ahead], [-0.02, 0.93, ahead]])
    frame = find_frame(*figure(), others=eyes)
    assert frame.forward == ("+Z" if ahead > 0 else "-Z")
    assert any("eyes" in note for note in frame.notes)


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_going_to_the_working_frame_and_back_gives_the_same_points(scale):
    """`to_input` undoes `to_working` to the last digits, for points and directions of any size."""
    frame = Frame(
        rotation=rotation((1, 2, 3), 50.0).T,
        origin=np.array([3.0, -2.0, 5.0]) * scale,
        height=1.7 * scale,
        up="+Y",
        forward="+Z",
        symmetry_residual=0.0,
    )
    points = np.random.default_rng(0).normal(size=(4, 6, 3)) * scale
    back = frame.to_input(frame.to_working(points))
    np.testing.assert_allclose(back, points, rtol=0, atol=4e-15 * scale)
    back = frame.direction_to_input(frame.direction_to_working(points))
    np.testing.assert_allclose(back, points, rtol=0, atol=4e-15 * scale)
    lengths = np.linalg.norm(frame.direction_to_working(points), axis=-1)
    np.testing.assert_allclose(lengths, np.linalg.norm(points, axis=-1))


@pytest.mark.parametrize("scale", [1e-6, 1e6])
def test_size_and_place_do_not_matter(scale):
    """A millionth or a million times the size, far from the origin, gives the same frame within a
    thousandth of the height."""
    vertices, faces = figure()
    one = find_frame(vertices, faces)
    shift = np.array([4.0, -3.0, 7.0])
    other = find_frame((vertices + shift) * scale, faces)
    np.testing.assert_allclose(other.rotation, one.rotation, atol=1e-6)
    assert other.height == pytest.approx(one.height * scale, rel=1e-6)
    # which of two equally near points is matched hangs on rounding
    np.testing.assert_allclose(other.origin / scale - shift, one.origin, atol=1e-3)
    assert (other.up, other.forward) == (one.up, one.forward)


def test_finding_leaves_its_input_alone_and_repeats():
    """The arrays handed in are not written to, and the frame has the same bytes each time."""
    vertices, faces = (array.copy() for array in figure())
    vertices.setflags(write=False)
    faces.setflags(write=False)
    one, two = find_frame(vertices, faces), find_frame(vertices, faces)
    assert one.rotation.tobytes() == two.rotation.tobytes()
    assert one.origin.tobytes() == two.origin.tobytes()
    assert one.notes == two.notes


def stumps() -> Mesh:
    """A figure of blocks whose legs end flat and whose head has no face."""
    return joined(
        box((-0.12, 0.4, -0.06), (0.12, 0.8, 0.06)),
        box((-0.09, 0.0, -0.04), (-0.02, 0.42, 0.04)),
        box((0.02, 0.0, -0.04), (0.09, 0.42, 0.04)),
        box((-0.5, 0.7, -0.03), (0.5, 0.77, 0.03)),
        box((-0.1, 0.8, -0.1), (0.1, 1.0, 0.1)),
    )


def test_a_figure_alike_in_front_and_behind_faces_as_most_do():
    """Legs that end flat and a head without a face: the direction in use is taken, and not sure."""
    vertices, faces = stumps()
    frame = find_frame(vertices, faces)
    assert (frame.up, frame.forward) == ("+Y", "+Z")
    assert "probably" in frame.notes[1]
