"""The skeleton's signs: leaves for bones, beads for joints, discs for how sure they are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from autoplace.show.figure import Figure, View
from autoplace.show.ink import Band, Ink
from autoplace.show.palette import (
    CARD,
    EYE,
    LEVELS,
    Colour,
    deeper,
    lighter,
    mix,
    side_colour,
)
from autoplace.skeleton.model import Joint

__all__ = ["FINGERS", "Look", "bead", "draw_joints", "is_finger", "is_tip", "leaf", "spread_disc"]

Point = tuple[float, float]

FINGERS = ("thumb", "index", "middle", "ring", "pinky")


@dataclass(frozen=True)
class Look:
    """How large and how strong the signs are drawn in one view."""

    bead: float
    """Radius of a joint's bead, pixels."""
    leaf: float
    """Greatest half width of a bone's leaf, pixels."""
    fingers: float = 1.0
    """Factor on both for finger joints."""
    faded: str = ""
    """Side that is drawn pale and first: the far one in a side view."""


@lru_cache(maxsize=512)
def is_finger(name: str) -> bool:
    """True for the joints of a hand beyond the wrist."""
    return any(f"_{finger}_" in name for finger in FINGERS)


def is_tip(joint: Joint) -> bool:
    """True for helpers at the end of a chain."""
    return joint.name.endswith("_tip") or joint.name == "head_top"


def draw_joints(
    ink: Ink, view: View, figure: Figure, joints: list[Joint], look: Look, beads: bool = True
) -> None:
    """Spreads, bones and beads of the joints (or bones alone), those nearer the eye on top.

    A bone is drawn when its child is among `joints` and its parent exists; where the parent is
    outside the view, the bone runs out of it.
    """
    ink = ink.inside(view.box)

    def order(joint: Joint) -> tuple[bool, float]:
        near = not (look.faded and joint.name.startswith(look.faded + "_"))
        return near, view.nearness(figure.places[joint.name])

    ordered = sorted(joints, key=order)
    for joint in ordered:
        radius = figure.spreads[joint.name] * view.scale
        if beads and radius >= 1.0:
            spot = view.point(figure.places[joint.name])
            spread_disc(ink, spot, radius, _ink_of(joint.name, look))
    for joint in ordered:
        if joint.parent is not None and joint.parent in figure.places:
            _bone(ink, view, figure, joint, look)
    for joint in ordered if beads else ():
        _joint(ink, view, figure, joint, look)


def _ink_of(name: str, look: Look) -> Colour:
    """A joint's colour in this view."""
    colour = side_colour(name)
    pale = look.faded and name.startswith(look.faded + "_")
    return mix(colour, CARD, 0.55) if pale else colour


def _bone(ink: Ink, view: View, figure: Figure, joint: Joint, look: Look) -> None:
    """The leaf from a joint's parent to the joint; a thin line to an eye."""
    assert joint.parent is not None
    start = view.point(figure.places[joint.parent])
    end = view.point(figure.places[joint.name])
    colour = _ink_of(joint.name, look)
    if joint.name.endswith("_eye"):
        # the eyes do not hang on a bone of flesh; a leaf would hide the face
        ink.line(start, end, max(look.leaf * 0.16, 1.0), colour, 0.7)
        return
    half = look.leaf * (look.fingers if is_finger(joint.name) else 1.0)
    if is_finger(joint.name) and joint.parent.endswith("_wrist"):
        half *= 0.7
    leaf(ink, start, end, half, colour)


def leaf(ink: Ink, start: Point, end: Point, half: float, colour: Colour) -> None:
    """A bone's leaf from parent to child with a pale vein, no fatter than its length allows."""
    length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    if length < 1.0:
        return
    half = min(half, 0.16 * length + 0.8)
    bands: list[Band] = [(1.2, CARD, 0.75), (0.0, colour, 0.88)]
    ink.leaf(start, end, half, bands, (lighter(colour, 0.7), 0.75) if half > 3.5 else None)


def spread_disc(ink: Ink, spot: Point, radius: float, colour: Colour) -> None:
    """A soft disc of one standard deviation."""
    bands: list[Band] = [(radius + 0.6, colour, 0.50), (radius - 0.6, lighter(colour, 0.8), 0.55)]
    ink.discs(spot, bands)


def _joint(ink: Ink, view: View, figure: Figure, joint: Joint, look: Look) -> None:
    """A joint's bead, with its marks."""
    place = figure.places[joint.name]
    spot = view.point(place)
    radius = look.bead * (look.fingers if is_finger(joint.name) else 1.0)
    colour = _ink_of(joint.name, look)
    if joint.name.endswith("_eye"):
        ball = figure.eye_radius.get(joint.name, 0.0)
        if ball * view.scale > 3.0:
            ink.ring(spot, ball * view.scale, [(max(radius * 0.13, 0.7), EYE, 0.9)])
        if joint.name in figure.gazes and ball * view.scale > 8.0:
            ahead = view.point(place + figure.gazes[joint.name] * ball * 2.4)
            ink.line(spot, ahead, max(radius * 0.25, 1.0), colour)
        radius = min(radius * 0.8, max(ball * view.scale * 0.5, radius * 0.5))
    kind = "tip" if is_tip(joint) else "root" if joint.parent is None else "joint"
    bead(ink, spot, radius, colour, kind, figure.marked.get(joint.name, ""), joint.locked)


def bead(
    ink: Ink,
    spot: Point,
    radius: float,
    colour: Colour,
    kind: str = "joint",
    level: str = "",
    locked: bool = False,
) -> None:
    """One joint's sign: a bead with a pale heart; a small ring for a tip; a lozenge for the root.

    A ring in the finding's colour stands around a joint with a finding, a bar under a locked one.
    """
    if level:
        outer, half = radius * 1.7 + 1.8, max(radius * 0.17, 0.9)
        ink.ring(spot, outer, [(half + 1.0, CARD, 0.9), (half, LEVELS[level], 1.0)])
    if locked:
        reach, down = radius * 1.3, radius * 1.55 + 1.5
        ends = (spot[0] - reach, spot[1] + down), (spot[0] + reach, spot[1] + down)
        ink.line(*ends, radius * 0.55 + 2.4, CARD, 0.95)
        ink.line(*ends, radius * 0.55, deeper(colour))
    if kind == "tip":
        ring, line = radius * 0.60, max(radius * 0.17, 0.5)
        ink.discs(
            spot,
            [(ring + line + 1, CARD, 0.9), (ring + line, colour, 1.0), (ring - line, CARD, 1.0)],
        )
    elif kind == "root":
        ink.lozenge(spot, [(radius * 1.75 + 1.8, CARD, 0.95), (radius * 1.75, colour, 1.0)])
        ink.disc(spot, radius * 0.5, CARD)
    else:
        bands: list[Band] = [(radius + 1.2, CARD, 0.95), (radius, colour, 1.0)]
        if radius > 3.0:
            bands.append((radius * 0.36, lighter(colour, 0.88), 1.0))
        ink.discs(spot, bands)
