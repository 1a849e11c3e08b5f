"""A trunk's measures written down by hand, with landmarks where an adult has them."""

from __future__ import annotations

import numpy as np

from autoplace.measure.trunk_shape import TrunkShape

CROTCH, CHIN = 0.48, 0.87
"""Heights of an adult's crotch and chin, fraction of stature (US Army 2012 survey)."""
BACK, FRONT = -0.07, 0.06


def a_trunk(lean: float = 0.0, shift: float = 0.0) -> TrunkShape:
    """A trunk of even depth from -0.07 to 0.06; its middle runs from x = `shift` at the crotch
    aside by `lean` up to the crown."""
    y = np.linspace(CROTCH, 1.0, 80)
    return TrunkShape(
        y=y,
        middle_x=shift + lean * (y - CROTCH) / (1.0 - CROTCH),
        width=np.full(80, 0.2),
        front=np.full(80, FRONT),
        back=np.full(80, BACK),
        crotch=np.array([shift, CROTCH, 0.0]),
        crown=np.array([shift + lean, 1.0, 0.0]),
        chin=np.array([shift, CHIN, FRONT]),
        neck=np.array([shift, 0.85, -0.01]),
        neck_radius=0.03,
        chin_seen=True,
    )
