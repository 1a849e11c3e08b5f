"""One leg as a line of sections, its shank, and its foot in a frame of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.bends import LineBend, find_bend
from autoplace.measure.limb_record import Limb
from autoplace.measure.limb_skin import LimbSkin, beyond, end_of, limb_skin, share_level
from autoplace.measure.sections import Sections, smooth_line, trace_limb
from autoplace.measure.solid import Solid

__all__ = ["Foot", "FootSlice", "LegShape", "measure_leg"]

FloatArray = NDArray[np.float64]

STATIONS = 48
SHANK_SPAN = (0.5, 0.74)
"""Share of the way from crotch to toe tip that surely is shank: with thigh .20 S below the crotch,
shank .25 S and foot beyond the ankle .12 S (references 1.2) the shank runs from .35 to .79."""
SHANK_SHARE = (0.54, 0.92)
"""Share of the way from crotch to ankle that surely is shank, by the same lengths."""
TURN_SPAN = (0.4, 0.5, 0.95)
"""The turn into the foot is fitted to the line beyond the first share of it, which leaves out a
bent knee, and looked for between the other two."""
CLEAR_TURN = np.radians(40.0)
"""A leg's line that turns by this much there turns into the foot; a foot that is stretched does
not (plantar flexion leaves 90 - 50 = 40 degrees, references 7.2)."""
FALLS, LEVEL = 0.6, 0.35
"""How much of its length a leg's line goes down to the foot at least, and from there at most as it
runs along a foot on the floor (own synthetic characters)."""
LEAST_RUN = 0.12
"""A level run at the line's end is a foot from this share of the line on (own synthetic
characters)."""
LATE_TURN = 0.08
"""A turn is not the one into the foot if it comes this much later than the fall ends, share of the
line (own synthetic characters)."""
THIGH_SHARE = (0.06, 0.34)
"""Share of that way that surely is thigh, by the same lengths."""
UPRIGHT_LIMIT = 0.06
"""A foot whose lowest point is this near to the floor, fraction of height, is taken to stand on
it (heels and soles are lower; a raised foot is higher)."""
FORWARD_TRUST = 0.3
"""How much a foot is expected to point where the character faces, against its own shape: a short
thick boot looks the same from both ends (common practice, no source)."""
FOOT_SHARE = 0.5
"""A foot is looked for in the part of the leg within this share of the leg's length from the
sole."""


@dataclass(frozen=True)
class Foot:
    """A foot in its own frame, working units."""

    heel: FloatArray
    """(3,) rearmost point at sole level."""
    toe: FloatArray
    """(3,) foremost point at sole level."""
    along: FloatArray
    """(3,) unit, heel to toe."""
    up: FloatArray
    """(3,) unit, out of the foot's top."""
    length: float
    """Heel to toe."""
    on_floor: bool
    """True when the foot stands on the floor."""

    def point(self, share: float, height: float, side: float = 0.0) -> FloatArray:
        """A point at a share of the length from the heel, `height` above the sole."""
        across = np.cross(self.up, self.along)
        return np.asarray(
            self.heel + share * self.length * self.along + height * self.up + side * across
        )


@dataclass(frozen=True)
class FootSlice:
    """A slice across a foot; lengths are working units, from the middle line heel to toe."""

    edges: tuple[float, float]
    """Sideways (along up x along) where the foot begins and ends, but for a fiftieth of it."""
    top: float
    """Height of its top above the sole, but for a fiftieth of it."""
    middle: float
    """Mean height above the sole."""


