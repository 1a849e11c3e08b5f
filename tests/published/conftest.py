"""Lets the tests of this folder ask for the open dataset as those of `tests/dataset` do."""

from tests.dataset.conftest import _dataset

__all__ = ["_dataset"]
