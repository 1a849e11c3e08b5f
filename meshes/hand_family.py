"""A family of invented hands with known joints, each with a piece of forearm.

Every member is drawn with a fixed seed: mittens to five fingers, bony to fat, claws and nails,
fingers spread, touching or grown together, flat to a loose fist, gloves with cuffs, rings,
bracelets and things held, 200 to 200,000 faces, turned anyhow. The kinds of each trait are dealt
out like cards, so that each occurs as often as its share says. Nothing is read off a mesh: the
joints are where the construction bends.

The bones are drawn from published spreads: lengths from radiographs (Buryanov & Kotiuk 2010), where
they begin from Buchholz et al. 1992, the web from the share of a finger that can be seen (.72 by
ANSUR II, .78 by Chatzioglou et al. 2024). `hand_family()` lists the members, and
`hand_family(1)`, `hand_family(2)` and so on as many others of the same kinds, all of which may be
looked at while tuning; `hand_clay.build_hand` makes one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .dealing import deal

__all__ = [
    "COUNT",
    "NAMES",
    "SHARES",
    "HandMember",
    "HandPlan",
    "Ray",
    "hand_family",
    "member_of",
    "rays_of",
]

FloatArray = NDArray[np.float64]
COUNT = 240
"""Members of the family."""
_SEED = 20261126

NAMES: Mapping[str, tuple[str, ...]] = {
    "five": ("thumb", "index", "middle", "ring", "pinky"),
    "four": ("thumb", "index", "middle", "pinky"),
    "three": ("thumb", "index", "pinky"),
    "mitten": ("thumb", "middle"),
    "thumbless": ("middle",),
}
"""Fingers of each kind of hand, from the thumb on."""

# Kinds of each trait with their shares of the family.
_KINDS = {"five": 20, "four": 10, "three": 5, "mitten": 6, "thumbless": 1}
_GIRTH = {"bony": 4, "ordinary": 8, "thick": 4, "fat": 4}
_LENGTH = {"short": 3, "ordinary": 7, "long": 3}
_ENDS = {"round": 8, "tapered": 4, "nails": 4, "long nails": 2, "claws": 3}
_CLOSE = {"spread": 6, "ordinary": 8, "touching": 4, "fused": 2}
_CURL = {"flat": 5, "relaxed": 8, "curled": 5, "fist": 1}
_THUMB = {"beside": 5, "ordinary": 8, "under": 3, "along": 3}
_WORN = {"nothing": 12, "cuff": 3, "ring": 2, "bracelet": 2, "held": 1}
_RELIEF = {"none": 4, "slight": 6, "bony": 4}
_FACES = {"200": 2, "500": 3, "1000": 4, "3000": 6, "10000": 6, "50000": 2, "200000": 1}
SHARES: Mapping[str, Mapping[str, int]] = {
    "kind": _KINDS,
    "girth": _GIRTH,
    "length": _LENGTH,
    "ends": _ENDS,
    "closeness": _CLOSE,
    "curl": _CURL,
    "thumb": _THUMB,
    "worn": _WORN,
    "relief": _RELIEF,
    "faces": _FACES,
}
"""The kinds of every trait."""

# Bones in mm with one standard deviation: metacarpal, proximal, middle, end phalanx with the soft
# tip (Buryanov & Kotiuk 2010). With the carpals, 7 % of the hand (Buchholz et al. 1992), the middle
# ray's 156.9 mm make a hand of 168.7.
_HAND_MM = 168.7
_BONES: Mapping[str, tuple[tuple[float, float], ...]] = {
    "thumb": ((46.22, 3.9), (31.57, 3.1), (27.34, 1.6)),
    "index": ((68.12, 6.3), (39.78, 4.9), (22.38, 2.5), (19.66, 2.3)),
    "middle": ((64.60, 5.4), (44.63, 3.8), (26.33, 3.0), (21.35, 1.9)),
    "ring": ((58.00, 5.1), (41.37, 3.9), (25.65, 3.3), (21.25, 2.2)),
    "pinky": ((53.69, 4.4), (32.74, 2.8), (18.11, 2.5), (19.69, 2.5)),
}
_OWN = 0.4
"""Part of a bone's spread that it does not share with the other bones of its hand: most of the
spread is that people are large or small (no source)."""
# Towards the thumb's side in breadths between neighbouring fingers, and how far the knuckle lies
# behind the middle one's, shares of the hand (by eye, about as Buchholz et al. 1992 give it)
_PLACES: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "five": {
        "index": (1.5, 0.010),
        "middle": (0.5, 0.0),
        "ring": (-0.5, 0.022),
        "pinky": (-1.5, 0.055),
    },
    "four": {"index": (1.0, 0.005), "middle": (0.0, 0.0), "pinky": (-1.0, 0.040)},
    "three": {"index": (0.5, 0.0), "pinky": (-0.5, 0.020)},
    "mitten": {"middle": (0.0, 0.0)},
    "thumbless": {"middle": (0.0, 0.0)},
}
# Radius of a finger, share of the hand: 16 to 20 mm broad on a hand of 190 (by eye)
_RADII = {"bony": 0.036, "ordinary": 0.045, "thick": 0.056, "fat": 0.070}
_MORE_ROOM = {"five": 0.85, "four": 1.15, "three": 1.45, "mitten": 1.3, "thumbless": 1.3}
_BENDS = {
    "flat": (3.0, 4.0, 2.0),
    "relaxed": (18.0, 22.0, 12.0),
    "curled": (38.0, 42.0, 25.0),
    "fist": (72.0, 88.0, 52.0),
}
"""Bend at knuckle, middle and end joint, degrees; the relaxed hand has 45, 30, 20 at most (section
4.5 of the sources: medical dictionary)."""
# out to the side and to the palm, degrees
_THUMB_AIMS = {
    "beside": (48.0, 12.0),
    "ordinary": (36.0, 25.0),
    "under": (16.0, 48.0),
    "along": (18.0, 10.0),
}


@dataclass(frozen=True)
class Ray:
    """One finger in the hand's own frame, lengths as shares of the hand before it is scaled."""

    name: str
    base: FloatArray
    """(3,) where the metacarpal begins."""
    joints: FloatArray
    """(4, 3) base joint, two bends, end of the finger."""
    backs: FloatArray
    """(3, 3) unit, for each bone the direction of its back."""
    radius: float
    """At the base of the finger."""


