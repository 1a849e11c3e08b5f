"""Damaged files of every kind are read or refused in a sentence, within bounded time and memory."""

from __future__ import annotations

import pytest

from tests.bad_input.campaign import Campaign, run
from tests.examples import examples


def assert_clean(found: Campaign) -> None:
    assert [(f.reader, f.round, f.file, f.what) for f in found.faults] == []
    assert found.read > 0
    assert found.refused > found.read // 4  # the damage is felt


def test_some_hundred_damaged_files():
    """No crash, no hang, no memory without bound, no sentence that is not for users."""
    assert_clean(run(seed=11, rounds=examples(50)))


@pytest.mark.dataset
def test_some_thousand_damaged_files():
    """The same for longer."""
    assert_clean(run(seed=12, rounds=500))
