"""Place hip, knee, ankle, ball and toe tip of one leg."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.bends import find_bend, find_narrowing
from autoplace.measure.leg_shape import LegShape
from autoplace.measure.limb_profile import LimbProfile, read_profile
from autoplace.measure.sections import arc_lengths
from autoplace.measure.trunk_net import BREADTH, TrunkNet
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place import readings
from autoplace.place.evidence import (
    CENTRELINE_SPREAD,
    Placed,
    along,
    combine,
    cue,
    on_line,
)
from autoplace.place.template import Template

__all__ = ["LegPlacement", "hip_prior", "leg_profile", "place_hip", "place_leg"]

FloatArray = NDArray[np.float64]

NARROW_KNEE_OFFSET = 0.045
"""The leg is narrowest below the knee's axis by this share of the leg, above the calf (tuned on
the dataset's young women, 2026-11-25; survey heights put the joint line itself .028 below the
epicondyles: tibiale .2665 against .2799 of stature, US Army 2012 survey)."""
NARROW_SPREAD = 0.02
"""Spread of that, share of the leg (same tuning group)."""
ANKLE_ABOVE_TURN = (0.088, 0.025)
"""The ankle above the point where the lines of shank and foot meet, which runs through the middle
of the foot, and its spread, shares of the foot's length (.088 +-.020 on our own invented family,
2026-11-25)."""
HIGHEST_TURN = (0.45, 0.7)
"""A turn higher above the sole than this share of the foot's length begins to be no foot's, and is
none at the second: a gap between a robot's parts (an ankle is .27 to .3 of a foot high by the
templates' sources)."""
ABOVE_ANKLE = (1.6, 3.4)
"""Stretch of the shank that is extended down to the ankle, in heights of the ankle above the sole:
above the heel's flare, below the calf."""
PELVIS_LEVEL = 0.08
"""Level above the hips at which the pelvis' depth is read, share of the trunk: clear of thighs and
seat, about where the iliac spines are (.30 of pelvis width above the hip, Bell 1990)."""
THIGH_SPREAD = 0.02
"""How far the hip lies off the thigh's axis, fraction of height (own synthetic characters)."""
ROUND_THIGH = 0.5
"""Of that spread, what remains across the body on stylised figures (own synthetic characters: a
quarter of a percent of the height, where the dataset's open bodies have .8)."""
TO_MIDDLE = 0.5
"""A thigh's axis that comes nearer to the middle plane than this share of where the hip is expected
counts less, and nothing where it meets the plane: what it was fitted to is no thigh (common
practice, no source)."""
THIGH_TILT_SPREAD = 0.10
"""What a level thigh adds to that: its flesh gathers at the groin (common practice, no source)."""
HIP_ASIDE_SPREAD = 0.004
"""Spread added across to what is read of the hip, fraction of height: half of how far publications
differ, .048 to .055 of stature (Bell et al. 1990; Harrington et al. 2007; ISO/IEC 19774-1 nominal
figure)."""
ABOUT_HIPS = (0.0, 0.4)
"""Heights in the trunk between which its shape tells of the hips, shares of the trunk: what is
above, belly and chest, only makes it strange (tuned on the dataset's open builds, 2026-11-29)."""
NEAR_HIP = np.array([0.141, 0.126, 0.0])
"""Place in the trunk near which the thigh's axis is read: about the hip of the adult template,
outward and up in shares of the trunk."""
PROFILE_AT = np.linspace(0.30, 0.85, 12)
"""Shares of the leg at which its profile is read: clear of groin and heel."""
KNEE_RANGE = (0.38, 0.62)
"""Share of the leg in which a knee is looked for."""
BALL_HEIGHT = 0.57
"""Height of the ball's axis over the thickness of the foot there: a metatarsal head's centre lies
15 to 20 mm above the sole (from memory) under an instep of about 30 mm."""
BALL_OUTWARD = 0.09
"""The middle of the five metatarsal heads lies outward of the middle of the foot at the first
head, by this share of its breadth there (tuned on the dataset's young women, 2026-11-25:
.092 +-.035); the fifth head, .62 to .65 of the foot from the heel (from memory), is behind it."""
BALL_SLICE = 0.06
"""Half the stretch of the foot that its middle at the ball is read from, share of its length
(common practice, no source)."""
TOE_SLICE = (0.93, 1.1)
"""Shares of the foot's length between which the height of the toes is read (likewise)."""
LEAST_BEND = np.radians(2.0)
"""Smallest bend left in a knee so that a solver knows the way (common practice, no source)."""
CLEAR_BEND = np.radians(12.0)
"""A knee bent by this much shows its plane by itself: the knee's frontal angle strays by 3 to 7
degrees (tibiofemoral valgus, references 7.1)."""


