"""Traits dealt to the members of a family like cards, so that every kind comes up by its share."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

__all__ = ["deal"]


def deal(rng: np.random.Generator, shares: Mapping[str, int], count: int) -> list[str]:
    """A card for each of `count` members, each kind by its share, shuffled."""
    kinds, weights = list(shares), np.array(list(shares.values()), dtype=float)
    edges = np.round(np.cumsum(weights) / weights.sum() * count).astype(int)
    cards = np.searchsorted(edges, np.arange(count), side="right")
    return [kinds[i] for i in rng.permutation(cards)]
