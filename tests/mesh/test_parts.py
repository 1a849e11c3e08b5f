"""What the user says of parts is done, and every triangle has a role."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import InputError
from autoplace.mesh.character import Character, Part
from autoplace.mesh.parts import assign_roles, find_pieces
from tests.mesh.capsule_figures import figure, joined
from tests.mesh.dressed_figures import (
    CLOAK,
    COAT,
    DRESS,
    HAIR,
    SWORD,
    ball,
    judged,
    role_of,
    working,
)


def test_leave_out_by_name_and_pattern(plain):
    """Left-out parts are marked so, by exact name or by pattern."""
    roles = judged({**plain, "cloak_back": CLOAK, "cloak_hood": HAIR}, leave_out=["cloak_*"])
    assert role_of(roles, "cloak_back") == {"left_out"}
    assert role_of(roles, "cloak_hood") == {"left_out"}
    assert role_of(roles, "Object002") == {"eyeball left"}


def test_forced_roles(plain):
    """A forced role overrides the measurement, and an eyeball's side is told by where it is."""
    roles = judged({**plain, "Object004": DRESS}, forced={"Object004": "body"})
    assert role_of(roles, "Object004") == {"body"}
    assert role_of(roles, "Object001") == {"body"}
    roles = judged(
        {"Object001": plain["Object001"], "a": ball(0.06, 0.9, 0.0, 0.01)}, forced={"a": "eyeball"}
    )
    assert role_of(roles, "a") == {"eyeball left"}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"leave_out": ["hta"]}, ("'hta'", "'Object001'")),
        ({"forced": {"Object00?x": "body"}}, ("'Object00?x'", "'Object003'")),
        ({"forced": {"Object001": "trousers"}}, ("'trousers'", "garment")),
        ({"leave_out": ["*"]}, ("keep at least one",)),
    ],
)
def test_wrong_words_from_the_user(plain, said, words):
    """An unknown part lists the parts, an unknown role the roles; leaving out all is refused."""
    with pytest.raises(InputError) as told:
        judged(plain, **said)
    for word in words:
        assert word in str(told.value)


def test_every_triangle_is_in_one_piece(plain):
    """Pieces split the triangles of each part without gap or overlap, before and after judging."""
    character = figure({**plain, "Object004": joined(HAIR, DRESS)})
    for roles in (find_pieces(character), assign_roles(character, working(character))):
        for index, part in enumerate(character.parts):
            ids = np.concatenate([p.face_ids for p in roles.pieces if p.part_index == index])
            np.testing.assert_array_equal(np.sort(ids), np.arange(len(part.faces)))


MIRROR = np.array([-1.0, 1.0, 1.0])


def test_mirror_image_swaps_the_sides(plain):
    """Mirroring the figure changes the eyes' sides and nothing else."""
    parts = {**plain, "Object004": SWORD, "Object005": HAIR}
    flipped = {n: (v * MIRROR, f[:, ::-1]) for n, (v, f) in parts.items()}
    one, two = judged(parts), judged(flipped)
    swap = {"left": "right", "right": "left", None: None}
    assert [(p.part, p.role) for p in one.pieces] == [(p.part, p.role) for p in two.pieces]
    assert [swap[p.side] for p in one.pieces] == [p.side for p in two.pieces]


def test_same_input_same_answer(plain):
    """Two runs agree to the last reason and face."""
    parts = {**plain, "Object004": COAT, "Object005": HAIR}
    one, two = judged(parts), judged(parts)
    for a, b in zip(one.pieces, two.pieces, strict=True):
        assert (a.part, a.role, a.side, a.reason, a.confidence) == (
            b.part,
            b.role,
            b.side,
            b.reason,
            b.confidence,
        )
        assert a.face_ids.tobytes() == b.face_ids.tobytes()


def test_part_without_triangles_has_no_piece(plain):
    """A part of points alone, as a reduced mesh may have it, has no role and disturbs no other."""
    whole = figure(plain)
    points = np.array([[0.3, 0.2, 0.0], [0.3, 0.4, 0.0]])
    none = np.zeros((0, 3), dtype=np.int64)
    empty = [Part(name, points, none, np.arange(2), np.arange(0)) for name in ("first", "last")]
    character = Character("figure", (empty[0], *whole.parts, empty[1]))
    for said in ({}, {"leave_out": ["last"]}, {"forced": {"last": "body"}}):
        roles = assign_roles(character, working(character), **said)
        assert [piece.part for piece in roles.pieces] == list(plain)
        assert role_of(roles, "Object001") == {"body"}
        assert role_of(roles, "Object002") == {"eyeball left"}
    assert [piece.part for piece in find_pieces(character).pieces] == list(plain)