@dataclass(frozen=True)
class LegPlacement:
    """Joints of one leg, working frame."""

    joints: dict[str, Placed]
    """By name without the side: hip, knee, ankle, ball, toe_tip."""
    bent_by_us: bool
    """True when the leg was straight and a bend had to be put in."""


def hip_prior(trunk: TrunkShape, template: Template, side: str) -> tuple[FloatArray, FloatArray]:
    """Where the template expects the hip centre, and its spread per working axis."""
    scale = trunk.span
    sign = 1.0 if side == "left" else -1.0
    up, half = template["hip_above_crotch"], template["hip_half_spacing"]
    depth = template["hip_depth"]
    y = float(trunk.crotch[1]) + up.value * scale
    level = y + PELVIS_LEVEL * scale
    at = np.array([sign * half.value * scale, y, trunk.depth_at(level, depth.value)])
    thickness = trunk.depth_at(level, 1.0) - trunk.depth_at(level, 0.0)
    spread = np.array([half.spread * scale, up.spread * scale, depth.spread * thickness])
    return at, spread


def place_leg(shape: LegShape, hip: Placed, template: Template) -> LegPlacement:
    """Decide the joints of a leg below a placed hip, from its sections, foot and the template."""
    ankle = _ankle(shape, template)
    knee = _knee(shape, hip.position, ankle.position, template)
    ball, toe = _toes(shape, template)
    position, bent = _keep_bent(hip.position, knee.position, ankle.position, shape)
    knee = replace(knee, position=position)
    joints = {"hip": hip, "knee": knee, "ankle": ankle, "ball": ball, "toe_tip": toe}
    return LegPlacement(joints, bent)


def place_hip(
    shape: LegShape, trunk: TrunkShape, net: TrunkNet | None, template: Template
) -> Placed:
    """Decide the hip's centre from crotch, trunk, the net of its half (None leaves it unread) and
    the thigh's axis."""
    prior, spread = hip_prior(trunk, template, shape.side)
    rule = template["hip_height"]
    wide = 10.0 * rule.spread
    standing = np.array([prior[0], rule.value, prior[2]])
    shown = None
    if net is not None:
        shown = net.between(*ABOUT_HIPS, BREADTH).extended(_leg_values(shape, net))
    read = readings.read_joint("trunk_and_leg", "hip", shown, "shape of lower trunk and thigh")
    defer = (read or readings.UNREAD).defer
    note = f"hip above the crotch, {template.name} template"
    cues = [
        cue("template_prior", prior, spread * np.array([1.0, defer, defer]), note),
        cue(
            "template_prior",
            standing,
            np.array([wide, rule.spread, wide]),
            "hip's share of the height: the crotch of trousers hangs low",
        ),
    ]
    axis = -shape.thigh
    if axis[1] > 0.5:
        at = shape.thigh_point + axis * ((prior[1] - shape.thigh_point[1]) / axis[1])
        # thigh muscle lies unevenly about the femur, the more so in a raised leg; the legs of
        # figures unlike the known ones are rounder
        knows = read.knows if read is not None else 0.0
        across = THIGH_SPREAD + THIGH_TILT_SPREAD * float(1.0 - axis[1])
        outward = float(at[0] / (TO_MIDDLE * prior[0]))
        if outward > 0.0:
            across /= min(outward, 1.0)
            seen = along("limb_axis", at, axis, 0.08, across, "axis of the thigh, extended")
            rounder = np.diag([ROUND_THIGH + knows * (1.0 - ROUND_THIGH), 1.0, 1.0])
            cues.append(replace(seen, covariance=rounder @ seen.covariance @ rounder))
    if read is not None:
        cues.append(read.doubted(np.array([HIP_ASIDE_SPREAD, 0.0, 0.0])))
    return combine(cues)