@dataclass(frozen=True)
class LegShape:
    """One leg, working frame."""

    side: str
    sections: Sections
    """From near the crotch to the toe tip."""
    foot: Foot
    shank: FloatArray
    """(3,) unit direction from knee to ankle, from the middle of the shank."""
    shank_point: FloatArray
    """(3,) a point on the shank's axis."""
    thigh: FloatArray
    """(3,) unit direction from hip to knee, from the upper thigh."""
    thigh_point: FloatArray
    """(3,) a point on the thigh's axis."""
    length: float
    """From the first section to the sole along the sections."""
    ankle_arc: float
    """Distance along the sections to about the ankle."""
    cells: FloatArray
    """(m, 3) cell centres of the leg."""
    skin: LimbSkin
    """The leg's volume and surface, finer than cells."""
    turn: FloatArray | None = None
    """(3,) where the straight lines of shank and foot meet, None where the foot is stretched."""

    def thigh_size(self) -> FloatArray:
        """(3,) median radius, depth and breadth of the sections that surely are thigh."""
        sections = self.sections
        sound = (sections.area > 0) & ~sections.open_edge
        low, high = (share * self.ankle_arc for share in THIGH_SHARE)
        rows = sound & (sections.arc > low) & (sections.arc < high)
        if rows.sum() < 3:
            rows = sound if sound.any() else np.ones(len(sound), dtype=bool)
        size = np.column_stack([sections.radius[rows], sections.width[rows]])
        return np.asarray(np.median(size, axis=0))

    def foot_slice(self, first: float, last: float) -> FootSlice | None:
        """The foot between two shares of its length, None where there is nothing of it."""
        foot, cell = self.foot, self.skin.cell
        relative = self.skin.points - foot.heel
        place, height = relative @ foot.along, relative @ foot.up
        inner = beyond(place, first * foot.length, cell) - beyond(place, last * foot.length, cell)
        inner = inner * (1.0 - beyond(height, 0.5 * foot.length, cell)) * self.skin.share
        some = inner > 0.0
        if inner.sum() < 3.0:
            return None
        share, height = inner[some], height[some]
        sideways = (relative @ np.cross(foot.up, foot.along))[some]
        edges = [sign * share_level(sign * sideways, share, cell, 0.98) for sign in (-1.0, 1.0)]
        top = share_level(height, share, cell, 0.98)
        return FootSlice((edges[0], edges[1]), top, float(share @ height / share.sum()))


