"""The learned reading of a limb's profile."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.place.profile_reader import ProfileReader, load_reader


def reader():
    return ProfileReader(
        shares=np.array([0.4, 0.6]),
        mean=np.zeros(6),
        scale=np.full(6, 2.0),
        weight=np.array([0.01, 0.0, 0.0, 0.0, 0.0, -0.02]),
        share=0.5,
        spread=0.01,
        familiar=1.0,
        growth=2.0,
        source="by hand",
    )


def test_reading_is_linear():
    """Two standard deviations up in the first value move the joint by twice its weight."""
    share, spread = reader().read(np.array([4.0, 0, 0, 0, 0, 0]))
    assert share == pytest.approx(0.52)
    assert spread == pytest.approx(0.01)


def test_strange_profiles_are_less_sure():
    """Three standard deviations everywhere, power two: nine times the spread."""
    share, spread = reader().read(np.full(6, 6.0))
    assert share == pytest.approx(0.5 + 3 * 0.01 - 3 * 0.02)
    assert spread == pytest.approx(0.09)


def test_the_knee_is_where_people_have_it_on_a_usual_leg():
    """The mean profile puts the knee at .494 to .503 of hip to ankle (US Army 2012 survey; Winter
    2009 .499; ISO/IEC 19774-1 nominal figure .503), within a hundredth."""
    knee = load_reader("knee")
    share, spread = knee.read(knee.mean)
    assert 0.484 < share < 0.513
    assert 0.0 < spread < 0.02
    assert "young women" in knee.source