@dataclass(frozen=True)
class HandPlan:
    """The numbers one hand is made from. Lengths are shares of the hand's length."""

    kind: str
    radius: float
    spacing: float
    """Between the knuckles of neighbouring fingers."""
    fan: float
    """Angle between neighbouring fingers, degrees."""
    bends: tuple[float, float, float]
    bones: Mapping[str, tuple[float, ...]]
    """Metacarpal (the thumb's too) and phalanges by finger."""
    web: float
    """Where the web lies, share of the way from the knuckle to the fingertip."""
    taper: float
    """Radius near the fingertip, share of that at the base."""
    ends: str
    end_length: float
    """Of claws or nails beyond the finger."""
    fused: tuple[str, str] | None
    thumb: tuple[float, float, float]
    """Out to the side, to the palm, bend of its two joints; degrees."""
    thickness: float
    """Of the palm, against people's."""
    relief: float
    """Height of bumps over the joints, radii of the finger."""
    depth: float
    """How far joints lie towards the back from the middle of the finger, radii."""
    wrist: tuple[float, float]
    """Bend to the palm and to the side, degrees."""
    arm: float
    """Length of forearm."""
    worn: str
    part: bool
    """A cuff is a part of its own."""


@dataclass(frozen=True)
class HandMember:
    """One hand: what it is made from, and in which words to describe it."""

    name: str
    plan: HandPlan
    traits: Mapping[str, str]
    side: str
    turn: FloatArray
    """(3, 3) rotation of the whole."""
    length: float
    """Of the hand, share of a character's height."""
    faces: int
    number: int
    deal: int = 0
    """Of the cards: 0 is the family that is reported on."""

    @property
    def tuning(self) -> bool:
        """May be looked at while tuning; the others are only reported on."""
        return self.deal > 0 or self.number % 2 == 0


