"""Places along a chain, held against curves whose length is known."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.respacing import chain_joints, evenly_spaced, with_chain
from tests.placed_figure import placed_figure

NAMES = ("pelvis", "spine_1", "spine_2", "spine_3", "chest", "neck")


def bow(angles) -> dict[str, np.ndarray]:
    """Joints on a circle of radius one at these angles, degrees."""
    turns = np.radians(angles)
    points = np.stack([np.zeros(len(turns)), np.sin(turns), np.cos(turns)], axis=1)
    return dict(zip(NAMES, points, strict=True))


def trunk(at: dict[str, np.ndarray]) -> Skeleton:
    joints = [
        Joint(name, above, at[name]) for name, above in zip(NAMES, (None, *NAMES[:-1]), strict=True)
    ]
    return Skeleton(tuple(joints))


@pytest.mark.parametrize("count", [2, 3, 4, 6, 9])
def test_joints_on_a_circle_lie_at_equal_angles(count):
    """Unevenly set joints of an arc come to lie on it (closed form) at equal steps of angle.

    The curve is straight where it begins and ends, which a circle is not: hence the tolerances.
    """
    at = bow([0.0, 8.0, 30.0, 40.0, 60.0, 75.0])
    places = evenly_spaced(trunk(at), "spine", count, at)
    assert np.linalg.norm(places, axis=1) == pytest.approx(np.ones(count), abs=2e-3)
    angles = np.degrees(np.arctan2(places[:, 1], places[:, 2]))
    assert angles == pytest.approx(np.linspace(8.0, 60.0, count), abs=0.3)
    assert np.array_equal(places[0], at["spine_1"])
    assert np.array_equal(places[-1], at["chest"])


def test_joints_on_a_line_lie_at_equal_steps():
    """To rounding, also when they were set unevenly."""
    at = {name: np.array([0.0, y, 2.0 * y]) for name, y in zip(NAMES, (0, 1, 2, 5, 9, 11))}  # noqa: B905
    places = evenly_spaced(trunk(at), "spine", 5, at)
    assert places[:, 1] == pytest.approx([1, 3, 5, 7, 9], abs=1e-9)


def test_a_spine_of_the_chest_alone_is_divided_from_the_pelvis():
    """There is no first joint to keep, so all lie evenly between pelvis and chest."""
    short = with_chain(placed_figure(), "spine", 1)
    assert [joint.name for joint in chain_joints(short, "spine")] == ["chest"]
    long = with_chain(short, "spine", 3)
    points = [long[name].position for name in ("pelvis", "spine_1", "spine_2", "chest")]
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert np.ptp(steps) < 0.01 * steps.mean()
    assert np.array_equal(long["chest"].position, placed_figure()["chest"].position)


def test_new_joints_say_where_they_are_from():
    """They have the evidence 'respaced' and a spread between their neighbours'; the others keep
    all that spoke for them."""
    long = with_chain(placed_figure(), "spine", 5)
    spreads = [placed_figure()[name].spread for name in ("spine_1", "spine_2", "chest")]
    for name in ("spine_2", "spine_3", "spine_4"):
        (evidence,) = long[name].evidence
        assert (evidence.kind, evidence.weight) == ("respaced", 1.0)
        assert min(spreads) <= long[name].spread <= max(spreads)
    assert long["chest"].evidence == placed_figure()["chest"].evidence


def test_what_hung_from_a_joint_that_is_gone_hangs_from_the_end():
    """A tail on the second spine joint hangs from the chest when that joint is gone."""
    tail = Joint("tail", "spine_2", np.array([0.0, 0.66, -0.2]))
    figure = placed_figure().with_joints((*placed_figure().joints, tail))
    assert with_chain(figure, "spine", 2)["tail"].parent == "chest"
    assert with_chain(figure, "spine", 4)["tail"].parent == "spine_2"


def test_joints_on_top_of_one_another_are_spaced_too():
    """They lie where they lie; nothing is divided by nothing."""
    for spot in (0.0, 1.0):
        at = {name: np.full(3, spot * (name == "chest")) for name in NAMES}
        places = evenly_spaced(trunk(at), "spine", 4, at)
        assert np.all(np.isfinite(places))
        assert np.array_equal(places[-1], at["chest"])


def test_a_chain_that_branches_is_refused():
    """A spine joint must hang from the one below it."""
    joints = tuple(
        Joint(j.name, "pelvis" if j.name == "chest" else j.parent, j.position)
        for j in placed_figure()
    )
    with pytest.raises(SkeletonError, match="'chest' should hang from 'spine_2'"):
        chain_joints(Skeleton(joints), "spine")
    headless = placed_figure().with_joints(placed_figure().joints[:5])
    with pytest.raises(SkeletonError, match="no 'head'"):
        chain_joints(headless, "neck")
