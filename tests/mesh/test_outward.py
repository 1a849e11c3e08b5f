"""Faces are turned to look outward, however the file wound them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.mesh.outward import flips
from autoplace.mesh.triangles import face_normals
from tests.mesh.capsule_figures import capsule, joined, sphere

AXIS = np.array([[0.1, 0.0, 0.0], [0.3, 1.0, 0.2]])


def outward(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    turned = flips(vertices, faces, np.arange(len(vertices)))
    return np.where(turned[:, None], faces[:, ::-1], faces)


@pytest.mark.parametrize("seed", range(4))
def test_a_third_of_the_faces_turned_over_are_turned_back(seed):
    """The volume is that of the mesh as it was, by `trimesh`."""
    vertices, faces = joined(capsule(*AXIS, 0.1, 0.08), sphere(np.array([1.0, 0, 0]), 0.2))
    over = np.random.default_rng(seed).random(len(faces)) < 1 / 3
    found = outward(vertices, np.where(over[:, None], faces[:, ::-1], faces))
    known = trimesh.Trimesh(vertices, faces, process=False).volume
    assert trimesh.Trimesh(vertices, found, process=False).volume == pytest.approx(known)


def test_a_sheet_keeps_its_winding():
    """A cape has no inside: most of its area tells which side is shown."""
    vertices, faces = sphere(np.zeros(3), 1.0, cap=2.0)
    normals = face_normals(vertices, outward(vertices, faces[:, ::-1]))[0]
    assert (np.einsum("ij,ij->i", normals, vertices[faces].mean(axis=1)) < 0.0).all()