def _leg_values(shape: LegShape, net: TrunkNet) -> FloatArray:
    """(11,) what a leg says about its hip, as the trunk's net has it: where the thigh's axis passes
    a fixed place, its direction, and the leg's thickness and length."""
    away = float((net.point(NEAR_HIP) - shape.thigh_point) @ shape.thigh)
    near = net.coordinates(shape.thigh_point + away * shape.thigh)
    runs = shape.thigh * np.array([net.outward, 1.0, 1.0])
    sizes = np.r_[shape.thigh_size(), shape.ankle_arc] / net.scale
    return np.concatenate([near, runs, [runs[1] ** 2], sizes])


def _ankle(shape: LegShape, template: Template) -> Placed:
    foot = shape.foot
    height, back = template["ankle_height"], template["ankle_from_heel"]
    up = height.value * foot.length
    heel_based = foot.point(back.value, up)
    point, direction = _above_ankle(shape, up)
    fall = float(direction @ foot.up)
    on_axis = point + direction * (float((foot.heel - point) @ foot.up + up) / min(fall, -0.3))
    cues = [
        along(
            "template_prior",
            heel_based,
            foot.up,
            height.spread * foot.length,
            back.spread * foot.length + 0.01,
            "ankle height and distance from the heel, share of the foot",
        ),
        along("limb_axis", on_axis, shape.shank, 0.05, CENTRELINE_SPREAD, "axis of the shank"),
    ]
    if shape.turn is None:
        return combine(cues)
    high = float((shape.turn - foot.heel) @ foot.up) / foot.length
    likely = float(np.interp(high, HIGHEST_TURN, (1.0, 0.0)))
    if likely > 0.0:
        at = shape.turn + ANKLE_ABOVE_TURN[0] * foot.length * foot.up
        note = "the leg's line turns into the foot's just below the ankle"
        spread = ANKLE_ABOVE_TURN[1] * foot.length / likely
        cues.append(cue("centreline_bend", at, spread, note))
    return combine(cues)