def hand_family(deal_number: int = 0) -> list[HandMember]:
    """All members, always the same.

    Args:
        deal_number: 0 for the family; others deal the same cards anew with another seed, so that
            what is learned on them is tried on members of the first one.
    """
    seed = _SEED + deal_number
    letter = f"g{deal_number}_" if deal_number else "h"
    rng = np.random.default_rng(seed)
    dealt = {trait: deal(rng, shares, COUNT) for trait, shares in SHARES.items()}
    members = []
    for number in range(COUNT):
        traits = {trait: cards[number] for trait, cards in dealt.items()}
        if len(NAMES[traits["kind"]]) < 4 and traits["closeness"] == "fused":
            traits["closeness"] = "ordinary"
        if traits["worn"] == "held" and traits["curl"] != "fist":
            traits["curl"] = "curled"
        if int(traits["faces"]) < 500 and traits["ends"] == "long nails":
            traits["ends"] = "nails"
        members.append(member_of(number, traits, seed, letter))
    return [replace(member, deal=deal_number) for member in members]


def member_of(number: int, traits: dict[str, str], seed: int, letter: str) -> HandMember:
    """One hand drawn from its traits.

    Args:
        number: in its family. traits: a kind of each of `SHARES`.
        seed: of its family. letter: that its name begins with.
    """
    rng = np.random.default_rng([seed, number])
    kind = traits["kind"]
    fingers = NAMES[kind]
    radius = _RADII[traits["girth"]] * _MORE_ROOM[kind] * rng.uniform(0.9, 1.1)
    radius *= 1.0 if kind == "five" else 1.0 / _MORE_ROOM[kind] ** 0.3
    spacing, fan = _room(rng, traits["closeness"], radius, len(fingers))
    stretch = {"short": 0.75, "ordinary": 1.0, "long": 1.3}[traits["length"]]
    shared = rng.normal(0.0, 1.0, 2)
    bones = {
        name: tuple(
            (mean + spread * (0.7 * shared[min(k, 1)] + _OWN * rng.normal()))
            / _HAND_MM
            * (1.0 if k == 0 else stretch)
            for k, (mean, spread) in enumerate(_BONES[name])
        )
        for name in fingers
    }
    out, palmward = _THUMB_AIMS[traits["thumb"]]
    bend = _BENDS[traits["curl"]]
    long = {"claws": rng.uniform(0.07, 0.18), "long nails": rng.uniform(0.03, 0.06)}
    plan = HandPlan(
        kind=kind,
        radius=radius,
        spacing=spacing,
        fan=fan,
        bends=(
            bend[0] * rng.uniform(0.75, 1.25),
            bend[1] * rng.uniform(0.8, 1.2),
            bend[2] * rng.uniform(0.8, 1.2),
        ),
        bones=bones,
        web=float(np.clip(rng.normal(0.25, 0.025), 0.2, 0.3)),
        taper=rng.uniform(0.55, 0.68) if traits["ends"] == "tapered" else rng.uniform(0.76, 0.98),
        ends=traits["ends"],
        end_length=long.get(traits["ends"], 0.0),
        fused=_fused(rng, fingers) if traits["closeness"] == "fused" else None,
        thumb=(
            out * rng.uniform(0.85, 1.15),
            palmward * rng.uniform(0.8, 1.2),
            rng.uniform(4.0, 14.0) + 0.25 * bend[1],
        ),
        thickness=rng.uniform(0.85, 1.15) * (radius / 0.045) ** 0.5,
        relief={"none": 0.0, "slight": 0.10, "bony": 0.26}[traits["relief"]],
        depth=rng.uniform(0.0, 0.25),
        wrist=(rng.normal(0.0, 9.0), rng.normal(0.0, 6.0)),
        arm=rng.uniform(0.5, 1.3),
        worn=traits["worn"],
        part=bool(rng.random() < 0.5),
    )
    turn = _any_turn(rng)
    side = "left" if rng.random() < 0.5 else "right"
    count = int(int(traits["faces"]) * rng.uniform(0.9, 1.1))
    return HandMember(
        name=f"{letter}{number:03d}",
        plan=plan,
        traits=traits,
        side=side,
        turn=turn,
        length=rng.uniform(0.08, 0.16),
        faces=count,
        number=number,
    )


def _room(
    rng: np.random.Generator, closeness: str, radius: float, count: int
) -> tuple[float, float]:
    """Distance of neighbouring knuckles and angle between neighbouring fingers, degrees."""
    people = rng.uniform(0.088, 0.108) if count == 5 else rng.uniform(0.105, 0.13)
    if closeness == "spread":
        return max(people, 2.0 * radius), rng.uniform(10.0, 17.0)
    if closeness == "touching":
        # from a gap of a fifth of the radius to an overlap of a twentieth
        return radius * rng.uniform(1.95, 2.2), rng.uniform(-0.5, 0.8)
    return max(people, 2.1 * radius), rng.uniform(3.0, 8.0)


