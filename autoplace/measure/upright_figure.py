"""Is what stands there one upright figure, and no hand, animal or lump? Refused in one sentence
that says what to do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import NotACharacter
from autoplace.measure.frame_record import Frame
from autoplace.measure.limb_record import Limb, Limbs
from autoplace.measure.lone_hand import find_lone_hand, has_thumb
from autoplace.measure.not_found import NotFound
from autoplace.measure.separate_bodies import count_bodies
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_shape import TrunkShape

__all__ = [
    "is_askew",
    "must_be_a_figure",
    "must_be_no_hand",
    "must_be_one_body",
    "must_have_a_trunk",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LARGEST_VOLUME = 0.3
"""Of a figure, share of its height cubed. An adult has 0.012 (65 litres, 1.75 m), a ball of 0.8 of
the height with short limbs 0.27 (common practice, no source)."""
ASKEW = 3.0
"""Degrees from the axes beyond which only a figure with all its limbs is believed: fingers and
twigs look like some of them from one side or another (common practice, no source)."""
UPRIGHT = 10.0
"""Degrees from one of the file's axes within which a posed figure's up is found: its two halves are
unlike, and lean the plane between them (common practice, no source)."""
LEGS_ALIKE = 0.8
"""Of two legs that a figure stands on the shorter is this share of the longer at least (common
practice, no source)."""
HAND_ON_FIGURE = 0.11
"""Length of a hand on a figure, heights (US Army 2012 survey)."""
BESIDE_MIDDLE = 0.03
"""How far from the middle plane a single leg reaches at least: a hip stands .05 of the height from
it (Bell 1990 by the templates' sources), a tail in it."""


def must_be_one_body(solid: Solid) -> None:
    """One body, and not a lump: known before the limbs are sought, which takes long in a lump.

    Raises:
        NotACharacter: too much of the cube of its height is filled, or several figures stand there.
    """
    volume = float(solid.inside.sum()) * solid.cell**3
    if volume > LARGEST_VOLUME:
        raise NotACharacter(
            f"solid: this fills {100 * volume:.0f} percent of the cube of its height, so no head "
            "and limbs stand out; if it is a character, check --up, or leave out with --leave-out "
            "what it wears or stands in."
        )
    bodies = count_bodies(solid)
    if bodies > 1:
        number = {2: "two", 3: "three"}.get(bodies, str(bodies))
        raise NotACharacter(
            f"solid: {number} figures stand in this file; leave out the parts of all but one with "
            "--leave-out, or export each character to a file of its own."
        )


def must_be_a_figure(limbs: Limbs, frame: Frame, *, hidden: bool) -> None:
    """An upright figure has at least two legs, or a leg and an arm, or two arms over a skirt.

    Args:
        limbs: the body's branches, working frame. frame: where it stands in the file.
        hidden: a skirt hides its legs.

    Raises:
        NotACharacter: anything else, as animals on four and hands are.
    """
    kinds = [(limb.kind, limb.side) for limb in limbs.limbs]
    stands_on = [limb for limb in limbs.limbs if limb.kind == "leg"]
    legs = {limb.side for limb in stands_on}
    if len(legs) == 1 and (
        len(stands_on) > 1 or np.abs(stands_on[0].line[:, 0]).max() < BESIDE_MIDDLE
    ):
        legs = set()  # a tail in the middle plane, or fingers: no single leg of a figure
    arms = {side for kind, side in kinds if kind == "arm"}
    on_floor = [
        limb for limb in limbs.limbs if limb.on_floor and limb.kind in ("leg", "arm", "other")
    ]
    if len(on_floor) >= 4:
        raise NotACharacter(
            f"limbs: {len(on_floor)} limbs stand on the floor; animals on four cannot be placed, "
            "and if parts of the file are not the figure, leave them out with --leave-out."
        )
    if not hidden and (len(legs) + len(arms) < 2 or not legs):
        raise NotACharacter(
            f"limbs: {len(legs)} legs and {kinds.count(('arm', 'left'))} left and "
            f"{kinds.count(('arm', 'right'))} right arms found, so this is not a figure upright on "
            "two legs; animals on four cannot be placed, a hand alone can with autoplace hands, "
            "and for a figure check --up and --forward, or leave out the parts that hide it with "
            "--leave-out."
        )
    askew = is_askew(frame)
    on_two = _stands_on_two(stands_on)
    # a hand that stands on two fingers has no head between the others
    lacks_one = on_two and len(arms) == 1 and ("head", None) in kinds
    stands = lacks_one or (_is_upright(frame) and (hidden or on_two))
    few = len(legs) + len(arms) < 4 and not stands
    # five fingers may pass for the limbs of a figure; a figure has no third leg
    if askew and (few or len(stands_on) > 2):
        raise NotACharacter(
            f"limbs: {len(stands_on)} legs and {len(arms)} arms found on something that stands "
            "askew to the file's axes, so it is not taken for a figure; if it is one, turn it "
            "upright or say how it stands with --up and --forward; for a hand alone use autoplace "
            "hands."
        )


def must_have_a_trunk(trunk: TrunkShape) -> None:
    """An upright figure's neck is above the place where its legs part.

    Args:
        trunk: level cuts through the body's middle, working frame.

    Raises:
        NotACharacter: it is not, as on a cart or a heap.
    """
    if trunk.neck[1] <= trunk.crotch[1]:
        raise NotACharacter(
            "limbs: what narrows like a neck lies lower than where the legs part, so this is not a "
            "figure upright on two legs; check --up and --forward, or leave out with --leave-out "
            "what the character stands on or in."
        )


def _stands_on_two(legs: Sequence[Limb]) -> bool:
    """Are there two legs, one a side, that reach the floor and are about as long? So a figure is
    believed that is posed or turned on the spot and whose arms are held together."""
    if sorted(str(leg.side) for leg in legs) != ["left", "right"]:
        return False
    steps = (np.linalg.norm(np.diff(leg.line, axis=0), axis=1) for leg in legs)
    lengths = sorted(float(step.sum()) for step in steps)
    return all(leg.on_floor for leg in legs) and lengths[0] > LEGS_ALIKE * lengths[1]


def _is_upright(frame: Frame) -> bool:
    """Whether up is one of the file's axes, as nearly as a posed figure shows it."""
    return bool(np.abs(frame.rotation[1]).max() > np.cos(np.radians(UPRIGHT)))


def is_askew(frame: Frame) -> bool:
    """Whether a figure stands clearly off the file's axes."""
    return bool(np.abs(frame.rotation).max(axis=1).min() < np.cos(np.radians(ASKEW)))


def must_be_no_hand(vertices: FloatArray, faces: IntArray, limbs: Limbs) -> None:
    """What has no eyes and stands anyhow may be a hand, whose fingers pass for limbs.

    Args:
        vertices: (n, 3), faces: (m, 3) the body's surface, working frame. limbs: its branches.

    Raises:
        NotACharacter: it is a hand.
    """
    found = find_lone_hand(HAND_ON_FIGURE * vertices, faces, None)
    if isinstance(found, NotFound) or found.finger_count < 4 or not has_thumb(found):
        return
    feet = np.array([limb.line[-1] for limb in limbs.limbs if limb.kind == "leg"]).reshape(-1, 3)
    behind = (HAND_ON_FIGURE * feet - found.wrist_hint.position) @ found.along < 0.0
    if behind.sum() < 2:  # head and arms may pass for fingers, but no hand goes on in two legs
        raise NotACharacter(
            f"limbs: this looks like a hand with {found.finger_count} fingers, which autoplace "
            "hands is for; if it is a figure, say how it stands with --up and --forward."
        )
