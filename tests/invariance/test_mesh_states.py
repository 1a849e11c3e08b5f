"""The same figure in another state of its mesh: its joints follow within the target.

Each time a demo character goes through those states that ask something else of the code, and a body
of the open dataset through a few that change the surface; with `-m wide` through many more. The
whole table is printed by `python -m tests.invariance.report`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest

from autoplace import place
from autoplace.files.skeleton_json import dump_skeleton
from meshes.box_family import box_family
from tests.family.built import built
from tests.invariance.comparing import TARGET, Followed, Subject, follow, placed_joints, subjects
from tests.invariance.states import MANY, STATES, height_of
from tests.placed_once import place_once

COARSE = "5,000 faces"
NOT_YET = (COARSE,)
"""States in which fingers of the demo character still move by more than the target: the index
finger's knuckle by 0.42 percent (measured 2026-11-25). All its other joints stay within it."""
OFTEN = ("again", "tilted by 10 degrees", "turned anyhow, again", "unwelded and jittered")
"""Left to the table: others show the same."""
EACH_TIME = (
    "+Z up",
    "10,000 heights away",
    "mirrored",
    "in parts, slimmer underneath",
    "on a ground of 30 m",
    "turned, torn, flipped, unwelded",
)
"""Another axis up, far off, the other hand, what is worn or cut apart, what is not the figure, and
what damages the surface in every way at once with no axis up."""
EACH_TIME_ON_A_BODY = ("2 % of faces gone", "4 times the faces", "unwelded, a third flipped")
ALL_HOLD = tuple(name for name in STATES if name not in (*NOT_YET, *OFTEN))
ON_A_BODY = (
    "turned by 45 about up",
    "moved a little",
    "mirrored",
    "shuffled",
    "unwelded, a third flipped",
    "2 % of faces gone",
    "4 times the faces",
    "on a ground of 30 m",
    "turned anyhow",
    "in overlapping parts",
    COARSE,
)


@cache
def subject(name: str) -> tuple[Subject, dict[str, np.ndarray], float]:
    """A character, its joints in the unchanged mesh, and its height."""
    (found,) = subjects((name,))
    return found, placed_joints(found.character), height_of(found.character)


def followed(name: str, state: str) -> Followed:
    """How one character's joints follow one state."""
    found, joints, height = subject(name)
    change = MANY[1] if state == MANY[0] else STATES[state]
    return follow(name, state, change(found.character, found.known), joints, height)


def some_wide(states: Sequence[str], each_time: Sequence[str]) -> list[object]:
    """The states as parameters; those not to be tried each time are marked."""
    assert set(each_time) <= set(states)
    return [
        state if state in each_time else pytest.param(state, marks=pytest.mark.wide)
        for state in states
    ]


def assert_holds(result: Followed) -> None:
    assert not result.problems, result.problems
    far = {joint: round(moved, 3) for joint, moved in result.moved.items() if moved > TARGET}
    assert not far, f"{result.state}: {far}"


def test_a_second_run_gives_the_same_bytes():
    """The skeleton of an equal copy of a mesh is the same to the last byte."""
    character = subject("keeper")[0].character
    copy = STATES["again"](character, {}).character
    one, two = place_once(character).skeleton, place(copy).skeleton
    assert dump_skeleton(one).replace(character.name, "") != ""
    assert [j.position.tobytes() for j in one] == [j.position.tobytes() for j in two]
    assert [j.axes.tobytes() for j in one] == [j.axes.tobytes() for j in two]


@pytest.mark.parametrize("state", some_wide(ALL_HOLD, EACH_TIME))
def test_every_joint_of_the_demo_character_follows(state):
    """Every joint lies within 0.3 percent of the height of where it lies in the unchanged mesh."""
    assert_holds(followed("keeper", state))


def test_the_order_in_a_file_moves_no_joint():
    """Shuffled vertices and triangles change nothing, on a figure out of pieces with what it holds
    on one side least of all: not which joints there are, nor where."""
    member = next(one for one in box_family() if one.tuning and "shield" in str(one.traits))
    figure = built(member)
    joints, height = placed_joints(figure.character), height_of(figure.character)
    changed = STATES["shuffled"](figure.character, figure.joints)
    result = follow(member.name, "shuffled", changed, joints, height)
    assert not result.problems
    assert max(result.moved.values()) < 1e-6


@pytest.mark.xfail(strict=True, reason="skin over knuckles is lost with the faces")
@pytest.mark.parametrize("state", NOT_YET)
def test_every_joint_of_the_demo_character_will_follow(state):
    """The same in the states in which the knuckles still move too far."""
    assert_holds(followed("keeper", state))


@pytest.mark.parametrize("state", NOT_YET)
def test_all_but_the_fingers_of_the_demo_character_follow(state):
    """In those states every joint other than a finger's follows."""
    result = followed("keeper", state)
    assert not result.problems
    fingers = ("thumb", "index", "middle", "ring", "pinky")
    body = {n: moved for n, moved in result.moved.items() if not any(f in n for f in fingers)}
    assert max(body.values()) <= TARGET, max(body, key=body.__getitem__)


@pytest.mark.parametrize("state", some_wide(ON_A_BODY, EACH_TIME_ON_A_BODY))
@pytest.mark.usefixtures("_dataset")
def test_every_joint_of_a_body_follows(state):
    """The same for a body of the open dataset."""
    assert_holds(followed("male_young_rest", state))


@pytest.mark.xfail(
    strict=True, reason="hips move by .33 percent of the height, a knuckle by as much"
)
@pytest.mark.wide
@pytest.mark.usefixtures("_dataset")
def test_every_joint_of_a_jittered_body_will_follow():
    """The same in the one state in which joints of that body still move too far."""
    assert_holds(followed("male_young_rest", "jittered"))


@pytest.mark.wide
def test_a_mesh_of_very_many_faces_is_measured_on_a_lighter_copy():
    """With 64 times the faces, 1.4 million, every joint follows and every face still has a role."""
    found, joints, height = subject("keeper")
    changed = MANY[1](found.character, found.known)
    assert_holds(follow("keeper", MANY[0], changed, joints, height))


def test_roles_of_a_lighter_copy_are_given_to_the_whole_mesh():
    """Every triangle of a mesh too large to be measured as it is belongs to one piece, and pieces
    have the roles that they have in the mesh of normal size."""
    from autoplace.mesh.islands import find_islands
    from autoplace.mesh.pieces import Piece, Roles
    from autoplace.mesh.reduce import reduce_character
    from autoplace.mesh.triangles import surface_area

    character = subject("keeper")[0].character
    area = surface_area(character.vertices, character.faces)
    # ten times the figure's area stands for a copy that is ten times as coarse
    reduced = reduce_character(character, find_islands(character), 10.0 * area)
    assert 500 < reduced.character.face_count < character.face_count
    pieces = tuple(
        Piece(part.name, index, np.arange(len(part.faces)), f"role {index}", None, "", 1.0)
        for index, part in enumerate(reduced.character.parts)
    )
    whole = reduced.roles(Roles(pieces))
    for index, part in enumerate(character.parts):
        mine = [piece for piece in whole.pieces if piece.part_index == index]
        ids = np.sort(np.concatenate([piece.face_ids for piece in mine]))
        np.testing.assert_array_equal(ids, np.arange(len(part.faces)))
        largest = max(mine, key=lambda piece: len(piece.face_ids))
        assert largest.role == f"role {index}"
