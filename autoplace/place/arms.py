"""Place shoulder, elbow and wrist of one arm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.arm_shape import ArmShape, find_armpit, fit_axis, measure_arm
from autoplace.measure.bends import find_bend, find_narrowing
from autoplace.measure.limb_profile import LimbProfile, read_profile
from autoplace.measure.limb_record import Limb
from autoplace.measure.sections import arc_lengths
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_net import EVERY, TrunkNet
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.measure.wrist import wrists_alike
from autoplace.place import readings
from autoplace.place.evidence import (
    CENTRELINE_SPREAD,
    Placed,
    along,
    belief,
    combine,
    cue,
    on_line,
)
from autoplace.place.template import Template

__all__ = [
    "ArmPlacement",
    "arm_profile",
    "measure_arms",
    "place_arm",
    "shoulder_prior",
    "span_by_shoulders",
]

FloatArray = NDArray[np.float64]

AXIS_SPREAD = (0.2, 0.3)
"""How far the humerus' head lies off the upper arm's axis, in arm radii: up and ahead (.15 and .25
on even members of the invented families and the dataset's open bodies, 2026-11-29); more where few
sections of the upper arm are clear of the trunk."""
AXIS_FORWARD = 0.25
"""The humerus' head lies ahead of the axis of the upper arm's flesh by this many arm radii (tuned
on the dataset's young women, 2026-11-25: .0067 +-.01 of the height); the joint lies 33 mm ahead of
the acromion (Dumas & Wojtusch 2018) under a shoulder whose bulk is behind it."""
ARMPIT_SPREAD = 0.015
"""Spread of the shoulder seen from the armpit, fraction of height: the fold moves with the arm
and with fat (own synthetic characters)."""
HANGING = ((0.75, 0.95), (1.0, 3.0))
"""How much less sure armpit and ribs are of the shoulder (second) for how much of its length an
upper arm goes down (first): flesh of a hanging arm touches the trunk, so that the fold shows too
low and the trunk looks too broad. The armpit errs by .6 percent of the height under level arms, by
1 at 45 degrees and by 3 and more under hanging ones (the dataset's open builds and even members of
the invented family, 2026-11-29)."""
RIB_BREADTHS = 1.25
"""Distance of the shoulder from the middle over half the breadth of the lower ribs (own synthetic
characters; the dataset's open bodies have 1.23)."""
RIB_BREADTHS_SPREAD = 0.2
"""Its relative spread (own synthetic characters .11, the dataset's open bodies .15), more for what
clothes add."""
UNTOLD = 1.0
"""Spread of a cue along an axis of which it says nothing, fraction of height."""
ELBOW_RANGE = (0.42, 0.64)
"""Share of the arm in which an elbow is looked for."""
NARROW_SPREAD = 0.03
"""Spread of the elbow seen from the narrowing above the forearm's bulge, share of the arm (own
synthetic characters)."""
CLEAR_BEND = 10.0
"""Degrees at which the bend of the arm's line is half taken for the elbow's: muscle bends the line
of a straight arm by half of that, where it is not taken at all (own synthetic characters)."""
CLEARER_BEND = 25.0
"""Degrees up to which the arm's whole profile, where it is known, tells as much of the elbow as
the bend does (tuned on the dataset's open builds, 2026-11-25)."""
FIRM_BEND = (30.0, 40.0)
"""Degrees from which an arm's bend begins to tell across its line too, and at which it does so
fully: an elbow bent by 40 lies in the line's own hinge, within .3 percent of the height (the
dataset's open builds, 2026-11-29)."""
SHALLOW = 0.003
"""Depth at which a narrowing counts half: the spread of the radius between neighbouring cuts."""
ABOUT_SHOULDERS = (0.4, 1.0)
"""Heights in the trunk between which its shape tells of the shoulders, shares of the trunk: what is
below, belly and seat, only makes it strange (tuned on the dataset's open builds, 2026-11-29)."""
NEAR_SHOULDER = np.array([0.27, 0.825, 0.0])
"""Place in the trunk near which the upper arm's axis is read: about the shoulder of the adult
template, outward and up in shares of the trunk."""
EXPECTED_ARMPIT = np.array([-0.05, -0.13, 0.0])
"""From the axis near the shoulder to the armpit, in the same shares (own synthetic characters)."""
PROFILE_AT = np.linspace(0.25, 0.90, 14)
"""Shares of the arm at which its profile is read: clear of shoulder and hand."""
LEAST_BEND = np.radians(2.0)
"""Smallest bend left in an elbow so that a solver knows the way (common practice, no source)."""
HINGE_BEND = np.radians(15.0)
"""An elbow bent by this much shows its plane by itself; below, the carrying angle of 10 to 17
degrees (Van Roy et al. 2005; Acikgoz et al. 2018) may be all of it."""


@dataclass(frozen=True)
class ArmPlacement:
    """Joints of one arm, working frame."""

    shape: ArmShape
    joints: dict[str, Placed]
    """By name without the side: shoulder, elbow, wrist."""
    armpit: FloatArray | None
    """(3,) hollow between arm and trunk, None where it does not show."""
    forearm: FloatArray
    """(3,) unit direction from elbow to wrist."""
    bent_by_us: bool
    """True when the arm was straight and a bend had to be put in."""


def shoulder_prior(
    trunk: TrunkShape, template: Template, side: str
) -> tuple[FloatArray, FloatArray]:
    """Where the template expects the head of the humerus, and its spread per working axis."""
    scale = trunk.span
    sign = 1.0 if side == "left" else -1.0
    height, half = template["shoulder_height"], template["shoulder_half_width"]
    depth = template["shoulder_depth"]
    y = float(trunk.crotch[1]) + height.value * scale
    low = y - 0.1 * scale  # front and back skin are read below the shoulder's slope
    thickness = trunk.depth_at(low, 1.0) - trunk.depth_at(low, 0.0)
    x = trunk.middle_at(low) + sign * half.value * scale
    at = np.array([x, y, trunk.depth_at(low, depth.value)])
    spread = np.array([half.spread * scale, height.spread * scale, depth.spread * thickness])
    return at, np.maximum(spread, 0.005)


def span_by_shoulders(trunk: TrunkShape, template: Template, shoulders: Sequence[Placed]) -> float:
    """Length of the trunk by which its proportions go, where shoulders are known.

    A template expects a chin just above the shoulders. Where these lie lower or higher than it lets
    expect, by more than its spread, the neck is long or short or the chin was not found, and the
    trunk is as long as the shoulders say.

    Args:
        trunk: the level cuts. template: proportions.
        shoulders: of these the lowest is believed, since a raised arm lifts its shoulder.
    """
    whole = float(trunk.chin[1] - trunk.crotch[1])
    if not shoulders:
        return whole
    shoulder = min(shoulders, key=lambda joint: float(joint.position[1]))
    height = template["shoulder_height"]
    missed = float(shoulder.position[1] - trunk.crotch[1]) - height.value * whole
    square = missed**2 / ((height.spread * whole) ** 2 + shoulder.spread**2)
    return whole + (1.0 - belief(square)) * missed / height.value


def measure_arms(
    solid: Solid, limbs: Mapping[str, Limb], trunk: TrunkShape, template: Template
) -> dict[str, ArmShape]:
    """The sections of the arms there are, by side, each wrist judged by the other's too.

    Args:
        solid: the body, working frame. limbs: the arms' branches by side.
        trunk: the body's level cuts. template: proportions.
    """
    shapes = {
        side: measure_arm(solid, limb, shoulder_prior(trunk, template, side)[0])
        for side, limb in limbs.items()
    }
    if len(shapes) < 2:
        return shapes
    left, right = shapes["left"], shapes["right"]
    return {
        "left": replace(left, wrist=wrists_alike(left.wrist, right.wrist)),
        "right": replace(right, wrist=wrists_alike(right.wrist, left.wrist)),
    }


def place_arm(
    solid: Solid, shape: ArmShape, trunk: TrunkShape, net: TrunkNet | None, template: Template
) -> ArmPlacement:
    """Decide the joints of an arm from its sections, its armpit, the trunk and the template.

    Args:
        solid: the body, working frame. shape: the arm's sections, see `measure_arms`.
        trunk: the body's level cuts. net: the half of the trunk on the arm's side;
            None leaves it unread.
        template: proportions.
    """
    side = shape.side
    prior, prior_spread = shoulder_prior(trunk, template, side)
    wrist_point = shape.at(shape.wrist.arc)
    shoulder = combine([cue("template_prior", prior, prior_spread, "shoulder of the template")])
    elbow = _elbow(shape, shoulder.position, wrist_point, template)
    armpit = None
    for _ in range(3):
        # the elbow only says how much of the arm is upper arm, so that a first guess serves
        shoulder, armpit = _shoulder(
            solid, shape, trunk, net, template, (prior, prior_spread), elbow.position
        )
        trunk = replace(trunk, shoulder_span=span_by_shoulders(trunk, template, [shoulder]))
        prior, prior_spread = shoulder_prior(trunk, template, side)
    elbow = _elbow(shape, shoulder.position, wrist_point, template)
    forearm = wrist_point - elbow.position
    forearm = forearm / max(float(np.linalg.norm(forearm)), 1e-300)
    why = "narrowest section between forearm and hand"
    if not shape.wrist.seen:
        why = "where the other arm's wrist is" if shape.wrist.by_other else "share of the arm"
    kind = "section_minimum" if shape.wrist.seen else "template_prior"
    wrist = combine([along(kind, wrist_point, forearm, shape.wrist.spread, 0.004, why)])
    position, bent = _keep_bent(shoulder.position, elbow.position, wrist.position)
    elbow = replace(elbow, position=position)
    joints = {"shoulder": shoulder, "elbow": elbow, "wrist": wrist}
    return ArmPlacement(shape, joints, armpit, forearm, bent)


def _arc_of(shape: ArmShape, point: FloatArray) -> float:
    """Arc length of the section centre nearest to a point, refined between stations."""
    centre, arc = shape.sections.centre, shape.sections.arc
    row = int(np.argmin(np.linalg.norm(centre - point, axis=1)))
    low, high = max(row - 1, 0), min(row + 1, len(arc) - 1)
    step = centre[high] - centre[low]
    share = float((point - centre[low]) @ step / max(float(step @ step), 1e-300))
    return float(arc[low] + np.clip(share, 0.0, 1.0) * (arc[high] - arc[low]))


def _shoulder(
    solid: Solid,
    shape: ArmShape,
    trunk: TrunkShape,
    net: TrunkNet | None,
    template: Template,
    expected: tuple[FloatArray, FloatArray],
    elbow: FloatArray,
) -> tuple[Placed, FloatArray | None]:
    """The head of the humerus from the upper arm's axis, the armpit, the trunk's shape and the
    template, whose place and spread are `expected`."""
    prior, prior_spread = expected
    elbow_arc = _arc_of(shape, elbow)
    point, direction, radius, clear = fit_axis(shape, 0.35 * elbow_arc, 0.95 * elbow_arc)
    cues = []
    ahead = np.array([0.0, 0.0, 1.0]) - direction[2] * direction
    flesh = point
    point = point + AXIS_FORWARD * radius * ahead
    nearest = point + direction * float((prior - point) @ direction)
    up, forward = np.array(AXIS_SPREAD) * radius * (1.0 + 2.0 * (1.0 - clear))
    axis = along("limb_axis", nearest, direction, 0.10, up, "axis of the upper arm, extended")
    less_sure = (forward**2 - up**2) * np.outer(ahead, ahead)
    cues.append(replace(axis, covariance=axis.covariance + less_sure))
    inside = np.array([trunk.middle_at(prior[1]), prior[1] - 0.25 * prior[1], prior[2]])
    armpit = find_armpit(solid, point, direction, radius, inside)
    scale = trunk.span
    hidden = float(np.interp(-direction[1], *HANGING))
    rule = template["shoulder_above_armpit"]
    if armpit is not None:
        above = armpit + np.array([0.0, rule.value * scale, 0.0])
        at = point + direction * float((above - point) @ direction)
        cues.append(
            along(
                "armpit",
                at,
                direction,
                max(ARMPIT_SPREAD, rule.spread * scale) * hidden,
                0.05,
                "armpit, with the shoulder's height above it",
            )
        )
    shown = None
    if net is not None:
        arm = _arm_values(shape, net, (flesh, direction, radius), armpit)
        shown = net.between(*ABOUT_SHOULDERS, EVERY).extended(arm)
    note = f"shoulder of the {template.name} template"
    read = readings.read_joint("trunk_and_arm", "shoulder", shown, "shape of chest and upper arm")
    told = read or readings.UNREAD
    if net is not None:
        aside = RIB_BREADTHS * net.rib_breadth
        wide = RIB_BREADTHS_SPREAD * aside * told.doubt * hidden
        spread = np.array([wide, UNTOLD, UNTOLD])
        at = np.array([net.outward * aside, prior[1], prior[2]])
        cues.append(cue("section_breadth", at, spread, "breadth of the trunk below the arms"))
    if read is not None:
        cues.append(read.cue)
    return combine([cue("template_prior", prior, told.defer * prior_spread, note), *cues]), armpit


def _arm_values(
    shape: ArmShape,
    net: TrunkNet,
    axis: tuple[FloatArray, FloatArray, float],
    armpit: FloatArray | None,
) -> FloatArray:
    """(12,) what an arm says about its shoulder, as the trunk's net has it: where the upper arm's
    axis passes a fixed place, its direction and thickness, and the armpit."""
    point, direction, radius = axis
    passes = point + direction * float((net.point(NEAR_SHOULDER) - point) @ direction)
    near = net.coordinates(passes)
    # an armpit that does not show says nothing: it is put where it would be expected
    pit = net.coordinates(armpit) if armpit is not None else near + EXPECTED_ARMPIT
    runs = direction * np.array([net.outward, 1.0, 1.0])
    # an arm's length is left out: a longer arm does not move its shoulder
    size = radius / net.scale
    return np.concatenate([near, pit, runs, [runs[1] ** 2, size, float(armpit is None)]])


def _elbow(shape: ArmShape, shoulder: FloatArray, wrist: FloatArray, template: Template) -> Placed:
    """The elbow from the arm's proportions, the bend of its line and its narrowing."""
    centre, arc = shape.sections.centre, shape.sections.arc
    length = float(np.linalg.norm(wrist - shoulder))
    inner = (arc > 0.0) & (arc < shape.wrist.arc - 0.05 * length)
    inner &= np.linalg.norm(centre - shoulder, axis=1) > 0.25 * length
    inner &= (shape.sections.area > 0) & ~shape.sections.open_edge
    line = np.concatenate([shoulder[None], centre[inner], wrist[None]])
    line_arc = arc_lengths(line)
    total = float(line_arc[-1])
    profile = arm_profile(shape, shoulder, wrist)
    read = readings.read_joint("arm", "elbow", profile, "breadth, depth and bow of the whole arm")
    share = template["upper_arm_share"]
    told = read or readings.UNREAD
    wide = share.spread * total * told.defer
    note = "share of upper arm and forearm"
    beside = told.beside
    cues = [on_line("template_prior", line, line_arc, share.value * total, wide, note, beside)]
    if read is not None:
        cues.append(read.cue)
    low, high = ELBOW_RANGE[0] * total, ELBOW_RANGE[1] * total
    if len(line) >= 6:
        bend = find_bend(line[1:], line_arc[1:], low, high)
        degrees = float(np.degrees(bend.angle))
        clear = float(np.clip(degrees / CLEAR_BEND - 0.5, 0.0, 1.0))
        if clear > 0.0 and np.isfinite(bend.spread):
            sure = float(np.clip((degrees - CLEARER_BEND) / CLEAR_BEND + 0.5, 0.0, 1.0))
            spread = max(bend.spread, 0.004) * told.doubt ** (1.0 - sure) / clear
            firm = float(np.interp(degrees, FIRM_BEND, (0.0, 1.0)))
            off = beside + firm * (CENTRELINE_SPREAD - beside)
            note = f"the arm bends by {degrees:.0f} degrees here"
            cues.append(on_line("centreline_bend", line, line_arc, bend.arc, spread, note, off))
    shift = shape.wrist.arc - total  # the sections start at the first guess of the shoulder
    narrow = find_narrowing(shape.sections, low + shift, high + shift)
    if narrow is not None:
        spread = NARROW_SPREAD * total * (1.0 + SHALLOW / narrow.depth) * told.doubt
        note = "the arm is narrowest above the forearm's bulge"
        at = narrow.arc - shift
        cues.append(on_line("section_minimum", line, line_arc, at, spread, note, beside))
    return combine(cues)


def arm_profile(shape: ArmShape, shoulder: FloatArray, wrist: FloatArray) -> LimbProfile | None:
    """The arm's profile between a placed shoulder and wrist, its front where the body faces."""
    front = np.array([0.0, 0.0, 1.0])
    return read_profile(
        shape.sections, shoulder, wrist, front, PROFILE_AT, shape.side, sideways=True
    )


def _keep_bent(
    shoulder: FloatArray, elbow: FloatArray, wrist: FloatArray
) -> tuple[FloatArray, bool]:
    """The elbow with at least `LEAST_BEND` left in it, its apex backward (down if the arm points
    forward or back).

    What a nearly straight elbow is off sideways is flesh or the carrying angle, not bend: it is
    taken away as far as the bend falls short of `HINGE_BEND`, so that the bend's plane is level.
    """
    span = wrist - shoulder
    length = float(np.linalg.norm(span))
    axis = span / length
    backward = np.array([0.0, 0.0, -1.0])
    if abs(axis @ backward) > 0.8:
        backward = np.array([0.0, -1.0, 0.0])
    backward = backward - (backward @ axis) * axis
    backward = backward / np.linalg.norm(backward)
    share = float((elbow - shoulder) @ axis)
    off = elbow - shoulder - share * axis
    arm = share * (length - share) / length
    have = float(off @ backward)
    sideways = off - have * backward
    bend = float(np.linalg.norm(off)) / arm
    kept = float(np.clip(bend / np.tan(HINGE_BEND), 0.0, 1.0))
    need = np.tan(LEAST_BEND) * arm
    straight = have < need and kept < 1.0
    moved = shoulder + share * axis + (need if straight else have) * backward + kept * sideways
    return moved, straight
