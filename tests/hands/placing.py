"""Measures and places the invented hands, and scores what comes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np

from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.place.hands import HandPlacement, place_hand
from meshes.hand_boxes import build_boxes
from meshes.hand_clay import KnownHand, build_hand
from meshes.hand_family import HandMember
from tests.report_options import at_once

JOINTS = ("1", "2", "3", "tip")
MEDIAN, HIGH, COUNTED = 3.0, 8.0, 0.98
"""Targets: error of joints in percent of the hand's length, median and 95th percentile, and share
of hands whose fingers are counted right."""


@dataclass(frozen=True)
class Scored:
    """One hand, placed or not."""

    member: HandMember
    found: tuple[str, ...]
    """Names of the fingers found."""
    errors: Mapping[str, float] = field(default_factory=dict)
    """Percent of the hand's length by joint, such as "index_2"; empty if the fingers are wrong."""
    spreads: Mapping[str, float] = field(default_factory=dict)
    """What the placing itself gave, percent of the hand's length."""
    notes: tuple[str, ...] = ()
    hinge_off: float = 0.0
    """Worst angle between a finger's hinge and the one it was built with, thumb left out."""
    aside: bool = False
    """A finger lies nearer to another known finger than to its own."""
    twist: float = 0.0
    """Angle between the palm found and the one built, degrees."""
    side: tuple[str, float] = ("", 0.5)
    """Left or right as the hand's shape shows it, and how surely."""

    @property
    def counted(self) -> bool:
        """As many fingers as were built."""
        return len(self.found) == len(self.member.plan.bones)

    @property
    def named(self) -> bool:
        """Every finger has its own name."""
        return set(self.found) == set(self.member.plan.bones) and not self.aside


@dataclass(frozen=True)
class Guess:
    """What is known of an arm before its hand is measured: as far off as arms are placed."""

    wrist: np.ndarray
    forearm: np.ndarray
    length: float


def guess_of(hand: KnownHand) -> Guess:
    """A wrist off along the arm by a tenth of a hand or less, an arm off by five degrees, a length
    off by up to a fifth."""
    rng = np.random.default_rng([7, hand.member.number])
    forearm = hand.forearm + 0.06 * rng.normal(size=3)
    forearm /= np.linalg.norm(forearm)
    wrist = hand.wrist + rng.uniform(-0.1, 0.1) * hand.length * hand.forearm
    wrist = wrist + 0.02 * hand.length * rng.normal(size=3)
    return Guess(wrist, forearm, hand.length * rng.uniform(0.82, 1.2))


def place(hand: KnownHand) -> tuple[HandPlacement | None, HandShape | None, str]:
    """The hand placed; what was measured; why it was not."""
    guess = guess_of(hand)
    shape = HandAtWrist(
        hand.vertices, hand.faces, guess.wrist, guess.forearm, guess.length, hand.member.side
    ).measure()
    if not isinstance(shape, HandShape):
        return None, None, str(shape)
    return place_hand(shape), shape, ""


def build(member: HandMember) -> KnownHand:
    """The hand of a member of either family."""
    return build_boxes(member) if "sides" in member.traits else build_hand(member)


def score(member: HandMember, pictures: Path | None = None) -> Scored:
    """One member built, placed and scored."""
    hand = build(member)
    placement, shape, why = place(hand)
    if pictures is not None:
        from tests.hands.pictures import picture

        picture(pictures / f"{member.name}.png", hand, placement)
    if placement is None or shape is None:
        return Scored(member, (), notes=(why,))
    return scored(hand, placement)


def scored(hand: KnownHand, placement: HandPlacement) -> Scored:
    """How far a placed hand is from the known one."""
    found = tuple(placement.chains)
    cosine = float(np.clip(placement.palm_normal @ hand.palm, -1.0, 1.0))
    likely = placement.likely_side
    one = Scored(
        hand.member,
        found,
        notes=placement.notes,
        twist=float(np.degrees(np.arccos(cosine))),
        side=(likely.side, likely.sure) if likely is not None else ("", 0.5),
    )
    if set(found) != set(hand.joints):
        return one
    percent = 100.0 / hand.length
    errors, spreads, aside, off = {}, {}, False, 0.0
    middles = {name: chain[1:].mean(axis=0) for name, chain in hand.joints.items()}
    for name, chain in placement.chains.items():
        places = np.array([point.position for point in chain])
        gaps = {n: np.linalg.norm(m - places[1:].mean(axis=0)) for n, m in middles.items()}
        aside |= min(gaps, key=gaps.__getitem__) != name
        if name != "thumb":
            off = max(off, _hinge_angle(hand.joints[name], placement.hinges[name]))
        for joint, at, known, point in zip(JOINTS, places, hand.joints[name], chain, strict=True):
            errors[f"{name}_{joint}"] = float(np.linalg.norm(at - known)) * percent
            spreads[f"{name}_{joint}"] = point.spread * percent
    return replace(one, errors=errors, spreads=spreads, hinge_off=off, aside=aside)


def _hinge_angle(chain: np.ndarray, hinge: np.ndarray) -> float:
    """Angle between a hinge and the normal of a finger's own bend plane; 0 for straight ones."""
    normal = np.cross(chain[1] - chain[0], chain[3] - chain[1])
    size = np.linalg.norm(normal)
    if size < 0.1 * np.linalg.norm(chain[1] - chain[0]) * np.linalg.norm(chain[3] - chain[1]):
        return 0.0
    return float(np.degrees(np.arccos(np.clip(abs(normal @ hinge) / size, 0.0, 1.0))))


def score_all(
    members: list[HandMember], workers: int = 2, pictures: Path | None = None
) -> list[Scored]:
    """Members in the order given, several at once."""
    return at_once(partial(score, pictures=pictures), members, workers)


def all_errors(found: list[Scored], joint: str = "") -> np.ndarray:
    """Errors of all joints, or of those whose name ends so."""
    return np.array([e for one in found for name, e in one.errors.items() if name.endswith(joint)])
