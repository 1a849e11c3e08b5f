"""One mesh in one order, whatever order the file has it in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from autoplace.mesh.character import Character, Part
from autoplace.mesh.order import BITS, in_order, smallest_first
from autoplace.mesh.parts import find_pieces
from autoplace.mesh.prepare import prepare
from tests.invariance.states import every_part, shuffled, third_flipped, unwelded
from tests.mesh.capsule_figures import capsule

CHANGES: dict[str, Callable[[Part, np.random.Generator], Part]] = {
    "shuffled": shuffled,
    "unwelded": unwelded,
    "a third flipped": third_flipped,
}


def part(name: str, vertices: np.ndarray, faces: np.ndarray) -> Part:
    return Part(name, vertices, faces, np.arange(len(vertices)), np.arange(len(faces)))


def two_limbs() -> Character:
    """Two capsules that lie askew, each a part."""
    mesh = [
        capsule(np.array([0.1, 0.2, 0.3]), np.array([0.5, 1.1, 0.4]), 0.1, 0.07, columns=7),
        capsule(np.array([-0.3, 0.0, 0.1]), np.array([-0.2, 0.8, 0.7]), 0.08, 0.05, columns=9),
    ]
    return Character("limbs", tuple(part(f"limb{i}", *one) for i, one in enumerate(mesh)))


def corners(one: Part) -> np.ndarray:
    """(m, 3, 3) corners of each triangle, from the first in the order of x, y and z on."""
    found = one.vertices[one.faces]
    for face in found:
        first = min(range(3), key=lambda i: tuple(face[i]))
        face[:] = np.roll(face, -first, axis=0)
    return found


def test_nothing_but_the_order_changes():
    """Every triangle is there once, wound as it was, and is told where it came from."""
    character = two_limbs()
    ordered, source = in_order(character)
    for before, after, came in zip(character.parts, ordered.parts, source, strict=True):
        assert np.array_equal(np.sort(came), np.arange(len(before.faces)))
        assert np.array_equal(corners(before)[came], corners(after))
        assert np.array_equal(before.source_faces[came], after.source_faces)
        assert np.array_equal(before.vertices[after.source_vertices], after.vertices)


@pytest.mark.parametrize("change", CHANGES)
def test_triangles_come_in_the_order_of_the_unchanged_mesh(change):
    """Shuffled, unwelded, or with a third of them turned over, they lie in the same places."""
    character = two_limbs()
    changed = every_part(CHANGES[change])(character, {}).character
    for one, other in zip(in_order(character)[0].parts, in_order(changed)[0].parts, strict=True):
        middle = one.vertices[one.faces].mean(axis=1)
        assert other.vertices[other.faces].mean(axis=1) == pytest.approx(middle, abs=1e-15)


def test_the_two_of_a_double_stay_as_the_file_has_them():
    """Of two triangles in one place that look opposite ways the file's first comes first."""
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    there, back = np.array([[0, 1, 2]]), np.array([[0, 2, 1]])
    one = in_order(Character("a", (part("a", vertices, np.concatenate([there, back])),)))[0]
    other = in_order(Character("a", (part("a", vertices, np.concatenate([back, there])),)))[0]
    assert one.faces.tolist() == [[0, 1, 2], [0, 2, 1]]
    assert other.faces.tolist() == [[0, 2, 1], [0, 1, 2]]


def test_neighbours_on_the_curve_are_neighbours_in_space():
    """The curve through a cube of 8 x 8 x 8 points meets octants one after the other: the order is
    that of the coordinates' bits in turns (closed form)."""
    axis = np.arange(8) / 7.0
    points = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    faces = np.arange(510).reshape(-1, 3)
    character = Character("cube", (part("cube", points, np.vstack([faces, [509, 510, 511]])),))
    found = in_order(character)[0].parts[0].vertices
    steps = np.rint(found * (2**BITS - 1)).astype(int)
    codes = [
        sum(((int(step[i]) >> bit) & 1) << (3 * bit + i) for bit in range(BITS) for i in range(3))
        for step in steps
    ]
    assert codes == sorted(codes)
    assert len(set(codes)) == 512


def test_corners_are_turned_and_not_swapped():
    """The smallest corner comes first; the others follow as they did."""
    faces = np.array([[4, 2, 9], [1, 5, 3], [7, 8, 6]])
    assert smallest_first(faces).tolist() == [[2, 9, 4], [1, 5, 3], [6, 7, 8]]


def test_roles_are_told_of_the_original_triangles():
    """Pieces that were found on the ordered mesh name the triangles of the file."""
    character = every_part(shuffled)(two_limbs(), {}).character
    prepared = prepare(character)
    for piece in prepared.original_roles(find_pieces(prepared.character)).pieces:
        whole = character.parts[piece.part_index]
        assert np.array_equal(piece.face_ids, np.arange(len(whole.faces)))


def test_roles_are_told_of_the_original_triangles_of_one_part():
    """The same where two pieces share a part."""
    first, second = two_limbs().parts
    joined = part(
        "all",
        np.vstack([second.vertices, first.vertices]),
        np.vstack([second.faces, first.faces + len(second.vertices)]),
    )
    prepared = prepare(Character("all", (joined,)))
    told = prepared.original_roles(find_pieces(prepared.character)).pieces
    count = len(second.faces)
    found = sorted(piece.face_ids.tolist() for piece in told)
    assert found == [list(range(count)), list(range(count, len(joined.faces)))]