def _fused(rng: np.random.Generator, fingers: tuple[str, ...]) -> tuple[str, str]:
    """Two neighbouring fingers."""
    k = int(rng.integers(1, len(fingers) - 1))
    return fingers[k], fingers[k + 1]


def _any_turn(rng: np.random.Generator) -> FloatArray:
    """(3, 3) rotation, all equally likely."""
    q = rng.normal(size=4)
    w, x, y, z = q / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def rays_of(plan: HandPlan) -> list[Ray]:
    """The bones of a left hand: +X to the thumb, +Y to the fingers, +Z out of the back."""
    rays = []
    middle = plan.bones["middle" if "middle" in plan.bones else "index"]
    places = _PLACES[plan.kind]
    for name, bones in plan.bones.items():
        if name == "thumb":
            rays.append(_thumb(plan, bones))
            continue
        aside, behind = places[name]
        x = aside * plan.spacing
        # metacarpal bases lie closer together than the knuckles (Buchholz et al. 1992: .35 of the
        # hand's breadth for knuckles .75 apart)
        base = np.array([0.45 * x, 0.073, 0.0])
        knuckle = np.array([x, 0.073 + middle[0] - behind, 0.0])
        # the knuckles form an arch towards the back
        knuckle[2] -= 0.02 * aside**2
        angle = np.radians(plan.fan * aside)
        way = np.array([np.sin(angle), np.cos(angle), 0.0])
        joints, backs = _bent(knuckle, bones[1:], way, np.array([0.0, 0.0, 1.0]), plan.bends)
        radius = plan.radius * (0.86 if name == "pinky" and plan.kind == "five" else 1.0)
        rays.append(Ray(name, base, joints, backs, radius))
    return rays


def _thumb(plan: HandPlan, bones: tuple[float, ...]) -> Ray:
    """The thumb: its metacarpal begins 7 % of the hand beyond the wrist, .196 of the hand's breadth
    to the side (Buchholz et al. 1992), and towards the palm."""
    out, palmward = np.radians(plan.thumb[0]), np.radians(plan.thumb[1])
    outer = max(aside for aside, _ in _PLACES[plan.kind].values()) * plan.spacing
    edge = max(outer + 1.1 * plan.radius, 0.16 if len(plan.bones) == 2 else 0.0)
    base = np.array([max(0.392 * edge, 0.075), 0.073, -0.03 * plan.thickness])
    # a thumb along the hand lies beside it, not in it
    free = edge + 1.9 * plan.radius - base[0]
    reach = sum(bones) * np.cos(palmward)
    bend = plan.thumb[2]
    if plan.thumb[0] < 25.0 and palmward < np.radians(20.0):
        out = max(out, float(np.arcsin(min(free / reach, 0.9))))
        bend *= 0.25
    way = np.array(
        [np.sin(out) * np.cos(palmward), np.cos(out) * np.cos(palmward), -np.sin(palmward)]
    )
    # it bends across the hand: its back looks to its own side, and a little to the hand's back
    back = np.array([np.cos(out), -np.sin(out), 0.75])
    back -= (back @ way) * way
    back /= np.linalg.norm(back)
    bends = (0.0, bend, bend)
    joints, backs = _bent(base, bones, way, back, bends)
    return Ray("thumb", base, joints, backs, 1.12 * plan.radius)


def _bent(
    start: FloatArray,
    lengths: tuple[float, ...],
    way: FloatArray,
    back: FloatArray,
    bends: tuple[float, ...],
) -> tuple[FloatArray, FloatArray]:
    """Joints (4, 3) of a finger that bends away from its back, and the back of each bone (3, 3)."""
    joints, backs, angle = [start], [], 0.0
    for length, bend in zip(lengths, bends, strict=True):
        angle += np.radians(bend)
        joints.append(joints[-1] + length * (np.cos(angle) * way - np.sin(angle) * back))
        backs.append(np.sin(angle) * way + np.cos(angle) * back)
    return np.array(joints), np.array(backs)