def measure_leg(solid: Solid, limb: Limb) -> LegShape:
    """Cut a leg into sections and find its foot.

    Args:
        solid: the body, working frame. limb: the leg's branch.

    Returns:
        The leg's sections, shank axis and foot, working frame.
    """
    limb = limb.without_thread()
    rough = smooth_line(limb.line, 2)
    middle = float(np.median(limb.radius[: max(3, 2 * len(limb.radius) // 3)]))
    reach = 2.4 * middle
    forward = np.array([0.0, 0.0, 1.0])
    sections = trace_limb(solid, rough, reach, forward, STATIONS, rounds=3)
    arc = sections.arc
    turn = _turn_into_foot(sections)
    fall = _end_of_fall(sections)
    if fall is not None and (turn is None or turn.arc > fall + LATE_TURN * float(arc[-1])):
        turn = None  # a bend within a foot that is as long as the shank
    else:
        fall = None
    skin = limb_skin(solid, limb.cells)
    low, high = _shank_span(sections, turn if fall is None else fall)
    shank_point, shank = _axis(sections, low, high)
    foot = _find_foot(skin, shank_point, shank, sections)
    # a big foot takes more of the leg: look again at what really is shank
    rear = foot.point(0.25, 0.25 * foot.length)
    ankle = float(arc[int(np.argmin(np.linalg.norm(sections.centre - rear, axis=1)))])
    shank_point, shank = _axis(sections, SHANK_SHARE[0] * ankle, SHANK_SHARE[1] * ankle)
    foot = _find_foot(skin, shank_point, shank, sections)
    thigh_point, thigh = _axis(sections, THIGH_SHARE[0] * ankle, THIGH_SHARE[1] * ankle)
    below = float((foot.heel - shank_point) @ shank)
    upto = 0.5 * (SHANK_SHARE[0] + SHANK_SHARE[1]) * ankle
    return LegShape(
        side=limb.side or "left",
        sections=sections,
        foot=foot,
        shank=shank,
        shank_point=shank_point,
        thigh=thigh,
        thigh_point=thigh_point,
        length=upto + below,
        ankle_arc=ankle,
        cells=limb.cells,
        skin=skin,
        turn=None if turn is None else turn.position,
    )


def _turn_into_foot(sections: Sections) -> LineBend | None:
    """Where the leg's line turns into the foot, if it does."""
    centre, arc = sections.centre, sections.arc
    total = float(arc[-1])
    rows = arc > TURN_SPAN[0] * total
    if rows.sum() < 6:
        return None
    turn = find_bend(centre[rows], arc[rows], TURN_SPAN[1] * total, TURN_SPAN[2] * total)
    return turn if turn.angle > CLEAR_TURN else None


def _end_of_fall(sections: Sections) -> float | None:
    """Arc length at which a leg's line that fell runs level and ahead, as along a foot that stands;
    None where it does not, or hardly."""
    centre, arc = sections.centre, sections.arc
    rest = centre[-1] - centre[:-1]
    reach = np.maximum(np.linalg.norm(rest, axis=1), 1e-12)
    level = (-rest[:, 1] < LEVEL * reach) & (rest[:, 2] > FALLS * reach)
    gone = centre[:-1] - centre[0]
    fell = -gone[:, 1] > FALLS * np.linalg.norm(gone, axis=1)
    long = arc[-1] - arc[:-1] > LEAST_RUN * arc[-1]
    turns = np.flatnonzero(level & fell & long & (gone[:, 1] < 0.0))
    return float(arc[turns[0]]) if len(turns) else None


def _shank_span(sections: Sections, turn: LineBend | float | None) -> tuple[float, float]:
    """Arc lengths between which the leg surely is shank: above its turn into the foot, or else by
    usual lengths. A short leg with a large foot turns at half of its line."""
    if turn is not None:
        at = turn if isinstance(turn, float) else turn.arc
        return SHANK_SHARE[0] * at, SHANK_SHARE[1] * at
    total = float(sections.arc[-1])
    return SHANK_SPAN[0] * total, SHANK_SPAN[1] * total


def _axis(sections: Sections, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """Point and unit direction, toward the foot, of the straight line through the section centres
    between two arc lengths; sections that have joined the trunk are passed over."""
    arc = sections.arc
    asked = (arc >= low) & (arc <= high)
    sound = asked & (sections.area > 0) & ~sections.open_edge
    chosen = sound if sound.sum() >= 3 else asked
    if chosen.sum() < 2:
        nearest = np.argsort(np.abs(arc - 0.5 * (low + high)), kind="stable")[:3]
        chosen = np.zeros(len(arc), dtype=bool)
        chosen[nearest] = True
    points = sections.centre[chosen]
    middle = points.mean(axis=0)
    direction = np.linalg.svd(points - middle)[2][0]
    sign = 1.0 if direction @ (points[-1] - points[0]) >= 0 else -1.0
    return middle, direction * sign


def _find_foot(
    skin: LimbSkin, shank_point: FloatArray, shank: FloatArray, sections: Sections
) -> Foot:
    """The foot's frame: the sole is where the foot is flattest, its long axis runs in it.

    A foot on the floor is square to the floor, a raised one roughly to its shank; both and the
    way between are tried.
    """
    low = -end_of(-skin.points[:, 1], skin.share, skin.cell)
    upright = np.array([0.0, 1.0, 0.0])
    tries = [-shank]
    if low < UPRIGHT_LIMIT and shank[1] < -0.5:
        tries = [upright, _unit(upright - shank), -shank]
    best: tuple[float, Foot] | None = None
    for up in tries:
        foot, hollow = _foot_about(up, skin, shank_point, shank, sections, low)
        # seen along its own sole a foot is long and flat; tipped, only heel or toes are low
        merit = foot.length - 2.0 * hollow
        if best is None or merit > best[0] + skin.cell:
            best = (merit, foot)
    assert best is not None
    return best[1]


def _foot_about(
    up: FloatArray,
    skin: LimbSkin,
    shank_point: FloatArray,
    shank: FloatArray,
    sections: Sections,
    low: float,
) -> tuple[Foot, float]:
    """The foot for a given direction out of its sole, and how hollow the sole then looks."""
    cell = skin.cell
    rise = (skin.points - shank_point) @ up
    sole = -end_of(-rise, skin.share, cell)
    leg = float(sections.arc[-1])
    thickness = _instep(sections, shank_point, shank)
    top = sole + min(max(thickness, 3.0 * cell), FOOT_SHARE * leg)
    near = skin.near(1.0 - beyond(rise, top, cell), (skin.skin - shank_point) @ up < top)
    middle = near.share @ near.points / near.share.sum()
    flat = near.points - middle
    flat = flat - (flat @ up)[:, None] * up
    along = np.linalg.eigh(flat.T @ (flat * near.share[:, None]))[1][:, -1]
    # heel to toe: the ankle stands over the rear of the foot, and the leg's line ends at the toes
    ankle = shank_point + shank * ((middle - shank_point) @ shank)
    lean = float((middle - ankle) @ along)
    ends = float((sections.centre[-1] - ankle) @ along)
    ahead = FORWARD_TRUST * float(np.ptp(flat @ along)) * float(along[2])
    along = along * (1.0 if lean + 0.5 * ends + ahead >= 0 else -1.0)
    place = (near.points - middle) @ along
    back, front = -end_of(-place, near.share, cell), end_of(place, near.share, cell)
    base = middle + (sole - float((middle - shank_point) @ up)) * up
    end = 0.15 * (front - back)
    heel = _end(near, base, along, up, 1.0 - beyond(place, back + end, cell), back)
    toe = _end(near, base, along, up, beyond(place, front - end, cell), front)
    length = float(np.linalg.norm(toe - heel))
    foot = Foot(heel, toe, _unit(toe - heel), up, length, bool(low < UPRIGHT_LIMIT))
    return foot, _hollow(near, middle, along, up, sole, shank_point)


def _hollow(
    near: LimbSkin,
    middle: FloatArray,
    along: FloatArray,
    up: FloatArray,
    sole: float,
    shank_point: FloatArray,
) -> float:
    """Mean height of the underside above the sole's level over the foot's print."""
    across = np.cross(up, along)
    u = np.round((near.skin - middle) @ along / (2.0 * near.cell)).astype(np.int64)
    v = np.round((near.skin - middle) @ across / (2.0 * near.cell)).astype(np.int64)
    key = (u - u.min()) * (int(np.ptp(v)) + 1) + (v - v.min())
    lowest = np.full(int(key.max()) + 1, np.inf)
    np.minimum.at(lowest, key, (near.skin - shank_point) @ up - sole)
    return float(np.mean(lowest[np.isfinite(lowest)]))


def _end(
    near: LimbSkin,
    base: FloatArray,
    along: FloatArray,
    up: FloatArray,
    chosen: FloatArray,
    reach: float,
) -> FloatArray:
    """An end of the foot at sole level, sideways in the middle of the cells there, by how far they
    belong to it (n,)."""
    across = np.cross(up, along)
    weight = near.share * chosen
    total = max(float(weight.sum()), 1e-12)
    sideways = float(weight @ ((near.points - base) @ across)) / total
    return np.asarray(base + reach * along + sideways * across)


def _instep(sections: Sections, shank_point: FloatArray, shank: FloatArray) -> float:
    """Height of the foot's top above its sole, from the radius of the shank above it."""
    beyond = (sections.centre - shank_point) @ shank
    radius = sections.radius[(beyond > 0) & (sections.area > 0)]
    return 1.6 * float(np.median(radius)) if len(radius) else 0.03


def _unit(vector: FloatArray) -> FloatArray:
    return np.asarray(vector / max(float(np.linalg.norm(vector)), 1e-300))
