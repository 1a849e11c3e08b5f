"""'Not found' as a value: what was looked for, and why it is not there."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["NotFound"]


@dataclass(frozen=True)
class NotFound:
    """Takes the place of a measurement that could not be made; false when asked."""

    what: str
    """What was looked for, such as 'left hand'."""
    why: str
    """The reason in plain words."""
    count: int = 0
    """How many were found, where it was the number that did not fit."""

    def __bool__(self) -> bool:
        """Always False, so that `if shape:` reads as `if it was found`."""
        return False

    def __str__(self) -> str:
        """The whole reason as one clause."""
        return f"{self.what} not found: {self.why}"
