"""Shares smoothed along a surface: as far as asked, and however the surface is cut."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse

from autoplace.skeleton.skin.share_spread import cotangents, spread


def sheet(columns, rows, *, other=False):
    """A flat sheet of squares of side 1, cut along one diagonal or the other."""
    steps = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=2).reshape(-1, 2)
    places = np.concatenate([steps, np.zeros((len(steps), 1))], axis=1).astype(float)
    faces = []
    for r in range(rows - 1):
        for c in range(columns - 1):
            a = r * columns + c
            b, d, e = a + 1, a + columns, a + columns + 1
            faces += [(a, b, d), (b, e, d)] if other else [(a, b, e), (a, e, d)]
    return places, np.array(faces)


def test_a_step_is_spread_by_the_standard_deviation_asked_for():
    """One place of a line holds all; afterwards the variance is the square of the reach."""
    places = np.arange(101.0)[:, None] * [1.0, 0.0, 0.0]
    edges = np.stack([np.arange(100), np.arange(1, 101)], axis=1)
    one = sparse.csr_matrix(([1.0], ([50], [0])), shape=(101, 1))
    found = spread(one, np.full(101, 2.5), places, edges, 20).toarray()[:, 0]
    assert found.sum() == pytest.approx(1.0)
    assert found @ (np.arange(101) - 50.0) ** 2 == pytest.approx(2.5**2)


def test_rows_keep_their_sum():
    """Shares of sum one stay so, with any pulls."""
    places, faces = sheet(6, 5)
    edges, pull = cotangents(places, faces)
    draw = np.random.default_rng(2)
    rows = draw.dirichlet(np.ones(4), len(places))
    found = spread(sparse.csr_matrix(rows), np.full(len(places), 1.5), places, edges, 9, pull)
    assert np.allclose(found.toarray().sum(axis=1), 1.0)


def test_squares_pull_along_their_sides_alone():
    """Cotangents of 45 and 90 degrees: sides pull by 1, at the rim by half, diagonals not."""
    places, faces = sheet(3, 3)
    edges, pull = cotangents(places, faces)
    length = np.linalg.norm(places[edges[:, 0]] - places[edges[:, 1]], axis=1)
    assert np.allclose(length, 1.0)
    assert sorted(pull) == pytest.approx([0.5] * 8 + [1.0] * 4)


def test_it_does_not_matter_how_squares_are_cut():
    """Two sheets cut along different diagonals are smoothed alike, to the rim."""
    one, other = (sheet(8, 8, other=cut) for cut in (False, True))
    rows = sparse.csr_matrix(np.random.default_rng(3).random((64, 2)))
    results = []
    for places, faces in (one, other):
        edges, pull = cotangents(places, faces)
        results.append(spread(rows, np.full(64, 2.0), places, edges, 12, pull).toarray())
    assert np.allclose(*results)


def test_triangles_without_area_pull_nothing_out_of_range():
    """A needle gives finite pulls, and nothing that is not a number."""
    places = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.5, 0, 0], [0.5, 1, 0]])
    edges, pull = cotangents(places, np.array([[0, 1, 2], [0, 1, 3], [0, 0, 1]]))
    assert np.all(np.isfinite(pull))
    assert np.all(pull > 0)
    assert np.all(edges[:, 0] != edges[:, 1])
