"""What is read of a joint from the shape around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from autoplace.place import readings
from autoplace.place.readings import KnownShapes, Reader, known_shapes, read_joint

ROOT = np.sqrt(0.5)


@dataclass(frozen=True)
class Plain:
    """A shape whose coordinates are a tenth of the frame's."""

    values: np.ndarray

    def point(self, coordinates):
        return 10.0 * coordinates

    def coordinates(self, point):
        return point / 10.0

    def axes(self, coordinates):
        return 10.0 * np.eye(3)


def known():
    """Two values that differ together, standard deviation 2 each, and one that follows them."""
    reader = Reader(
        weight=np.array([[0.01], [0.0], [-0.02]]),
        middle=np.array([0.5, 0.1, 0.2]),
        spread=np.array([0.01, 0.02, 0.0]),
    )
    return KnownShapes(
        mean=np.array([1.0, 1.0]),
        scale=np.array([2.0, 2.0]),
        basis=np.array([[ROOT, ROOT]]),
        deviation=np.array([np.sqrt(2.0)]),
        rest=0.1,
        reach=1.0,
        joints={"knee": reader},
        source="by hand",
    )


def test_reading_is_linear_in_the_component():
    """Both values one standard deviation up are a component of sqrt 2: the joint moves by as many
    of its weights."""
    at, spread, knows = known().read("knee", np.array([3.0, 3.0]))
    assert at == pytest.approx(np.array([0.5, 0.1, 0.2]) + np.sqrt(2) * np.array([0.01, 0, -0.02]))
    assert spread == pytest.approx([0.01, 0.02, readings.LEAST_SPREAD])
    assert knows == 1.0


def test_strange_is_what_known_shapes_do_not_do():
    """Three times as far as usual along the component is 3; values that part company by a fifth of
    a standard deviation, where a tenth is usual, are 2."""
    shapes = np.array([[1.0 + 6.0, 1.0 + 6.0], [1.0 + 0.4, 1.0 - 0.4], [1.0, 1.0]])
    assert known().strangeness(shapes) == pytest.approx([3.0, 2.0, 0.0])


def test_strange_shapes_are_read_less_surely():
    """A shape three times as strange as a usual one has nine times the spread."""
    _, spread, knows = known().read("knee", np.array([7.0, 7.0]))
    assert knows == pytest.approx(1.0 / 9.0)
    assert spread == pytest.approx([0.09, 0.18, 9.0 * readings.LEAST_SPREAD])


def test_one_value_far_off_is_not_followed():
    """A value a hundred standard deviations away pulls like one of three."""
    far, _, _ = known().read("knee", np.array([201.0, 1.0]))
    three, _, _ = known().read("knee", np.array([7.0, 1.0]))
    assert far == pytest.approx(three)


def test_a_reading_is_a_belief_in_the_shape_s_own_axes(monkeypatch):
    """Place and spread are carried over by the shape; a shape too strange or none is not read."""
    monkeypatch.setattr(readings, "known_shapes", lambda kind: known())
    read = read_joint("leg", "knee", Plain(np.array([1.0, 1.0])), "why")
    assert read.cue.position == pytest.approx([5.0, 1.0, 2.0])
    assert np.sqrt(np.diag(read.cue.covariance)) == pytest.approx([0.1, 0.2, 0.02])
    assert read.cue.note == "why"
    assert read.defer == pytest.approx(1.0 + readings.DEFERENCE)
    assert read_joint("leg", "knee", Plain(np.array([1.0 + 9.0, 1.0 + 9.0])), "why") is None
    assert read_joint("leg", "knee", None, "why") is None


@pytest.mark.parametrize(
    ("kind", "joints"),
    [
        ("trunk", {"hip", "pelvis", "neck", "head", "clavicle"}),
        ("trunk_and_arm", {"shoulder"}),
        ("leg", {"knee"}),
        ("arm", {"elbow"}),
    ],
)
def test_what_was_learned_is_whole(kind, joints):
    """Each kind names its joints, its components are orthonormal as far as rounded, and its mean
    shape is no strange one."""
    learned = known_shapes(kind)
    assert set(learned.joints) == joints
    assert learned.basis @ learned.basis.T == pytest.approx(np.eye(len(learned.basis)), abs=2e-3)
    assert learned.strangeness(learned.mean) < 0.1
    assert "none of which is reported on" in learned.source


def test_joints_of_the_mean_shape_are_where_surveys_have_them():
    """Of people of all ages: the knee .494 to .503 of hip to ankle (US Army 2012 survey; Winter
    2009; ISO/IEC 19774-1 nominal figure), the elbow .51 to .53 of the arm (de Leva 1996; Klein
    Breteler et al. 1999; nominal figure), within .02; the hip centre .14 of the trunk from the
    middle (nominal figure; Bell 1990 gives .123 to .128), within .02; the shoulder .82 above the
    crotch (US Army 2012 survey and Klein Breteler et al. 1999), within .02."""
    share = known_shapes("leg").joints["knee"].middle[0]
    assert 0.474 < share < 0.523
    assert 0.49 < known_shapes("arm").joints["elbow"].middle[0] < 0.55
    assert abs(known_shapes("trunk").joints["hip"].middle[0] - 0.14) < 0.02
    assert abs(known_shapes("trunk_and_arm").joints["shoulder"].middle[1] - 0.82) < 0.02
