"""What is read of a joint from the shape around it."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    monkeypatch.setattr(readings, "all_known", lambda kind: (known(),))
    read = read_joint("leg", "knee", Plain(np.array([1.0, 1.0])), "why")
    assert read.cue.position == pytest.approx([5.0, 1.0, 2.0])
    assert np.sqrt(np.diag(read.cue.covariance)) == pytest.approx([0.1, 0.2, 0.02])
    assert read.cue.note == "why"
    assert read.defer == pytest.approx(1.0 + readings.DEFERENCE)
    assert read_joint("leg", "knee", Plain(np.array([1.0 + 9.0, 1.0 + 9.0])), "why") is None
    assert read_joint("leg", "knee", None, "why") is None


def test_a_reading_fades_before_it_is_dropped(monkeypatch):
    """Just below the strangeness at which nothing is read the spread has no end, so that a joint
    does not jump there."""
    monkeypatch.setattr(readings, "all_known", lambda kind: (known(),))
    strange = np.array([2.9, 3.9, 3.999]) * 2.0
    reads = [read_joint("leg", "knee", Plain(1.0 + np.full(2, far)), "why") for far in strange]
    spreads = [np.sqrt(read.cue.covariance[0, 0]) for read in reads]
    assert spreads[0] == pytest.approx(0.1 * 2.9**2)
    assert spreads[1] == pytest.approx(0.1 * 3.9**2 / 0.1)
    assert spreads[2] > 1000.0


def two_families(shift, times=1.0):
    """The known shapes, and others `times` as wide about a mean `shift` standard deviations away,
    with the knee .1 farther along."""
    first = known()
    reader = first.joints["knee"]
    other = replace(reader, middle=reader.middle + np.array([0.1, 0.0, 0.0]))
    far = first.mean + shift * first.scale
    return first, replace(first, mean=far, scale=times * first.scale, joints={"knee": other})


def test_of_two_families_the_one_that_knows_a_shape_decides(monkeypatch):
    """A shape that is usual in one family and three times as strange in the other is read by the
    first; one as usual in both lies between, and is as unsure as they disagree."""
    monkeypatch.setattr(readings, "all_known", lambda kind: two_families(3.0))
    own = read_joint("leg", "knee", Plain(np.array([1.0, 1.0])), "why").cue
    # a third as near in each of nine times the spread, and once more a ninth
    weight = 1.0 / 729.0
    slope = 0.01 * np.sqrt(2) * -3.0
    expected = 0.5 + weight / (1.0 + weight) * (0.1 + slope)
    assert own.position[0] == pytest.approx(10.0 * expected)
    monkeypatch.setattr(readings, "all_known", lambda kind: two_families(0.0))
    both = read_joint("leg", "knee", Plain(np.array([1.0, 1.0])), "why").cue
    assert both.position[0] == pytest.approx(5.5)
    # each is .05 off, which is five of its spreads: a Birge ratio of sqrt 50
    assert np.sqrt(both.covariance[0, 0]) == pytest.approx(0.1 / np.sqrt(2) * np.sqrt(50.0))


@pytest.mark.parametrize(
    ("kind", "joints"),
    [
        ("trunk", {"pelvis", "neck", "head", "clavicle"}),
        ("trunk_and_leg", {"hip"}),
        ("trunk_and_arm", {"shoulder"}),
        ("leg", {"knee"}),
        ("arm", {"elbow"}),
        ("trunk_and_leg_invented", {"hip"}),
        ("trunk_and_arm_invented", {"shoulder"}),
        ("leg_invented", {"knee"}),
        ("arm_invented", {"elbow"}),
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
    assert abs(known_shapes("trunk_and_leg").joints["hip"].middle[0] - 0.14) < 0.02
    assert abs(known_shapes("trunk_and_arm").joints["shoulder"].middle[1] - 0.82) < 0.02
