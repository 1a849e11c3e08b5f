"""Fetches the dataset for the tests that need it; leaves the long run for when it is asked for."""

from __future__ import annotations

import os
import warnings

import pytest

from tests.dataset import fetch


@pytest.fixture(scope="session")
def _dataset() -> None:
    """Skips loudly when the dataset cannot be had; in CI that is a failure."""
    try:
        fetch.arrays()
    except fetch.DatasetMissing as error:
        if os.environ.get("CI"):
            pytest.fail(f"THE OPEN DATASET IS MISSING: {error}")
        warnings.warn(
            f"THE OPEN DATASET IS MISSING, NOTHING WAS TESTED ON IT: {error}", stacklevel=1
        )
        pytest.skip(f"the open dataset is missing: {error}")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Runs the tests marked `dataset` only when they are selected with -m, or in CI."""
    if "dataset" in config.option.markexpr or os.environ.get("CI"):
        return
    for item in items:
        if item.get_closest_marker("dataset"):
            item.add_marker(pytest.mark.skip(reason="the whole dataset: ask with -m dataset"))
