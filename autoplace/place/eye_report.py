"""What is known of a placed eye, as plain data."""

from __future__ import annotations

from typing import Any

from autoplace.measure.frame_record import Frame
from autoplace.measure.not_found import NotFound
from autoplace.place.eyes import EyePlace

__all__ = ["eye_report"]


def eye_report(eye: EyePlace | NotFound, frame: Frame) -> dict[str, Any] | None:
    """Radius, residual, share seen and spread of an eye; lengths in input units. None without one.

    `from` says what the eye was placed by: 'sphere', 'ellipsoid', 'box', 'face' or 'proportions'.
    """
    if isinstance(eye, NotFound):
        return None
    return {
        "from": eye.shape,
        "radius": eye.radius * frame.height,
        "residual": eye.residual * frame.height,
        "residual_over_radius": eye.residual / eye.radius if eye.radius > 0 else 0.0,
        "share_seen": eye.share_seen,
        "spread": eye.spread * frame.height,
        "spread_over_radius": eye.spread / eye.radius if eye.radius > 0 else 0.0,
        "look": eye.look_from or "forward",
    }
