"""Eyes of a face without eyeballs are where its hollows are."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.eye_hollows import EyeHollows, find_eye_hollows

LOW, HIGH = np.array([-0.05, 0.85, -0.07]), np.array([0.05, 1.0, 0.07])
EYE = np.array([0.021, 0.923])


def face(depth, eyes=(1.0, -1.0), at=EYE):
    """A curved front of a head as a grid, with round hollows of a depth at the eyes."""
    x, y = np.meshgrid(np.linspace(-0.05, 0.05, 81), np.linspace(0.85, 1.0, 101))
    z = 0.07 * np.sqrt(np.clip(1 - (x / 0.055) ** 2 - ((y - 0.925) / 0.085) ** 2, 0, 1))
    for side in eyes:
        away = np.hypot(x - side * at[0], y - at[1])
        z = z - depth * np.clip(1 - (away / 0.009) ** 2, 0, 1)
    vertices = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    rows, columns = x.shape
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    a = (i * columns + j).reshape(-1)
    faces = np.concatenate(
        [
            np.stack([a, a + 1, a + columns + 1], 1),
            np.stack([a, a + columns + 1, a + columns], 1),
        ]
    )
    return vertices, faces


@pytest.mark.parametrize("depth", [0.004, 0.01])
@pytest.mark.parametrize("at", [EYE, EYE + np.array([0.002, -0.01])], ids=["adult", "low"])
def test_sockets(depth, at):
    """Both hollows are found, to a fiftieth of the head's height across the face."""
    found = find_eye_hollows(*face(depth, at=at), LOW, HIGH)
    assert isinstance(found, EyeHollows)
    for place, side in ((found.left, 1.0), (found.right, -1.0)):
        assert np.linalg.norm(place[:2] - at * [side, 1.0]) < 0.02 * 0.15
    assert 0.1 * depth / 0.15 < found.depth < depth / 0.15


def test_openings():
    """Where the skin is cut open, the openings are the eyes."""
    vertices, faces = face(0.0)
    middle = vertices[faces].mean(axis=1)
    cut = np.hypot(np.abs(middle[:, 0]) - EYE[0], middle[:, 1] - EYE[1]) < 0.009
    found = find_eye_hollows(vertices, faces[~cut], LOW, HIGH)
    assert isinstance(found, EyeHollows)
    assert np.linalg.norm(found.left[:2] - EYE) < 0.02 * 0.15


def test_a_smooth_face_has_none():
    """No hollows are made up on a smooth face, nor is one on one side only a pair."""
    found = find_eye_hollows(*face(0.0), LOW, HIGH)
    assert not found
    assert "no sockets" in str(found)
    assert not find_eye_hollows(*face(0.01, eyes=(1.0,)), LOW, HIGH)


def test_nothing_to_see():
    """A surface elsewhere is no face."""
    vertices, faces = face(0.01)
    assert not find_eye_hollows(vertices + np.array([1.0, 0, 0]), faces, LOW, HIGH)
