"""The bare figure, region by region, as clothes see it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .bones import FRONT, LEFT, UP, Bones
from .combine import Blend
from .params import FigureParams
from .shapes import Shape, Vec

__all__ = ["Wearer", "outline"]


@dataclass(frozen=True)
class Wearer:
    """The bare figure, region by region; lists hold the left one and the right one."""

    params: FigureParams
    bones: Bones
    trunk: Shape
    neck: Shape
    head: Shape
    uppers: list[Shape]
    fores: list[Shape]
    hands: list[Shape]
    thighs: list[Shape]
    shanks: list[Shape]
    feet: list[Shape]

    def leg(self, i: int) -> Shape:
        """One leg with its foot (0 left, 1 right)."""
        return Blend([Blend([self.thighs[i], self.shanks[i]], 0.012), self.feet[i]], 0.016)

    def arm(self, i: int, hand: bool = True) -> Shape:
        """One arm with its hand, or to the wrist."""
        if not hand:
            return Blend([self.uppers[i], self.fores[i]], 0.010)
        return Blend([Blend([self.uppers[i], self.fores[i]], 0.010), self.hands[i]], 0.008)

    def neck_and_head(self) -> Shape:
        """The head on its neck."""
        return Blend([self.neck, self.head], 0.014)

    def torso(self, sleeves: bool = True, legs: bool = True, hands: bool = True) -> Shape:
        """Trunk with the upper arms and thighs flowing into it, for clothes to grow from."""
        core: Shape = self.trunk
        if legs:
            # the legs do not flow into one another
            core = Blend([core, Blend([self.leg(0), self.leg(1)], 0.002)], 0.022)
        if sleeves:
            core = Blend([core, Blend([self.arm(0, hands), self.arm(1, hands)], 0.0)], 0.026)
        return core

    def whole(self, hands: bool = True) -> Shape:
        """The whole bare figure as one skin, with or without its hands."""
        return Blend([self.torso(hands=hands), self.neck_and_head()], 0.020)

    def flipped(self, i: int, at: Vec) -> Vec:
        """A point of a side's own frame, in the world."""
        return at * np.array([1.0 if i == 0 else -1.0, 1, 1])

    def along_arm(self, i: int, share: float) -> Vec:
        """A point on an arm: 0 shoulder, 1 elbow, 2 wrist."""
        arm = self.bones.arms[i]
        a, b = (arm.shoulder, arm.elbow) if share <= 1 else (arm.elbow, arm.wrist)
        t = share if share <= 1 else share - 1
        return self.flipped(i, a + t * (b - a))

    def along_leg(self, i: int, share: float) -> Vec:
        """A point on a leg: 0 hip, 1 knee, 2 ankle."""
        leg = self.bones.legs[i]
        a, b = (leg.hip, leg.knee) if share <= 1 else (leg.knee, leg.ankle)
        t = share if share <= 1 else share - 1
        return self.flipped(i, a + t * (b - a))

    def trunk_at(self, share: float) -> Vec:
        """A point in the middle of the trunk: 0 at the hips, 1 at the root of the neck."""
        low, high = self.bones.legs[0].hip[1], self.bones.trunk["neck"][1]
        return np.array([0.0, low + share * (high - low), 0.0])


def outline(shape: Shape, y: float) -> tuple[float, float, float]:
    """How far a shape reaches from the vertical axis at a height: to the side, ahead, behind."""
    steps = np.linspace(0.0, 0.45, 451)
    found = []
    for way in (LEFT, FRONT, -FRONT):
        value = shape.evaluate((steps[:, None] * way + y * UP).astype(np.float32))
        inside = np.flatnonzero(value < 0) if value is not None else np.zeros(0, dtype=int)
        found.append(float(steps[inside[-1]]) if len(inside) else 0.0)
    return found[0], found[1], found[2]
