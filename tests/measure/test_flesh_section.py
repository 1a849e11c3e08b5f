"""The middle of a section: closed forms of discs, half discs, slabs, and pieces that touch."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.flesh_section import SectionMiddle, section_middle
from autoplace.measure.not_found import NotFound
from tests.measure.surfaces import cylinder, elliptic_cone, rotation, soup, turned
from tests.mesh.capsule_figures import box, joined

LENGTH = 0.5
TURN = rotation((0.3, 1.0, -0.4), 65.0)
PLACE = (0.2, 0.7, -0.1)


def middle(mesh, point, direction=(0, 0, 1), window=0.08, most=0.4, **more) -> SectionMiddle:
    """The middle through a point, which must be found."""
    point, direction = np.asarray(point, float), np.asarray(direction, float)
    found = section_middle(*mesh, point, direction, window, most, **more)
    assert isinstance(found, SectionMiddle)
    return found


def side_by_side(gap: float):
    """An arm's cylinder (radius .03) beside a trunk's (radius .09), and the arm's middle."""
    aside = 0.12 + gap
    arm = turned(cylinder(0.03, LENGTH), np.eye(3), (aside, 0.0, 0.0))
    return joined(arm, cylinder(0.09, LENGTH)), np.array([aside, 0.0])


@pytest.mark.parametrize("off", [(0, 0), (0.01, 0.005), (-0.025, 0.01), (0.05, 0.0)])
def test_middle_of_a_turned_cylinder_is_on_its_axis(off):
    """From the axis, from near the skin and from outside the middle is on the axis, in the plane,
    to 1e-4 of the height (a window of 64 cells for a section 24 cells across)."""
    mesh = turned(cylinder(0.03, LENGTH), TURN, PLACE)
    point = TURN @ [*off, 0.3] + PLACE
    found = middle(mesh, point, TURN[:, 2])
    assert found.whole
    assert found.position == pytest.approx(TURN @ [0.0, 0.0, 0.3] + PLACE, abs=1e-4)


def test_middle_of_an_oblong_section():
    """An ellipse of half axes .05 and .03, looked at from one end of it, has its middle at both."""
    mesh = elliptic_cone((0.05, 0.03), (0.05, 0.03), LENGTH)
    found = middle(mesh, [0.04, 0.0, 0.2])
    assert found.position == pytest.approx([0.0, 0.0, 0.2], abs=1e-4)


def test_window_grows_until_the_section_is_whole():
    """A first window smaller than the section gives the same middle."""
    mesh = cylinder(0.09, LENGTH)
    found = middle(mesh, [0.05, 0.01, 0.2], window=0.02)
    assert found.position == pytest.approx([0.0, 0.0, 0.2], abs=3e-4)


def test_holes_and_loose_triangles_do_not_matter():
    """A tube without caps, of triangles that share no vertex, has the same middle."""
    mesh = soup(cylinder(0.03, LENGTH, capped=False))
    found = middle(mesh, [0.01, 0.0, 0.2])
    assert found.position == pytest.approx([0.0, 0.0, 0.2], abs=1e-4)


@pytest.mark.parametrize("gap", [0.01, 0.001])
@pytest.mark.parametrize("off", [-0.02, 0.0, 0.02])
def test_arm_beside_the_trunk_has_its_own_middle(gap, off):
    """Across a gap, even one narrower than a cell, the trunk is left out: to 3e-4."""
    mesh, arm = side_by_side(gap)
    found = middle(mesh, [arm[0] + off, 0.003, 0.2])
    assert found.position[:2] == pytest.approx(arm, abs=3e-4)


@pytest.mark.parametrize("off", [-0.01, 0.0, 0.01])
def test_arm_that_lies_in_the_trunk_is_parted_at_the_neck(off):
    """Of an arm .006 deep in the trunk (a tenth of its breadth) the cap beyond the neck is lost, so
    that the middle moves out by less than that cap is high."""
    mesh, arm = side_by_side(-0.006)
    found = middle(mesh, [arm[0] + off, 0.0, 0.2])
    assert found.position[:2] == pytest.approx(arm, abs=3e-3)


def test_trunk_beside_an_arm_has_its_own_middle():
    """From within the trunk, an arm that touches it is left out."""
    mesh, _ = side_by_side(-0.001)
    found = middle(mesh, [0.0, -0.04, 0.2], window=0.18)
    assert found.position[:2] == pytest.approx([0.0, 0.0], abs=1.5e-3)


def test_slab_has_the_middle_of_its_thickness():
    """In a palm's section (.06 by .016) a knuckle near one end keeps its place along the slab and
    goes to half the thickness."""
    mesh = box((-0.03, -0.008, 0.0), (0.03, 0.008, LENGTH))
    found = middle(mesh, [0.02, 0.006, 0.2], window=0.04)
    assert not found.whole
    assert found.position == pytest.approx([0.02, 0.0, 0.2], abs=3e-4)


def test_section_that_runs_on_has_the_middle_of_its_thickness():
    """Through a wall that no window holds, the thickness is halved."""
    mesh = box((-2.0, -0.03, -2.0), (2.0, 0.03, 2.0))
    found = middle(mesh, [0.02, 0.01, 0.2])
    assert not found.whole
    assert found.position == pytest.approx([0.02, 0.0, 0.2], abs=3e-4)


def test_flesh_beyond_a_bound_does_not_count():
    """Half a disc of radius r has its centroid 4 r / (3 pi) from the cut."""
    mesh = cylinder(0.06, LENGTH)
    found = middle(mesh, [0.02, 0.0, 0.2], bounds=[(np.array([1.0, 0.0, 0.0]), 0.0)])
    assert found.position[0] == pytest.approx(4 * 0.06 / (3 * np.pi), abs=5e-4)
    assert found.position[1:] == pytest.approx([0.0, 0.2], abs=3e-4)


def test_nothing_to_cut_is_not_found():
    """A plane beyond the mesh, no triangles, and no direction give a reason."""
    mesh = cylinder(0.03, LENGTH)
    nowhere = np.array([0.0, 0.0, 2.0])
    along = np.array([0.0, 0.0, 1.0])
    empty = np.zeros((0, 3), dtype=np.int64)
    for found in (
        section_middle(*mesh, nowhere, along, 0.08, 0.4),
        section_middle(mesh[0], empty, np.zeros(3), along, 0.08, 0.4),
        section_middle(*mesh, np.zeros(3), np.zeros(3), 0.08, 0.4),
    ):
        assert isinstance(found, NotFound)
        assert found.why