def _above_ankle(shape: LegShape, ankle_height: float) -> tuple[FloatArray, FloatArray]:
    """Point and direction of the shank's axis just above the ankle, clear of the heel."""
    height = (shape.sections.centre - shape.foot.heel) @ shape.foot.up
    low, high = ABOVE_ANKLE
    rows = np.flatnonzero((height > low * ankle_height) & (height < high * ankle_height))
    rows = rows[rows > len(height) // 3]
    if len(rows) < 3:
        return shape.shank_point, shape.shank
    points = shape.sections.centre[rows]
    middle = points.mean(axis=0)
    direction = np.linalg.svd(points - middle)[2][0]
    direction = direction * np.sign(direction @ shape.shank)
    straight = float(direction @ shape.shank) > np.cos(np.radians(30.0))
    return (middle, direction) if straight else (shape.shank_point, shape.shank)


def _knee(shape: LegShape, hip: FloatArray, ankle: FloatArray, template: Template) -> Placed:
    line, arc = _leg_line(shape, hip, ankle)
    total = float(arc[-1])
    profile = leg_profile(shape, hip, ankle)
    read = readings.read_joint("leg", "knee", profile, "breadth, depth and bow of the whole leg")
    told = read or readings.UNREAD
    share = template["thigh_share"]
    wide = share.spread * total * told.defer
    note = "share of thigh and shank"
    cues = [on_line("template_prior", line, arc, share.value * total, wide, note, told.beside)]
    if read is not None:
        cues.append(read.cue)
    bend = find_bend(line, arc, KNEE_RANGE[0] * total, KNEE_RANGE[1] * total)
    # a leg's line also curves with calf and thigh: only a clear bend is the knee's
    clear = float(np.clip((np.degrees(bend.angle) - 15.0) / 10.0, 0.0, 1.0))
    if clear > 0.0:
        spread = max(1.5 * bend.spread, 0.01) * told.doubt / clear
        note = f"the leg bends by {np.degrees(bend.angle):.0f} degrees here"
        cues.append(on_line("centreline_bend", line, arc, bend.arc, spread, note, told.beside))
    narrow = _knee_narrowing(shape, hip, ankle, line, arc)
    if narrow is not None:
        at, depth = narrow
        spread = NARROW_SPREAD * total * (1.0 + 0.02 / depth) * told.doubt
        note = "the leg is narrowest just below the knee"
        at -= NARROW_KNEE_OFFSET * total
        cues.append(on_line("section_minimum", line, arc, at, spread, note, told.beside))
    return combine(cues)


def leg_profile(shape: LegShape, hip: FloatArray, ankle: FloatArray) -> LimbProfile | None:
    """The leg's profile between a placed hip and ankle, its front where the foot points."""
    return read_profile(shape.sections, hip, ankle, shape.foot.along, PROFILE_AT, shape.side)


def _leg_line(shape: LegShape, hip: FloatArray, ankle: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The leg's line from hip to ankle through its section centres, and its arc length."""
    centre = shape.sections.centre
    span = ankle - hip
    length = float(np.linalg.norm(span))
    share = (centre - hip) @ span / length**2
    reach = np.cumsum(np.r_[0.0, np.linalg.norm(np.diff(centre, axis=0), axis=1)])
    # a bent knee makes the straight share ambiguous; the order along the leg settles it
    stop = int(np.argmin(np.linalg.norm(centre - ankle, axis=1)))
    inner = np.zeros(len(centre), dtype=bool)
    inner[:stop] = True
    inner &= (shape.sections.area > 0) & ~shape.sections.open_edge
    inner &= np.linalg.norm(centre - hip, axis=1) > 0.22 * length
    inner &= (reach[stop] - reach > 0.08 * length) & (share > 0.0)
    line = np.concatenate([hip[None], centre[inner], ankle[None]])
    arc = arc_lengths(line)
    return line, arc


def _knee_narrowing(
    shape: LegShape, hip: FloatArray, ankle: FloatArray, line: FloatArray, arc: FloatArray
) -> tuple[float, float] | None:
    """Arc on `line` and depth of the narrowing near the knee, if one shows."""
    centre, section_arc = shape.sections.centre, shape.sections.arc
    total = float(arc[-1])
    ends = []
    for share in KNEE_RANGE:
        point = np.array([np.interp(share * total, arc, line[:, a]) for a in range(3)])
        ends.append(float(section_arc[int(np.argmin(np.linalg.norm(centre - point, axis=1)))]))
    if ends[1] <= ends[0]:
        return None
    narrow = find_narrowing(shape.sections, ends[0], ends[1])
    if narrow is None:
        return None
    scale = (KNEE_RANGE[1] - KNEE_RANGE[0]) * total / (ends[1] - ends[0])
    return KNEE_RANGE[0] * total + (narrow.arc - ends[0]) * scale, narrow.depth


def _toes(shape: LegShape, template: Template) -> tuple[Placed, Placed]:
    foot = shape.foot
    rule = template["ball_from_heel"]
    ball = foot.point(rule.value, 0.11 * foot.length)
    here = shape.foot_slice(rule.value - BALL_SLICE, rule.value + BALL_SLICE)
    if here is not None:
        # the joint lies in the middle of the foot there, across and in height
        left, right = here.edges
        outward = BALL_OUTWARD * (1.0 if shape.side == "left" else -1.0)
        aside = 0.5 * (left + right) + outward * (right - left)
        ball = foot.point(rule.value, BALL_HEIGHT * here.top, aside)
    end = shape.foot_slice(*TOE_SLICE)
    toe = foot.point(1.0, 0.05 * foot.length if end is None else end.middle)
    placed_ball = combine(
        [
            along(
                "foot_share",
                ball,
                foot.along,
                rule.spread * foot.length,
                0.012,
                "ball of the foot, share of its length; middle of the foot there",
            )
        ]
    )
    placed_toe = combine([cue("foot_end", toe, 0.01, "front end of the foot")])
    return placed_ball, placed_toe


def _keep_bent(
    hip: FloatArray, knee: FloatArray, ankle: FloatArray, shape: LegShape
) -> tuple[FloatArray, bool]:
    """The knee with at least `LEAST_BEND` left in it, its apex toward the foot's front.

    What a nearly straight knee is off sideways is flesh, not bend: half of it is taken away with
    every halving of the bend below `CLEAR_BEND`, so that the bend's plane faces ahead.
    """
    span = ankle - hip
    length = float(np.linalg.norm(span))
    axis = span / length
    forward = shape.foot.along - (shape.foot.along @ axis) * axis
    forward = forward / max(float(np.linalg.norm(forward)), 1e-300)
    share = float((knee - hip) @ axis)
    off = knee - hip - share * axis
    arm = share * (length - share) / length
    have = float(off @ forward)
    sideways = off - have * forward
    kept = float(np.clip(have / (np.tan(CLEAR_BEND) * arm), 0.0, 1.0))
    need = np.tan(LEAST_BEND) * arm
    straight = have < need
    moved = hip + share * axis + max(have, need) * forward + kept * sideways
    return moved, straight
