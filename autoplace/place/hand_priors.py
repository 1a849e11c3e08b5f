"""Where the joints of a hand lie, as shares of what can be measured on it; with sources.

Published values are for bones of adult people: the knuckle lies 28 percent of the finger behind
the crease (ANSUR II palm lengths with the joint centres of Buchholz et al. 1992). Modelled hands
differ: many place the knuckle hardly behind the web. So the expectation lies between, with a
spread that covers both, and the skin over the knuckle decides where it shows.

The web here is where the gap between two fingers is as thick as they are, which lies about a
radius of the finger (a tenth of the visible finger) behind the edge of the skin. On young women of
the open dataset the knuckles lie .01 (index) to .03 (little finger) of the hand behind it, the
middle joints at .32 to .36 and the end joints at .62 to .70 of the visible finger.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from autoplace.place.chain_search import BonePrior, KnucklePrior

__all__ = ["HandPriors", "ThumbPrior"]


@dataclass(frozen=True)
class ThumbPrior:
    """Joints of the thumb, with one standard deviation each. Lengths are shares of the hand's
    length unless said otherwise."""

    base: tuple[float, float, float] = (0.13, 0.15, 0.015)
    """Carpometacarpal joint from the wrist: to the thumb's side, beyond, out of the palm. (.09,
    .07, palmward) in Buchholz et al. 1992; (.14, .18, .01) in the dataset's young women."""
    base_spread: float = 0.05
    metacarpal: tuple[float, float] = (0.95, 0.25)
    """Carpometacarpal to metacarpophalangeal joint, share of the bone beyond: 1.28 in Buchholz et
    al. 1992, .84 in the dataset's young women."""
    knuckle: tuple[float, float, float] = (-0.05, 0.07, 0.06)
    """Metacarpophalangeal joint beyond the web between thumb and index finger (dataset, young
    women: -.03 to -.07), with spreads behind and beyond that: a thumb that is grown or pressed to
    the hand has its web too far out, one drawn out of a box's side too far in."""
    free: tuple[float, float] = (0.345, 0.035)
    """Metacarpophalangeal joint to the end (Buchholz et al. 1992: .354; dataset, young women:
    .345)."""
    last_bone: tuple[float, float] = (0.44, 0.04)
    """Interphalangeal joint to the end, share of what lies beyond the metacarpophalangeal joint
    (Buchholz et al. 1992: .158 / .354 = .446; dataset, young women: .44)."""
    knuckle_depth: float = 1.25
    """Of the metacarpophalangeal joint under the skin of the thumb's back, radii of the thumb
    (1.0 to 1.4 in the dataset's young women)."""
    joint_depth: float = 0.65
    """The same of the interphalangeal joint (.5 there; .8 for the middle of the bone)."""


def _bones() -> dict[str, BonePrior]:
    # first bone: .50 to .53 of the finger in Buchholz et al. 1992, .35 to .40 in the dataset;
    # last bone: .19 to .22 and .29 to .35
    shares = {"index": (0.33, 0.65), "middle": (0.35, 0.69), "ring": (0.33, 0.65)}
    shares["pinky"] = (0.29, 0.61)
    return {
        name: BonePrior((two, 0.07), (three, 0.06), (0.41, 0.05), (0.29, 0.05))
        for name, (two, three) in shares.items()
    }


def _knuckles() -> KnucklePrior:
    # .157 from the crease, so about .11 from where the gap is filled (Buchholz et al. 1992 with
    # ANSUR II); .01 in the dataset; other makers between
    return KnucklePrior(0.05, 0.05, 0.015, {"middle": 0.0, "ring": 0.008, "pinky": 0.015})


@dataclass(frozen=True)
class HandPriors:
    """All of a hand."""

    knuckles: KnucklePrior = field(default_factory=_knuckles)
    bones: Mapping[str, BonePrior] = field(default_factory=_bones)
    thumb: ThumbPrior = field(default_factory=ThumbPrior)
    plane_offset: float = 0.15
    """How far joints of a finger may lie beside its bend plane before it gives way, radii."""
    plane_turn: float = 12.0
    """Spread, degrees, of a finger's bend plane about the one at right angles to the palm."""
    thumb_plane_turn: float = 30.0
    """The same of the thumb about the plane that runs across the hand."""
    turn_sharpness: float = 0.12
    """Turn of the skin over a joint, radians, that makes the place e times as likely (no source;
    chosen so that a bump of .3 on the back outweighs two spreads of the expectation)."""
    knuckle_depth: float = 0.85
    """Of the knuckle under the skin of the back, in radii of the finger: between .5 (dataset,
    young women) and 1.3 (the middle of the bone's head, from memory)."""
    joint_depth: float = 0.6
    """The same of the interphalangeal joints: .4 in the dataset, .85 for the middle of the bone."""

    def bones_of(self, name: str) -> BonePrior:
        """What is expected of a finger; of the middle one, if the name is none of the usual."""
        return self.bones.get(name, self.bones["middle"])
