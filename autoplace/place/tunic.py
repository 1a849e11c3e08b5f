"""Is where the legs part the hem of a tunic? Legs that come out of one are nearly as broad as it.

No single sign tells: robots and figures of few faces have thin legs under a broad seat, trousers
fill a tunic without a step, and big heads go with low crotches. Each is worth some of the odds, and
what is at stake is where a figure with such a head has its crotch. A tunic makes the trunk longer,
but not the arms.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.data import template_names
from autoplace.measure.hem_step import HemStep
from autoplace.place.template import Proportion, load_template

__all__ = ["arms_sign", "hem_for_crotch", "hem_odds"]

ODDS = {
    "height": 0.85,
    "area": 4.5,
    "broad": 3.0,
    "gap": 1.7,
    "head": -4.2,
    "arms": -3.65,
    "none": -4.2,
}
"""Natural logarithm of the odds for each unit of: what the height of the parting is worth; the
logarithms of the steps in area and breadth; the gap between the legs; the head's share of the
height; the logarithm of the arms' reach over the trunk; and of no sign at all (logistic regression
on our own invented figures, of boxes, deals 12, 41 and 44, and on the dataset's tuning bodies,
2026-12-01: tests.family.learn_tunics)."""
SHARE = 0.2
"""Share of all figures whose legs part at a hem (common practice, no source); hems and crotches
counted alike in what was learned."""
WIDEST_GAP = 0.5
"""No hem is told where the gap is wider than any of these figures has it in a tunic, .45: what
stands on legs so far apart may be a belly."""
REACHES = (0.6, 1.6)
"""Arms shorter or longer than this, over the trunk, tell no more: hidden in part, or a staff in
one's hand (common practice, no source)."""
MOST_WORTH = 4.0
"""Most that the height of the parting is worth, natural logarithm."""
TALLEST = 9.0
"""A head smaller than a ninth of the height was not read well, and tells nothing (nine heads are
the most of any figure by drawing convention)."""
LONGEST_TUNIC = 1.0 / 3.0
"""A hem is as likely anywhere from this share of the crotch's height up to the crotch."""
HEIGHTS = np.linspace(0.05, 0.6, 111)
"""Heights of a crotch that are weighed, fraction of height."""


def hem_odds(step: HemStep, heads_tall: float, parting: float) -> float:
    """Natural logarithm of the odds that legs part at a hem rather than at the crotch; minus
    infinity where their parting is no lower than such a head lets expect, or they are far apart.

    Args:
        step: how the body changes there. heads_tall: height over head height.
        parting: height at which the legs part, fraction of height.
    """
    worth = hem_for_crotch(heads_tall, parting)
    if worth <= 0.0 or step.gap > WIDEST_GAP:
        return -np.inf
    return float(
        np.log(SHARE / (1.0 - SHARE))
        + ODDS["none"]
        + ODDS["height"] * worth
        + ODDS["area"] * np.log(step.area)
        + ODDS["broad"] * np.log(max(step.broad, 1.0))
        + ODDS["gap"] * step.gap
        + ODDS["head"] / heads_tall
        + ODDS["arms"] * arms_sign(step)
    )


def arms_sign(step: HemStep) -> float:
    """Logarithm of how far the arms reach over the trunk's length; none without arms."""
    return 0.0 if step.reach is None else float(np.log(np.clip(step.reach, *REACHES)))


def hem_for_crotch(heads_tall: float, parting: float) -> float:
    """How much better a hem than a crotch explains this height of the parting in a figure with such
    a head, by all templates: natural logarithm of their likelihoods' ratio."""
    if heads_tall > TALLEST:
        return 0.0
    hem = crotch = 0.0
    # a hem at this height hangs from any crotch above it that is not too far above
    density = np.where(
        (parting < HEIGHTS) & (parting > HEIGHTS * LONGEST_TUNIC),
        1.0 / ((1.0 - LONGEST_TUNIC) * HEIGHTS),
        0.0,
    )
    for name in template_names():
        choice = load_template(name).choice
        fits = float(_likely(choice["heads_tall"], np.array(heads_tall)))
        crotch += fits * float(_likely(choice["crotch_height"], np.array(parting)))
        likely = _likely(choice["crotch_height"], HEIGHTS)
        hem += fits * float(np.trapezoid(likely * density, HEIGHTS))
    tiny = np.finfo(np.float64).tiny
    worth = np.log(max(hem, tiny)) - np.log(max(crotch, tiny))
    return float(np.clip(worth, -MOST_WORTH, MOST_WORTH))


def _likely(expected: Proportion, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Likelihood of measured values, of any shape, taken as Gaussian about what is expected."""
    away = (values - expected.value) / expected.spread
    return np.asarray(np.exp(-0.5 * away**2) / (expected.spread * np.sqrt(2.0 * np.pi)))
