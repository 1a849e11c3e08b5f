"""Figures that the tests of parts share; building them takes longest."""

from __future__ import annotations

import pytest

from tests.mesh.capsule_figures import eye, limb_names, one_skin


@pytest.fixture(scope="session")
def skin():
    """The whole body in one surface."""
    return one_skin(limb_names())


@pytest.fixture(scope="session")
def plain(skin):
    """A body and two eyeballs, each an object."""
    return {"Object001": skin, "Object002": eye("left"), "Object003": eye("right")}
