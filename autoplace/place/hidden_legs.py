"""Legs that a skirt, gown or robe hides: placed from what shows and from the template, and unsure.

Where the skirt is of one piece with the body there is nothing to measure between waist and hem. The
crotch is then expected where a figure with such a head and waist has it, and all that follows from
it is as unsure as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.hem import Hem, ShownLeg
from autoplace.measure.leg_shape import LegShape
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place.evidence import Placed, along, combine, cue
from autoplace.place.legs import LegPlacement, hip_prior, place_leg
from autoplace.place.template import Template

__all__ = [
    "HiddenLegs",
    "expect_crotch",
    "place_hidden_hip",
    "place_hidden_leg",
    "place_shown_leg",
]

FloatArray = NDArray[np.float64]

WAIST_SHARE = (0.375, 0.035)
"""Height of the waist above the crotch, share of the trunk from crotch to chin, and its spread
(.375 +-.02 on members of our own invented family without a belly, 2026-11-25)."""
CLEAR_WAIST = 0.75
"""A waist narrower than this share of the chest is one; a belly leaves .8 to 1 below the chest
(own invented family)."""
UNCLEAR_SPREAD = 0.15
"""Spread of the same where the waist is not clear: a belly moves the narrowest cut up by as much
(own invented family)."""
DRAWN_LEGS = 0.03
"""Spread of the crotch's height besides, fraction of height: figures are drawn with longer and
shorter legs than people have (own invented figures of boxes in tunics, deal 45: hips lie 5
+-2.4 percent lower than people's)."""
FOOT_LENGTH = (0.153, 0.03)
"""Of the height: 271.2 / 1756 and 246.3 / 1629 mm (US Army 2012 survey); shoes of drawn figures
vary far more than feet."""
STANCE = (0.06, 0.05)
"""How much farther from the middle the ankle stands than the hip, and its spread, share of the leg
(.059 +-.012 on our own invented family; nobody knows how a hidden leg stands)."""
UNDER_HIP = (-0.01, 0.05)
"""How far the ankle is ahead of the hip, and its spread, share of the leg (likewise: -.007
+-.010)."""
KNEE_AHEAD = (0.026, 0.04)
"""How far the knee is ahead of the line from hip to ankle, and its spread, share of the leg
(likewise: .026 +-.005)."""
SHANK_SHOWS = 0.5
"""A hem at this share of the crotch's height leaves the shank to be measured; below a lower one
there is too little of it (own invented family: hems at .35 to .4 and at .75 of it)."""
TOE_OUT = 0.20
"""Sideways over forward direction of the foot, about eleven degrees (common practice: feet are
turned out a little)."""
THIGH_SPREAD = 0.03
"""How far the hip lies off the axis of a thigh of which the upper part is hidden, fraction of
height (own synthetic characters)."""
UNSEEN_BEND = 0.15
"""How far it lies off besides, share of the way from where the axis was seen: that may be the
shank's, and in a relaxed stance shank and thigh differ by some eight degrees (common practice, no
source)."""


@dataclass(frozen=True)
class HiddenLegs:
    """What is assumed about legs under a skirt that is of one piece with the body."""

    hem: Hem
    crotch_spread: float
    """One standard deviation of the crotch's expected height, fraction of height."""
    shanks_show: bool
    """Whether enough of the legs shows below the hem to be measured."""


def expect_crotch(hem: Hem, trunk: TrunkShape, template: Template) -> tuple[TrunkShape, HiddenLegs]:
    """The trunk with its crotch where it is expected, and how sure that is.

    Args:
        hem: of the skirt. trunk: level cuts, their crotch at the hem. template: chosen by the head.
    """
    rule = template.choice["crotch_height"]
    share, spread = WAIST_SHARE
    if hem.narrowing > CLEAR_WAIST:
        spread = UNCLEAR_SPREAD
    chin = float(trunk.chin[1])
    # the waist is a share of the way from the crotch to the chin
    length = (chin - hem.waist) / (1.0 - share)
    guesses = np.array([rule.value, chin - length])
    doubts = np.array([rule.spread, spread * length / (1.0 - share)])
    weights = doubts**-2.0 / np.sum(doubts**-2.0)
    apart = abs(guesses[0] - guesses[1]) / float(np.hypot(*doubts))
    sure = float(np.hypot(np.sum(doubts**-2.0) ** -0.5 * max(apart, 1.0), DRAWN_LEGS))
    height = float(np.clip(weights @ guesses, min(hem.height + 0.02, hem.waist), hem.waist))
    at = np.array([0.0, height, 0.5 * (trunk.depth_at(height, 0.0) + trunk.depth_at(height, 1.0))])
    return replace(trunk, crotch=at), HiddenLegs(hem, sure, hem.height > SHANK_SHOWS * height)


def place_hidden_hip(
    hidden: HiddenLegs, shape: LegShape | None, trunk: TrunkShape, template: Template, side: str
) -> Placed:
    """The hip from the expected crotch, and from the thigh's axis where some of it shows."""
    at, spread = hip_prior(trunk, template, side)
    spread = np.array([spread[0], np.hypot(spread[1], hidden.crotch_spread), spread[2]])
    spread[[0, 2]] = np.maximum(spread[[0, 2]], 0.02)
    note = f"hip above the crotch that is expected under the skirt, {template.name} template"
    cues = [cue("template_prior", at, spread, note)]
    if shape is not None and -shape.thigh[1] > 0.8:
        axis = -shape.thigh
        point = shape.thigh_point + axis * ((at[1] - shape.thigh_point[1]) / axis[1])
        way = float(np.linalg.norm(point - shape.thigh_point))
        across = float(np.hypot(THIGH_SPREAD, UNSEEN_BEND * way))
        cues.append(along("limb_axis", point, axis, 0.3, across, "axis of the thigh, extended"))
    return combine(cues)


def place_shown_leg(shape: LegShape, hip: Placed, template: Template) -> LegPlacement:
    """A leg that shows below the hem: measured there, the knee as unsure as what is above it."""
    placed = place_leg(shape, hip, template)
    knee, ankle = placed.joints["knee"], placed.joints["ankle"]
    # seen from the hem down, a knee under it is a share of a leg whose upper end is a guess
    span = max(float(hip.position[1] - ankle.position[1]), 1e-6)
    share = float(np.clip((knee.position[1] - ankle.position[1]) / span, 0.0, 1.0))
    spread = float(np.hypot(knee.spread, share * hip.spread))
    joints = {**placed.joints, "knee": replace(knee, spread=spread)}
    return replace(placed, joints=joints)


def place_hidden_leg(
    hidden: HiddenLegs, hip: Placed, template: Template, side: str
) -> LegPlacement:
    """A leg of which nothing shows, or only a foot: it stands straight under its hip.

    Args:
        hidden: the hem and what shows below it. hip: placed before. side: "left" or "right".

    Returns:
        Joints whose spreads cover what cannot be known: how far apart the feet stand, whether the
        knee is bent, how large the shoe is.
    """
    sign = 1.0 if side == "left" else -1.0
    shown = hidden.hem.shown.get(side)
    foot, foot_spread = FOOT_LENGTH
    rule_up, rule_back = template["ankle_height"], template["ankle_from_heel"]
    up = rule_up.value * foot
    leg = max(float(hip.position[1]) - up, 0.05)
    ankle_at = hip.position + np.array([sign * STANCE[0] * leg, -leg, UNDER_HIP[0] * leg])
    spread = np.array([STANCE[1] * leg, 0.4 * up, UNDER_HIP[1] * leg])
    ankle = combine([cue("template_prior", ankle_at, spread, "under the hip, hidden by the skirt")])
    if shown is not None:
        ankle = _shown_ankle(hidden, shown, ankle, foot, rule_back.value)
    share = template["thigh_share"].value
    knee_at = hip.position + share * (ankle.position - hip.position)
    knee_at = knee_at + np.array([0.0, 0.0, KNEE_AHEAD[0] * leg])
    knee_spread = np.array(
        [
            max(STANCE[1] * leg * 0.5, 0.02),
            float(np.hypot(0.5 * hip.spread * np.sqrt(3.0), template["thigh_share"].spread * leg)),
            KNEE_AHEAD[1] * leg,
        ]
    )
    knee = combine([cue("template_prior", knee_at, knee_spread, "share of a leg that is hidden")])
    ahead = np.array([sign * TOE_OUT, 0.0, 1.0]) / np.hypot(TOE_OUT, 1.0)
    heel = ankle.position - rule_back.value * foot * ahead
    heel[1] = 0.0
    ball_rule = template["ball_from_heel"]
    ball_at = heel + ball_rule.value * foot * ahead + np.array([0.0, 0.11 * foot, 0.0])
    toe_at = heel + foot * ahead + np.array([0.0, 0.05 * foot, 0.0])
    wide = np.array([ankle.spread, 0.01, foot_spread])
    if shown is not None:
        toe_at[2] = shown.high[2]
        ball_at[2] = shown.high[2] - (1.0 - ball_rule.value) * foot
        wide = np.array([0.02, 0.01, 0.02])
    joints = {
        "hip": hip,
        "knee": knee,
        "ankle": ankle,
        "ball": combine([cue("foot_share", ball_at, wide, "ball of a foot of common length")]),
        "toe_tip": combine([cue("foot_end", toe_at, wide, "end of a foot of common length")]),
    }
    return LegPlacement(joints, False)


def _shown_ankle(
    hidden: HiddenLegs, shown: ShownLeg, ankle: Placed, foot: float, from_heel: float
) -> Placed:
    """The ankle by what shows below the hem: the shank's last bit, or the foot's front."""
    at = ankle.position.copy()
    middle = 0.5 * (shown.low + shown.high)
    seen = hidden.hem.height > 1.2 * at[1]
    at[0] = shown.top[0] if seen else middle[0]
    at[2] = shown.top[2] if seen else shown.high[2] - (1.0 - from_heel) * foot
    spread = np.array([0.01, 0.4 * at[1], 0.015 if seen else 0.03])
    note = "shank below the hem" if seen else "behind the foot's front that shows"
    return combine([cue("limb_axis", at, spread, note)])
