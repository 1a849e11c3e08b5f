"""What several folders of tests share: the open dataset, and the long runs left for later."""

from __future__ import annotations

import os

import pytest

from tests.kept_files import skip_loudly

WHOLE = {
    "dataset": "the whole dataset",
    "family": "the whole family",
    "wide": "the whole spread of cases",
}
"""Marked tests that only run when they are selected with -m, or in CI."""


@pytest.fixture(scope="session")
def _dataset() -> None:
    """Skips loudly when the dataset cannot be had; in CI that is a failure."""
    from tests.dataset import fetch

    try:
        fetch.arrays()
    except fetch.DatasetMissing as error:
        skip_loudly("open dataset", error)


@pytest.fixture
def placing_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of what is done with a placing: equal characters are placed once in a run."""
    from tests.placed_once import USERS, place_once

    for module in USERS:
        monkeypatch.setattr(f"{module}.place", place_once)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leaves the long runs out unless they are asked for."""
    if os.environ.get("CI"):
        return
    for mark, what in WHOLE.items():
        if mark in config.option.markexpr:
            continue
        for item in items:
            if item.get_closest_marker(mark):
                item.add_marker(pytest.mark.skip(reason=f"{what}: ask with -m {mark}"))
