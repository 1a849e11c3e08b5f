"""What an island was taken for, and why."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Verdict"]


@dataclass(frozen=True)
class Verdict:
    """A role with its reason."""

    role: str
    """One of `autoplace.mesh.pieces.ROLES`."""
    reason: str
    """Why, in a few plain words."""
    confidence: float
    """0 to 1."""
    side: str | None = None
    """'left' or 'right' for an eyeball."""
