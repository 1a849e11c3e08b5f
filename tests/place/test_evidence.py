"""`place.evidence`: the decision against products of Gaussians worked out another way."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.place.evidence import (
    CENTRELINE_SPREAD,
    FLOOR,
    HEAVY_TAILED,
    TAIL,
    Cue,
    along,
    combine,
    cue,
    on_line,
)
from tests.measure.surfaces import rotation


def random_cues(count: int, seed: int) -> list[Cue]:
    """Cues with full covariances, of positions and spreads as joints have them."""
    rng = np.random.default_rng(seed)
    cues = []
    for number in range(count):
        turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        spread = rng.uniform(0.005, 0.05, size=3)
        covariance = turn @ np.diag(spread**2) @ turn.T
        cues.append(Cue(f"kind_{number}", rng.normal(scale=0.05, size=3), covariance, "note"))
    return cues


def one_after_another(cues: list[Cue]) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance by updating with one cue at a time (the gain form, without inverses of
    the cues' own covariances)."""
    mean, covariance = cues[0].position, cues[0].covariance
    for c in cues[1:]:
        gain = covariance @ np.linalg.inv(covariance + c.covariance)
        mean = mean + gain @ (c.position - mean)
        covariance = covariance - gain @ covariance
    return mean, covariance


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_the_place_is_that_of_updating_with_one_cue_at_a_time(count):
    """The product of the beliefs is the same as learning them one after another."""
    cues = random_cues(count, count)
    mean, covariance = one_after_another(cues)
    placed = combine(cues)
    np.testing.assert_allclose(placed.position, mean, atol=1e-12)
    own = np.sqrt(np.trace(covariance) / 3.0)
    assert placed.spread == pytest.approx(own * max(placed.disagreement, 1.0), rel=1e-9)


def test_two_round_cues_are_the_textbook_product():
    """Spreads 3 and 4 give weights 16/25 and 9/25 and, when they agree, a spread of 12/5."""
    at = np.array([1.0, 2.0, 3.0])
    placed = combine([cue("a", at, 0.03, ""), cue("b", at + np.array([0.005, 0, 0]), 0.04, "")])
    assert [e.weight for e in placed.evidence] == pytest.approx([16 / 25, 9 / 25])
    np.testing.assert_allclose(placed.position, at + np.array([0.005 * 9 / 25, 0, 0]), atol=1e-15)
    assert placed.spread == pytest.approx(0.024)
    assert placed.disagreement < 1.0


@pytest.mark.parametrize("apart", [0.01, 0.05, 0.2, 1.0])
def test_disagreement_is_the_birge_ratio(apart):
    """Two round cues a distance d apart have the ratio sqrt(d^2 / (s^2 + t^2) / 3), and beyond one
    the spread grows by it."""
    s, t = 0.03, 0.04
    placed = combine([cue("a", np.zeros(3), s, ""), cue("b", np.array([0, apart, 0]), t, "")])
    ratio = np.sqrt(apart**2 / (s**2 + t**2) / 3.0)
    assert placed.disagreement == pytest.approx(ratio)
    assert placed.spread == pytest.approx(0.024 * max(ratio, 1.0))


def test_cues_that_scatter_as_they_claim_have_a_ratio_of_one():
    """Over many draws of four cues with their own scatter, the mean square ratio is one."""
    rng = np.random.default_rng(11)
    squares = []
    for _ in range(400):
        spreads = rng.uniform(0.01, 0.05, size=4)
        cues = [cue("x", rng.normal(scale=s, size=3), s, "") for s in spreads]
        squares.append(combine(cues).disagreement ** 2)
    # the standard error of the mean is sqrt(2 / 9 / 400) = .024
    assert np.mean(squares) == pytest.approx(1.0, abs=0.1)


def test_one_cue_alone_is_the_decision():
    """With a single cue the place, the spread and the whole weight are its own."""
    placed = combine([cue("only", np.array([0.1, 0.2, 0.3]), [0.01, 0.02, 0.02], "why")])
    np.testing.assert_allclose(placed.position, [0.1, 0.2, 0.3])
    assert placed.spread == pytest.approx(np.sqrt((1 + 4 + 4) / 3) * 0.01)
    assert placed.disagreement == 1.0
    (evidence,) = placed.evidence
    assert (evidence.kind, evidence.note, evidence.weight) == ("only", "why", 1.0)


def test_a_line_and_a_level_meet_where_they_cross():
    """A cue sure across a line and one sure in height decide on the point of the line there."""
    direction = np.array([1.0, 2.0, -0.5]) / np.linalg.norm([1.0, 2.0, -0.5])
    line = along("axis", np.array([0.1, 0.1, 0.0]), direction, 1.0, 1e-4, "")
    level = cue("level", np.array([0.0, 0.5, 0.0]), [1.0, 1e-4, 1.0], "")
    expected = np.array([0.1, 0.1, 0.0]) + direction * (0.4 / direction[1])
    np.testing.assert_allclose(combine([line, level]).position, expected, atol=1e-4)


