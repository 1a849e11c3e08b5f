"""A family of invented characters with known joints, far wider than the demo characters.

Every member is drawn with a fixed seed from the numbers in `params.py`: two to nine heads tall,
legs from a quarter to 60 percent of the height, thin and stout, dressed, horned, helmeted and posed
in many ways. The kinds of each trait are dealt out like cards, so that each occurs as often as its
share says. Nothing is read off a mesh: the joints are where the construction bends.

`family()` lists the members and `build_member` makes one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .bones import make_bones
from .dealing import deal
from .family_fit import fitted
from .figures import Detail, Part, build_figure
from .params import FigureParams, Hand, Head, Pose, Side

__all__ = ["COUNT", "Member", "build_member", "family"]

FloatArray = NDArray[np.float64]
COUNT = 220
"""Members of the family."""
_SEED = 20261125

# Kinds of each trait with their shares of the family.
_HEADS = {"2": 2, "3": 4, "4": 4, "5": 3, "6": 3, "7": 4, "8": 2, "9": 1}
_GIRTH = {"thin": 2, "ordinary": 5, "stout": 2, "belly": 2}
_NECK = {"none": 2, "ordinary": 5, "long": 2}
_HANDS = {"five": 5, "five big": 2, "four": 3, "four fat": 2, "mitten": 3}
_FEET = {"bare": 3, "shoe": 4, "boot": 3, "huge": 3}
_SKIN = {"one": 9, "gloves": 4, "pieces": 3, "robot": 1}
_TOP = {
    "bald": 5,
    "swept": 2,
    "tail": 1,
    "ball": 2,
    "spikes": 2,
    "long": 2,
    "pigtails": 2,
    "horns": 2,
    "ram_horns": 1,
    "antlers": 1,
    "antennae": 1,
    "long_ears": 2,
    "hanging_ears": 2,
    "cat_ears": 1,
    "helmet": 3,
    "closed_helmet": 2,
    "bubble": 2,
    "hat": 2,
}
_WORN = {
    "bare": 6,
    "jersey": 3,
    "tee": 3,
    "waistcoat": 2,
    "coat": 3,
    "cape": 3,
    "cloak": 2,
    "cloak_floor": 1,
    "skirt": 2,
    "skirt_long": 1,
    "skirt_floor": 2,
    "gown": 2,
}
_PROPS = {
    "nothing": 12,
    "belt": 2,
    "scarf": 2,
    "satchel": 2,
    "shield": 2,
    "sword": 2,
    "staff": 1,
    "tail": 2,
    "wings": 1,
}
_POSE = {"t": 4, "a": 5, "down": 3, "one arm up": 2, "knee bent": 2, "arm and knee": 1, "elbows": 2}
_EYES = {"joined": 4, "apart": 4, "none": 2}
_FACES = {"6000": 3, "10000": 4, "1200": 1}
_FRAME = {"y up": 4, "z up": 1}
_NAMES = {"told": 3, "numbers": 1}

_OUTFITS = {
    "bare": (),
    "jersey": ("jersey", "trousers"),
    "tee": ("tee", "shorts"),
    "waistcoat": ("tunic", "trousers", "waistcoat"),
    "coat": ("breeches", "coat"),
    "cape": ("tunic", "trousers", "cape"),
    "cloak": ("tunic", "breeches", "cloak"),
    "cloak_floor": ("tunic", "breeches", "cloak_floor"),
    "skirt": ("tunic", "skirt"),
    "skirt_long": ("tunic", "skirt_long"),
    "skirt_floor": ("tunic", "skirt_floor"),
    "gown": ("gown",),
}
_HIDING = ("skirt_floor", "gown", "cloak_floor")
_LEG_JOINTS = ("hip", "knee", "ankle", "ball", "toe_tip")


@dataclass(frozen=True)
class Member:
    """One character of the family: what it is made from, and in which words to describe it."""

    name: str
    params: FigureParams
    """Before the pose is fitted to the girth."""
    traits: Mapping[str, str]
    """Kind of each trait, such as "pose" to "t"."""
    seed: int
    """Of its hair."""
    detail: Detail
    z_up: bool
    """Written with +Z up and facing -Y, else +Y up and facing +Z."""

    @property
    def hidden(self) -> tuple[str, ...]:
        """Joints of which nothing can be seen, for a garment hangs to the floor."""
        if self.traits["garment"] not in _HIDING:
            return ()
        return tuple(f"{side}_{name}" for side in ("left", "right") for name in _LEG_JOINTS)


def family() -> list[Member]:
    """All members, always the same."""
    rng = np.random.default_rng(_SEED)
    decks = {
        "heads": _HEADS,
        "girth": _GIRTH,
        "neck": _NECK,
        "hands": _HANDS,
        "feet": _FEET,
        "skin": _SKIN,
        "top": _TOP,
        "garment": _WORN,
        "carries": _PROPS,
        "pose": _POSE,
        "eyes": _EYES,
        "faces": _FACES,
        "frame": _FRAME,
        "names": _NAMES,
    }
    dealt = {trait: deal(rng, shares, COUNT) for trait, shares in decks.items()}
    return [
        _member(number, {trait: cards[number] for trait, cards in dealt.items()})
        for number in range(COUNT)
    ]


def _agreed(traits: dict[str, str]) -> dict[str, str]:
    """The traits with what cannot go together put right."""
    t = dict(traits)
    if t["skin"] == "robot":
        t.update(garment="bare", eyes="none", neck="ordinary", girth="ordinary", feet="boot")
        t["top"] = t["top"] if t["top"] in ("antennae", "horns", "helmet") else "bald"
    if t["skin"] == "pieces" and t["garment"] in ("bare", "cape", "coat", "cloak", "gown"):
        t["garment"] = "tee"  # something must hold the pieces together
    if t["skin"] == "pieces" and "skirt" in t["garment"]:
        t["skin"] = "one"
    if t["garment"] in _HIDING and t["pose"] in ("knee bent", "arm and knee"):
        t["pose"] = "t"  # what a hidden leg does cannot be known
    if "cloak" in t["garment"] and t["pose"] == "down":
        t["pose"] = "a"
    if t["garment"] in ("cape", "cloak", "cloak_floor") and t["carries"] in ("satchel", "wings"):
        t["carries"] = "belt"
    if t["carries"] == "staff":
        t["pose"] = "a"
    if t["top"] in ("bubble", "closed_helmet"):
        t["neck"] = "none" if t["neck"] == "long" else t["neck"]
    if t["faces"] == "1200" and t["hands"] in ("five", "five big", "four"):
        t["hands"] = "mitten"  # so few triangles hold no finger
    return t


def _member(number: int, dealt: dict[str, str]) -> Member:
    rng = np.random.default_rng([_SEED, number])
    t = _agreed(dealt)
    heads = float(np.clip(float(t["heads"]) + rng.uniform(-0.5, 0.5), 2.0, 9.0))
    params = _proportions(heads, t, rng)
    params = replace(
        params,
        name=f"m{number:03d}",
        height=float(rng.choice([1.0, 1.7, 1.7, 24.0, 170.0])),
        hand=_hand(t["hands"], heads, rng),
        head=_head(heads, t, rng),
        pose=_pose(t, rng),
        shoes={"bare": "", "shoe": "shoe", "boot": "boot", "huge": "shoe"}[t["feet"]],
        eyes=t["eyes"],
    )
    params = _dressed(params, t, rng)
    words = [t["heads"] + "heads", t["girth"], t["top"], t["garment"], t["pose"]]
    name = "_".join([params.name, *words]).replace(" ", "-")
    t["legs"] = f"{100 * params.hip:.0f}"[:-1] + "0s %"
    small = t["hands"] == "five" and t["skin"] == "one"
    cell = 0.0044 if small else 0.0056
    detail = Detail(cell, int(t["faces"]), 8, 1.35, 0.6)
    return Member(name, replace(params, name=name), t, number, detail, t["frame"] == "z up")


def _proportions(heads: float, t: dict[str, str], rng: np.random.Generator) -> FigureParams:
    """Lengths and girths; relations that hold on all four demo characters are kept."""
    head = 1.0 / heads
    small = float(np.interp(heads, [2.0, 4.0, 7.5], [1.0, 0.5, 0.0]))
    chin = 1.0 - head
    gap = {
        "none": rng.uniform(-0.004, 0.008),
        "ordinary": rng.uniform(0.012, 0.024),
        "long": rng.uniform(0.045, 0.090),
    }[t["neck"]]
    gap = min(gap, 0.22 * chin)
    # height of the hip joint, from a quarter to 60 percent of the height
    low = float(np.interp(heads, [2.0, 4.0, 7.0, 9.0], [0.25, 0.31, 0.42, 0.46]))
    high = float(np.interp(heads, [2.0, 4.0, 7.0, 9.0], [0.275, 0.47, 0.58, 0.60]))
    hip = rng.uniform(low, high)
    trunk = chin - hip
    hip_over = rng.uniform(0.10, 0.125) * trunk / 0.88  # .100 to .117 of crotch to chin on the demo
    ankle = rng.uniform(0.036, 0.046) * (1.5 if t["feet"] == "huge" else 1.0)
    ankle = min(ankle, 0.18 * hip)
    share = rng.uniform(0.490, 0.520)
    wide = {"thin": 0.82, "ordinary": 1.0, "stout": 1.3, "belly": 1.18}[t["girth"]]
    wide *= rng.uniform(0.95, 1.06) * float(np.interp(trunk, [0.2, 0.34], [0.86, 1.0]))
    deep = {"thin": 0.82, "ordinary": 1.0, "stout": 1.35, "belly": 1.2}[t["girth"]]
    deep *= rng.uniform(0.95, 1.06) * float(np.interp(trunk, [0.2, 0.34], [0.9, 1.0]))
    limb = {"thin": 0.76, "ordinary": 1.0, "stout": 1.24, "belly": 1.1}[t["girth"]]
    limb *= rng.uniform(0.94, 1.08)
    leg_limb = limb * float(np.interp(hip, [0.25, 0.5], [0.92, 1.0]))
    arm = rng.uniform(0.80, 0.98) * float(np.interp(heads, [2, 7.5], [0.235, 0.318])) / 0.9
    upper = rng.uniform(0.508, 0.528)
    hips = rng.uniform(0.94, 1.10)
    scale = float(np.interp(trunk, [0.2, 0.36], [0.62, 1.0]))  # of lengths down the trunk
    return FigureParams(
        heads=heads,
        hip=hip,
        crotch=hip - hip_over,
        knee=hip - share * (hip - ankle),
        ankle=ankle,
        neck_gap=gap,
        clavicle_drop=0.038 * scale,
        shoulder_drop=float(rng.uniform(0.040, 0.052)) * scale,
        shoulder_x=float(rng.uniform(0.104, 0.112)) * wide,
        hip_x=max(0.050 * wide * hips, 0.041 * leg_limb),
        upper_arm=arm * upper,
        forearm=arm * (1.0 - upper),
        foot_length=rng.uniform(0.140, 0.160) * (1.4 if t["feet"] == "huge" else 1.0),
        foot_breadth=rng.uniform(0.95, 1.15) * (1.12 if t["feet"] == "huge" else 1.0),
        trunk_width=wide,
        trunk_depth=deep,
        chest=rng.uniform(0.94, 1.04),
        waist=rng.uniform(0.90, 1.08),
        hips=hips,
        belly=rng.uniform(0.03, 0.065) * scale if t["girth"] == "belly" else 0.0,
        bust=float(rng.choice([0.0, 0.2, 0.5, 0.8])),
        shoulders=limb**0.5 * scale,
        arm_girth=limb,
        leg_girth=leg_limb,
        neck_girth=float(np.clip(limb * rng.uniform(0.85, 1.1), 0.6, 1.3)) * (1 - 0.1 * small),
        joint_knobs=rng.uniform(0.6, 1.1) * (1 - 0.3 * small),
        skin=t["skin"],
    )


def _hand(kind: str, heads: float, rng: np.random.Generator) -> Hand:
    length = rng.uniform(0.100, 0.115)
    if kind in ("five", "five big"):
        big = 1.35 if kind == "five big" else 1.0
        return Hand(
            length=length * big,
            finger_length=rng.uniform(0.88, 1.12),
            finger_girth=rng.uniform(0.92, 1.08),
            breadth=rng.uniform(0.95, 1.05),
            nails=heads > 5,
        )
    if kind in ("four", "four fat"):
        fat = kind == "four fat"
        return Hand(
            length=length * (1.15 if fat else 1.05),
            fingers=("thumb", "index", "middle", "pinky"),
            breadth=1.25 if fat else 1.06,
            thickness=1.35 if fat else 1.12,
            finger_length=0.80 if fat else 0.95,
            finger_girth=1.22 if fat else 1.0,
            nails=False,
        )
    return Hand(
        length=length,
        fingers=("thumb", "middle"),
        breadth=rng.uniform(0.92, 1.05),
        thickness=rng.uniform(1.1, 1.3),
        nails=False,
    )


def _head(heads: float, t: dict[str, str], rng: np.random.Generator) -> Head:
    young = float(np.interp(heads, [2.5, 7.0], [1.0, 0.0]))
    return Head(
        width=1.0 + 0.10 * young + rng.uniform(-0.06, 0.06),
        depth=1.0 + rng.uniform(-0.04, 0.04),
        jaw_width=1.0 + rng.uniform(-0.10, 0.08),
        chin=1.0 - 0.45 * young,
        cheeks=0.3 * young + (0.5 if t["girth"] in ("stout", "belly") else 0.0),
        soft=1.0 + 0.7 * young,
        eye_radius=0.060 + 0.026 * young + rng.uniform(-0.003, 0.006),
        eye_x=0.142 + 0.018 * young,
        eye_y=0.495 - 0.080 * young,
        eye_open=1.0 + 0.4 * young,
        nose_length=1.0 - 0.4 * young,
        nose_width=1.0 + rng.uniform(-0.15, 0.3),
        smile=rng.uniform(0.0, 0.9),
        brow=1.0 - 0.6 * young,
        ear=rng.uniform(0.9, 1.15),
    )


def _pose(t: dict[str, str], rng: np.random.Generator) -> Pose:
    kind = t["pose"]
    raised = {"t": 90.0, "down": rng.uniform(14, 24), "knee bent": 60.0, "elbows": 55.0}
    base = Side(
        arm_raise=raised.get(kind, rng.uniform(38, 68)),
        arm_forward=0.0 if kind == "t" else rng.uniform(0, 8),
        elbow=rng.uniform(6, 14),
        leg_out=rng.uniform(3, 6),
        knee=rng.uniform(4, 8),
        toe_out=rng.uniform(3, 14),
        finger_curl=rng.uniform(0.9, 1.6),
    )
    left, right = base, base
    if kind in ("one arm up", "arm and knee"):
        left = replace(base, arm_raise=rng.uniform(125, 150), elbow=rng.uniform(10, 30))
    if kind in ("knee bent", "arm and knee"):
        bend = rng.uniform(35, 65)
        right = replace(base, thigh_forward=0.6 * bend, knee=bend, foot_pitch=0.2 * bend)
    if kind == "elbows":
        left = replace(base, elbow=rng.uniform(25, 70))
        right = replace(base, elbow=rng.uniform(25, 70))
    turn = float(rng.uniform(-12, 12)) if kind in ("one arm up", "elbows") else 0.0
    return Pose(left, right, head_turn=turn)


def _dressed(p: FigureParams, t: dict[str, str], rng: np.random.Generator) -> FigureParams:
    outfit = _OUTFITS[t["garment"]]
    top, grown = t["top"], "skin:" if rng.random() < 0.4 and t["skin"] != "robot" else ""
    hair = top if top in ("swept", "tail", "ball", "spikes", "long", "pigtails") else ""
    gear: tuple[str, ...] = ()
    if not hair and top != "bald":
        shell = top in ("helmet", "closed_helmet", "bubble", "hat")
        gear = (top if shell else grown + top,)
    if t["carries"] in ("belt", "scarf"):
        outfit, props = (*outfit, t["carries"]), ()
    else:
        grows = grown if t["carries"] == "tail" and t["skin"] in ("one", "gloves") else ""
        props = () if t["carries"] == "nothing" else (grows + t["carries"],)
    return replace(p, outfit=outfit, hair=hair, headgear=gear, props=props)


def build_member(member: Member) -> tuple[list[Part], dict[str, FloatArray]]:
    """Parts and joints of a member, in its own frame and units; the same for every call."""
    params = fitted(member.params, member.traits["garment"])
    parts, _ = build_figure(params, member.seed, member.detail)
    # eyes that are not modelled still have a place
    joints = {name: at * params.height for name, at in make_bones(params).joints().items()}
    if member.traits["names"] == "numbers":
        parts = [replace(part, name=f"mesh_{i + 1}") for i, part in enumerate(parts)]
    if member.z_up:
        parts = [replace(part, vertices=_z_up(part.vertices)) for part in parts]
        joints = {name: _z_up(at[None])[0] for name, at in joints.items()}
    return parts, joints


def _z_up(points: FloatArray) -> FloatArray:
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)
