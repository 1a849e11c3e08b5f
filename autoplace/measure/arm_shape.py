"""One arm as a line of sections from the shoulder to the fingertips, and its armpit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.arm_gap import arm_alone
from autoplace.measure.limb_record import Limb
from autoplace.measure.sections import (
    ROUGH_GRID,
    Sections,
    arc_lengths,
    cut_sections,
    over_gaps,
    resample_line,
    smooth_line,
)
from autoplace.measure.solid import Solid
from autoplace.measure.wrist import Wrist, find_wrist

__all__ = ["ArmShape", "find_armpit", "fit_axis", "measure_arm"]

FloatArray = NDArray[np.float64]

STATIONS = 56
CENTRED_SHARE = 0.8
"""Share of the line that is moved to the middle of its sections; the rest is fingers."""
ARM_SHARE = 0.85
"""Share of the line in which a gap may part rigid parts; beyond it, fingers do."""
LEAST_RADIUS = 0.004
"""Of an arm that is thinner than cells can tell, fraction of height: half a body cell."""
OPEN_RADII = 1.7
"""The armpit is where the arm's underside is this many arm radii away: trunk, not arm."""
WIDE_OPEN_RADII = 2.4
"""Where the underside is farther, between two places looked at, it counts as so many radii: the
step is about halfway then."""


@dataclass(frozen=True)
class ArmShape:
    """One arm, working frame."""

    side: str
    sections: Sections
    """From the first guess of the shoulder to the longest finger's tip."""
    wrist: Wrist
    """Where along the sections the hand begins."""
    cells: FloatArray
    """(m, 3) cell centres of the arm beyond the trunk."""
    skin: FloatArray | None = None
    """(k, 3, 3) corners of its triangles where only the skin tells it from the body, see `Limb`."""

    @property
    def tip(self) -> FloatArray:
        """(3,) end of the longest finger."""
        return np.asarray(self.sections.centre[-1])

    def at(self, arc: float) -> FloatArray:
        """(3,) point of the line of section centres at an arc length."""
        line, total = self.sections.centre, self.sections.arc
        return np.array([np.interp(arc, total, line[:, a]) for a in range(3)])


