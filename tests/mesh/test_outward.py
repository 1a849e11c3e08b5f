"""Faces are turned to look outward, also where a surface is modelled from both sides."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from autoplace.mesh.outward import flips
from autoplace.mesh.triangles import face_normals, without_doubles
from tests.mesh.capsule_figures import Mesh, capsule, joined, sphere

AXIS = np.array([[0.1, 0.0, 0.0], [0.3, 1.0, 0.2]])
SEEDS = range(4)


def outward(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    turned = flips(vertices, faces, np.arange(len(vertices)))
    return np.where(turned[:, None], faces[:, ::-1], faces)


def from_both_sides(mesh: Mesh, seed: int) -> Mesh:
    """Every triangle once more the other way round, in any order."""
    vertices, faces = mesh
    both = np.concatenate([faces, faces[:, ::-1]])
    return vertices, np.random.default_rng(seed).permutation(both)


def some_flipped(mesh: Mesh, seed: int) -> Mesh:
    vertices, faces = mesh
    turned = np.random.default_rng(seed).random(len(faces)) < 1 / 3
    return vertices, np.where(turned[:, None], faces[:, ::-1], faces)


def cap() -> Mesh:
    """The foremost bit of a ball, open behind: a sheet that bulges forward, hardly."""
    return sphere(np.zeros(3), 1.0, cap=2.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_third_of_the_faces_turned_over_are_turned_back(seed):
    """The volume is that of the mesh as it was, by `trimesh`."""
    vertices, faces = joined(capsule(*AXIS, 0.1, 0.08), sphere(np.array([1.0, 0, 0]), 0.2))
    found = outward(*some_flipped((vertices, faces), seed))
    known = trimesh.Trimesh(vertices, faces, process=False).volume
    assert trimesh.Trimesh(vertices, found, process=False).volume == pytest.approx(known)


@pytest.mark.parametrize("seed", SEEDS)
def test_of_a_body_modelled_from_both_sides_the_outer_one_counts(seed):
    """Whichever the file has first, triangle by triangle."""
    mesh = capsule(*AXIS, 0.1, 0.08)
    vertices, faces = from_both_sides(mesh, seed)
    kept = without_doubles(vertices, outward(vertices, faces))
    assert len(kept) == len(mesh[1])
    known = trimesh.Trimesh(*mesh, process=False).volume
    assert trimesh.Trimesh(vertices, kept, process=False).volume == pytest.approx(known)


@pytest.mark.parametrize("seed", SEEDS)
def test_of_a_sheet_modelled_from_both_sides_the_bulging_one_counts(seed):
    vertices, faces = from_both_sides(cap(), seed)
    kept = without_doubles(vertices, outward(vertices, faces))
    normals = face_normals(vertices, kept)[0]
    middles = vertices[kept].mean(axis=1)
    assert (np.einsum("ij,ij->i", normals, middles) > 0.0).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_both_sides_stay_there(seed):
    """What comes second at a place looks the other way, as before."""
    vertices, faces = from_both_sides(cap(), seed)
    found = outward(vertices, faces)
    normals, area = face_normals(vertices, found)
    assert (area[:, None] * normals).sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-12)


def test_a_sheet_from_one_side_keeps_its_winding():
    """A cape has no inside: most of its area tells which side is shown."""
    vertices, faces = cap()
    inward = faces[:, ::-1].copy()
    inward[0] = faces[0]
    assert np.array_equal(outward(vertices, inward)[1:], inward[1:])
    assert set(outward(vertices, inward)[0]) == set(faces[0])
    normals = face_normals(vertices, outward(vertices, inward))[0]
    assert (np.einsum("ij,ij->i", normals, vertices[faces].mean(axis=1)) < 0.0).all()


def test_a_sheet_partly_from_both_sides_is_told_by_the_rest():
    """Its single triangles keep the winding they have; the first of each double joins them."""
    vertices, faces = cap()
    inward = faces[:, ::-1]
    some = np.concatenate([faces[:5], inward])
    kept = without_doubles(vertices, outward(vertices, some))
    normals = face_normals(vertices, kept)[0]
    assert (np.einsum("ij,ij->i", normals, vertices[kept].mean(axis=1)) < 0.0).all()
