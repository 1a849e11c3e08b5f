"""Leaves the run over the whole family for when it is asked for."""

from __future__ import annotations

import os

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Runs the tests marked `family` only when they are selected with -m, or in CI."""
    if "family" in config.option.markexpr or os.environ.get("CI"):
        return
    for item in items:
        if item.get_closest_marker("family"):
            item.add_marker(pytest.mark.skip(reason="the whole family: ask with -m family"))
