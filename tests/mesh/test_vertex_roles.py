"""The role of every vertex: of its piece, else of its part, else body."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Piece, Roles
from autoplace.mesh.vertex_roles import vertex_roles
from tests.figures import X, Y
from tests.tubes import part, tube

FIRST, SECOND = tube(0 * Y, Y, 0.1), tube(X, X + Y, 0.1)
WHOLE = Character("two", (part("both", [FIRST, SECOND]), part("alone", [FIRST])))


def test_parts_tell_where_no_pieces_are_known():
    """A recorded role counts for the whole part, and an unnamed part is body."""
    both, alone = vertex_roles(WHOLE, {"alone": "garment", "gone": "hair"})
    assert set(both) == {"body"}
    assert set(alone) == {"garment"}
    assert len(both) == len(WHOLE.parts[0].vertices)


def test_pieces_tell_more_than_parts():
    """Of a part of two pieces one is an eyeball; the recorded role of the part gives way."""
    count = len(FIRST[1])
    pieces = (
        Piece("both", 0, np.arange(count), "body", None, "", 1.0),
        Piece("both", 0, np.arange(count, 2 * count), "eyeball", "left", "", 1.0),
    )
    both, alone = vertex_roles(WHOLE, {"both": "hair"}, Roles(pieces))
    assert set(both[: len(FIRST[0])]) == {"body"}
    assert set(both[len(FIRST[0]) :]) == {"eyeball"}
    assert set(alone) == {"body"}


def test_the_longest_role_is_kept_whole():
    """No role is cut short."""
    (found, _) = vertex_roles(WHOLE, {"both": "inner_mouth"})
    assert set(found) == {"inner_mouth"}
