"""What mending changed, as plain records."""

from __future__ import annotations

from dataclasses import dataclass

from autoplace.skeleton.model import Skeleton

__all__ = ["Change", "Mended"]


@dataclass(frozen=True)
class Change:
    """One thing that was repaired."""

    joint: str
    """Its name after mending."""
    what: str
    """'order', 'name', 'axes' or 'place'."""
    before: str
    after: str
    why: str
    """Why there is one right answer."""


@dataclass(frozen=True)
class Mended:
    """A skeleton and what was repaired in it."""

    skeleton: Skeleton
    changes: tuple[Change, ...]
    """In the order they were made; empty when nothing was."""