def measure_arm(solid: Solid, limb: Limb, shoulder: FloatArray) -> ArmShape:
    """Cut an arm into sections from a first guess of the shoulder to the tip, and find the wrist.

    Args:
        solid: the body, working frame. limb: the arm's branch.
        shoulder: (3,) first guess of the joint, within a few percent of the height.
    """
    if limb.skin is not None:
        solid = arm_alone(solid, limb.skin, limb.line[0])
    rough = smooth_line(limb.line, 2)
    away = np.linalg.norm(rough - shoulder, axis=1)
    begin = int(np.argmax(away > 0.25 * away.max()))
    line = np.concatenate([shoulder[None], rough[begin:]])
    way = arc_lengths(line)
    upper = max(int(STATIONS * way[1] / way[-1]), 2)  # stations that the branch does not show
    inner = slice(len(limb.radius) // 8, max(len(limb.radius) // 2, 2))
    reach = 2.3 * float(np.median(limb.radius[inner]))
    hint = np.array([0.0, 0.0, 1.0])
    line = resample_line(line, STATIONS)
    start = shoulder
    for _ in range(3):
        sections = over_gaps(cut_sections(solid, line, reach, hint, ROUGH_GRID), ARM_SHARE)
        good = (sections.area > 0) & _clear_of_trunk(sections.open_edge, upper)
        # near the trunk the cut takes in more than the arm
        good &= sections.radius < 1.5 * np.median(sections.radius[STATIONS // 4 : STATIONS // 2])
        # among fingers the nearest region may be another finger
        good &= np.arange(STATIONS) < CENTRED_SHARE * STATIONS
        moved = np.where(good[:, None], sections.centre, line)
        moved[0] = start
        line = resample_line(smooth_line(moved, 2), STATIONS)
    sections = over_gaps(cut_sections(solid, line, reach, hint), ARM_SHARE)
    # a cut that takes in the trunk has its middle there, which is no place of the arm
    typical = float(np.median(sections.radius[STATIONS // 4 : STATIONS // 2]))
    astray = np.linalg.norm(sections.centre - line, axis=1) > typical
    astray |= ~_clear_of_trunk(sections.open_edge, upper)
    centre = np.where(astray[:, None], line, sections.centre)
    sections = replace(sections, centre=centre)
    return ArmShape(limb.side or "left", sections, find_wrist(sections), limb.cells, limb.skin)


def _clear_of_trunk(open_edge: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """(n,) closed sections beyond the last of the first `count` that run on into the trunk: before
    it, a cut that closes goes through a plate or a collar sooner than through the arm."""
    into = np.flatnonzero(open_edge[:count])
    return ~open_edge & (np.arange(len(open_edge)) > (into[-1] if len(into) else -1))


def fit_axis(
    shape: ArmShape, low: float, high: float
) -> tuple[FloatArray, FloatArray, float, float]:
    """Straight axis through the section centres between two arc lengths.

    Returns:
        Point on the axis (3,), unit direction toward the hand (3,), median radius of the sections
        used, and the number of sections used over the number asked for.
    """
    sections = shape.sections
    arc = sections.arc
    asked = (arc >= low) & (arc <= high)
    filled = sections.area > 0
    middle_third = filled & (arc > 0.3 * arc[-1]) & (arc < 0.6 * arc[-1])
    chosen = middle_third if middle_third.any() else filled
    typical = float(np.median(sections.radius[chosen])) if chosen.any() else LEAST_RADIUS
    sound = asked & filled & ~sections.open_edge & (sections.radius < 2.0 * typical)
    if sound.sum() < 3:
        a, b = shape.at(low), shape.at(high)
        direction = (b - a) / max(float(np.linalg.norm(b - a)), 1e-300)
        return 0.5 * (a + b), direction, typical, 0.0
    points = sections.centre[sound]
    middle = points.mean(axis=0)
    direction = np.linalg.svd(points - middle)[2][0]
    direction = direction * np.sign(direction @ (points[-1] - points[0]))
    radius = float(np.median(sections.radius[sound]))
    return middle, direction, radius, float(sound.sum() / max(asked.sum(), 1))


def find_armpit(
    solid: Solid, point: FloatArray, direction: FloatArray, radius: float, trunk: FloatArray
) -> FloatArray | None:
    """The hollow where the arm's underside meets the trunk.

    From the upper arm's axis, rays run toward the trunk side; where they leave the arm after about
    its radius it is arm, where they run on it is trunk. The armpit is the step between.

    Args:
        solid: the body. point, direction, radius: the upper arm's axis (toward the hand) and
            radius. trunk: (3,) a point inside the trunk.

    Returns:
        (3,) the hollow on the arm's underside, or None where no step shows (arm apart or hidden).
    """
    inward = trunk - point
    inward = inward - (inward @ direction) * direction
    inward = inward / max(float(np.linalg.norm(inward)), 1e-300)
    across = np.cross(direction, inward)
    length = 0.16
    stations = np.arange(0.06, -length, -0.0025)
    start = point + stations[:, None] * direction
    steps = np.arange(1, 41, dtype=np.float64) * (0.1 * radius)
    exits = []
    for angle in np.radians((-25.0, 0.0, 25.0)):
        ray = np.cos(angle) * inward + np.sin(angle) * across
        exits.append(_exit(solid.sample(start[:, None] + steps[None, :, None] * ray), steps))
    reach = np.min(exits, axis=0) / radius
    trunk_there = reach > OPEN_RADII
    # a step counts when the trunk goes on for a while behind it
    steady = trunk_there & np.roll(trunk_there, -1) & np.roll(trunk_there, -2)
    steady[-2:] = False
    found = np.flatnonzero(steady)
    if len(found) == 0 or found[0] == 0:
        return None
    row = int(found[0])
    before, here = (min(float(reach[k]), WIDE_OPEN_RADII) for k in (row - 1, row))
    share = float(np.clip((here - OPEN_RADII) / max(here - before, 1e-9), 0.0, 1.0))
    place = stations[row] + share * (stations[row - 1] - stations[row])
    return np.asarray(point + place * direction + radius * inward)


def _exit(cover: FloatArray, steps: NDArray[np.floating]) -> FloatArray:
    """(n,) how far along each ray coverage (n, k) first falls through one half; the last step where
    it does not."""
    outside = cover <= 0.5
    first = np.argmax(outside, axis=1)
    rows = np.arange(len(cover))
    inner, outer = cover[rows, np.maximum(first - 1, 0)], cover[rows, first]
    share = np.clip((inner - 0.5) / np.maximum(inner - outer, 1e-6), 0.0, 1.0)
    place = steps[np.maximum(first - 1, 0)] + share * (steps[1] - steps[0])
    place = np.where(first == 0, steps[0], place)
    return np.where(outside.any(axis=1), place, steps[-1])