def test_along_is_surer_across_than_along():
    """The covariance of a cue along a direction has its spreads there and across, for any length
    of the direction handed in."""
    direction = np.array([0.0, 3.0, 4.0])
    covariance = along("a", np.zeros(3), direction, 0.08, 0.02, "").covariance
    unit = direction / 5.0
    assert unit @ covariance @ unit == pytest.approx(0.08**2)
    for across in ([1.0, 0, 0], np.cross(unit, [1.0, 0, 0])):
        assert across @ covariance @ np.array(across) == pytest.approx(0.02**2)
    np.testing.assert_allclose(covariance, covariance.T)


def test_on_line_lies_on_the_line_and_points_along_it():
    """A cue at an arc length is on the polyline there, unsure along its direction."""
    line = np.array([[0, 0, 0], [0, -1, 0], [0, -2, 0], [0.5, -2, 0], [1.0, -2, 0]], dtype=float)
    arc = np.array([0, 1, 2, 2.5, 3.0])
    found = on_line("bend", line, arc, 0.7, 0.05, "")
    np.testing.assert_allclose(found.position, [0, -0.7, 0])
    np.testing.assert_allclose(
        np.diag(found.covariance), np.square([CENTRELINE_SPREAD, 0.05, CENTRELINE_SPREAD])
    )
    # at the corner the direction is that of the chord through it
    corner = on_line("bend", line, arc, 2.0, 0.05, "").covariance
    chord = np.array([1.0, -1.0, 0]) / np.sqrt(2)
    assert chord @ corner @ chord == pytest.approx(0.05**2)


@pytest.mark.parametrize("kind", HEAVY_TAILED)
def test_a_doubtful_cue_counts_less_the_farther_it_is_off(kind):
    """Beside a measurement of the same spread it counts 1 / (1 + d * d / 2 / TAIL), d being how
    many of these spreads it is off: one third for d = 4, nearly all of it when the two agree."""
    measured = cue("limb_axis", np.zeros(3), 0.01, "")
    for off in (0.0, 0.01, 0.04, 0.3):
        doubtful = cue(kind, np.array([0.0, off, 0.0]), 0.01, "")
        believed = 1.0 / (1.0 + (off / 0.01) ** 2 / 2.0 / TAIL)
        decided = combine([measured, doubtful])
        assert decided.position[1] == pytest.approx(off * believed / (1.0 + believed))
        assert decided.evidence[1].weight == pytest.approx(believed / (1.0 + believed))


def test_order_of_the_cues_is_free():
    """Cues in another order give the same place, spread and weights."""
    cues = random_cues(4, 7)
    one, other = combine(cues), combine(cues[::-1])
    np.testing.assert_allclose(one.position, other.position, atol=1e-14)
    assert one.spread == pytest.approx(other.spread)
    assert [e.weight for e in one.evidence] == pytest.approx(
        [e.weight for e in other.evidence][::-1]
    )


def test_the_same_cue_twice_halves_the_variance():
    """Two equal cues are one with a spread smaller by the root of two, each of half weight."""
    (one,) = random_cues(1, 3)
    single, double = combine([one]), combine([one, one])
    assert double.spread == pytest.approx(single.spread / np.sqrt(2))
    assert [e.weight for e in double.evidence] == pytest.approx([0.5, 0.5])
    assert double.disagreement == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_weights_sum_to_one_and_turning_turns_the_decision(seed):
    """Weights add up to one, none is negative, and a turned set of cues decides on the turned
    place with the same spread."""
    cues = random_cues(3, 100 + seed)
    turn = rotation((1, 2, -1), 65.0)
    shift = np.array([0.3, -0.2, 0.1])
    moved = [
        Cue(c.kind, turn @ c.position + shift, turn @ c.covariance @ turn.T, c.note) for c in cues
    ]
    one, other = combine(cues), combine(moved)
    assert sum(e.weight for e in one.evidence) == pytest.approx(1.0)
    assert min(e.weight for e in one.evidence) >= 0.0
    np.testing.assert_allclose(other.position, turn @ one.position + shift, atol=1e-12)
    assert other.spread == pytest.approx(one.spread)


def test_evidence_keeps_each_cue_s_own_place_and_spread():
    """The record holds where each cue alone would put the joint, and how sure it was."""
    cues = random_cues(3, 42)
    for c, e in zip(cues, combine(cues).evidence, strict=True):
        assert np.array_equal(e.position, c.position)
        assert e.spread == pytest.approx(np.sqrt(np.trace(c.covariance) / 3.0))
        assert (e.kind, e.note) == (c.kind, c.note)


def test_no_decision_is_surer_than_the_grid():
    """However sure the cues, the spread is never below a ten-thousandth of the height."""
    assert combine([cue("a", np.zeros(3), 1e-7, "")]).spread == FLOOR == 1e-4


def test_no_cue_is_written_to():
    """Positions and covariances handed in stay as they are."""
    cues = random_cues(3, 9)
    for c in cues:
        c.position.setflags(write=False)
        c.covariance.setflags(write=False)
    one, two = combine(cues), combine(cues)
    assert one.position.tobytes() == two.position.tobytes()
