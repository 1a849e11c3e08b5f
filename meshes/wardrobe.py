"""Clothes: grown from the skin they cover, or draped over it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .bones import Bones
from .params import FigureParams
from .shapes import Blend, Shape

__all__ = ["GARMENTS", "Wearer"]


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

    def legs(self) -> Shape:
        """Both legs and feet; they do not flow into one another."""
        each = [
            Blend([Blend([t, s], 0.012), f], 0.016)
            for t, s, f in zip(self.thighs, self.shanks, self.feet, strict=True)
        ]
        return Blend(each, 0.002)

    def arms(self) -> Shape:
        """Both arms and hands."""
        each = [
            Blend([Blend([u, f], 0.010), h], 0.008)
            for u, f, h in zip(self.uppers, self.fores, self.hands, strict=True)
        ]
        return Blend(each, 0.0)

    def whole(self) -> Shape:
        """The whole bare figure as one skin."""
        core = Blend([self.trunk, self.legs()], 0.022)
        core = Blend([core, self.arms()], 0.026)
        return Blend([core, Blend([self.neck, self.head], 0.014)], 0.020)

    def skin_parts(self, faces: int) -> list[tuple[str, Shape, int]]:
        """The parts of the skin that the outfit leaves to be seen."""
        return [("body", self.whole(), faces)]


GARMENTS: dict[str, Callable[[Wearer], tuple[str, Shape, float]]] = {}
