"""What hangs from a belt is no arm: flaps of a loincloth, armour of the thighs, pouches.

Flaps may be longer than what shows of an arm, and a narrow waist may pass for the neck. An arm
leaves the trunk higher and reaches farther, and over it the trunk goes on only as neck and head;
where that does not show, it is thicker, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.solid import Solid

__all__ = ["Hanging", "are_twins", "belted", "breadths"]

FloatArray = NDArray[np.float64]

THROAT, THROAT_HALF = (0.3, 0.93), 0.12
"""Where a neck is looked for and how far aside, fractions of height (common practice, no
source)."""
SOME_THROAT, UNDER_HEAD = 1.2, 0.15
"""How many times broader a figure is above and below a neck that shows only by the arms that leave
below it; and what is above, a head, as a share of the breadth of the trunk at least: knobs on a
crown have less (common practice, no source)."""
BELT = 0.65
"""Share of the way from where the legs part up to where the arms leave below which a belt lies: the
navel is at a half, an arm's upper end at .9 (de Leva 1996 from memory: omphalion .42 of the trunk
from the hips)."""
SHOWN_ARM = 0.25
"""Cells of an arm below a neck over those of a flap, at least: of a short arm under a large head no
more than the forearm may be clear of the trunk (further deals of the box family)."""
LIKE = 0.04
"""Heights and lengths of a flap and its twin differ by less, fraction of height."""


@dataclass(frozen=True)
class Hanging:
    """What leaves the trunk to one side, working frame."""

    side: str | None
    begins: float
    """Height of its upper end."""
    leaves: float
    """Height at which it leaves the trunk."""
    reach: float
    """Of its end, from the trunk's middle where it leaves."""
    aside: float
    """How far it reaches to its side."""
    cells: int


def breadths(solid: Solid) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Heights where a neck may be, the largest cut below and above each, in cells, and how many
    times as large as its own the lesser of these is."""
    y = solid.origin[1] + np.arange(solid.inside.shape[1]) * solid.cell
    x = solid.origin[0] + np.arange(solid.inside.shape[0]) * solid.cell
    about = (y > THROAT[0]) & (y < THROAT[1])
    area = solid.inside[np.abs(x) < THROAT_HALF].sum(axis=(0, 2))[about].astype(np.float64)
    under, over = np.maximum.accumulate(area), np.maximum.accumulate(area[::-1])[::-1]
    return y[about], under, over, np.minimum(under, over) / np.maximum(area, 1.0)


def belted(
    arms: Sequence[Hanging],
    things: Sequence[Hanging],
    solid: Solid,
    neck: float,
    parting: float | None,
) -> NDArray[np.bool_]:
    """Which things hang from a belt below the arms.

    Args:
        arms: what may be an arm. things: what may hang from a belt, among these or others.
        solid: the body. neck: its height as far as it shows, infinite where it does not.
        parting: height at which the legs part, None where it does not show.

    Returns:
        (n,) True for each thing that does.
    """
    y, under, over, clear = breadths(solid)
    throats = y[(clear >= SOME_THROAT) & (over >= UNDER_HEAD * under)]
    highest = float(throats.max(initial=-np.inf))
    floor = parting or 0.0
    hung = np.zeros(len(things), dtype=bool)
    longer: list[Hanging] = []
    for index, thing in enumerate(things):
        for arm in arms:
            if arm.side != thing.side or arm.reach <= thing.reach:
                continue
            if thing.begins >= floor + BELT * (arm.leaves - floor):
                continue
            below_neck = arm.begins < neck < np.inf and arm.cells > SHOWN_ARM * thing.cells
            larger = arm.cells > thing.cells and arm.aside > thing.aside
            if below_neck or (arm.begins < highest and larger):
                hung[index] = True
                longer.append(arm)
    flaps = [thing for thing, low in zip(things, hung, strict=True) if low]
    for index, thing in enumerate(things):
        # the other side's arm may be one with a staff, and not show
        if not any(thing is arm for arm in longer):
            hung[index] |= any(are_twins(thing, flap) for flap in flaps)
    return hung


def are_twins(one: Hanging, other: Hanging) -> bool:
    """Are two things flaps of either side, of one height and length?"""
    near = abs(one.begins - other.begins) < LIKE and abs(one.reach - other.reach) < LIKE
    return near and one.side != other.side
