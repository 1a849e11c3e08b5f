"""`measure.limb_record`: what is known of a branch."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.limb_record import Limb


def limb(radius):
    """A limb straight down, of a radius at each station."""
    line = np.linspace([0.05, 0.5, 0.0], [0.05, 0.05, 0.0], len(radius))
    return Limb("leg", "left", line, np.array(radius), line[0], line)


def test_a_fold_that_a_leg_hangs_by_is_none_of_it():
    """A leg under a tunic that is joined to the trunk by a fold begins where it has flesh."""
    leg = limb([0.004, 0.004, 0.005, 0.04, 0.035, 0.03, 0.03, 0.03, 0.04])
    kept = leg.without_thread()
    assert np.array_equal(kept.line, leg.line[3:])
    assert np.array_equal(kept.radius, leg.radius[3:])


@pytest.mark.parametrize("first", [0.01, 0.03, 0.06])
def test_a_limb_of_flesh_stays_whole(first):
    """A thigh slimmer than its shank, as of a doll, is no thread."""
    leg = limb([first, 0.03, 0.03, 0.03, 0.03])
    assert np.array_equal(leg.without_thread().line, leg.line)
