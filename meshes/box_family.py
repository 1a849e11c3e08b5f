"""A second family of invented characters: modelled loop by loop, as figures for games are.

Few uneven triangles, hard edges, tubes stuck in one another, open shells where skin was deleted
under clothes, capes and hair of one layer, eyes that are flat or painted on, boxes for fingers,
rigid boxes with gaps, halves that are not welded on the seam. It shares no shape with the family of
smooth ones. Joints are where the construction bends: the middle of the loop that is turned about.

`box_family()` lists the members, `box_family(1)`, `box_family(2)` and so on as many others of the
same kinds, from the fourth on of wilder ones (`box_kinds`), from the seventh on of more, and from
number 44 on of figures in tunics, all of which may be looked at while tuning; `BoxMember.build`
makes one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import trimesh
from numpy.typing import NDArray

from .box_body import body_nets, joined
from .box_bones import BoxBones, BoxParams, BoxSide, make_box_bones
from .box_garb import ALSO, WILD_HEADWEAR, WILD_PLATES, WILD_WORN, welded
from .box_gear import CARRIED, PLATES, WORN
from .box_heads import FACES, HEADWEAR, eyes_net
from .box_kinds import (
    BELTED,
    BELTED_DECKS,
    FIRST,
    TUNIC_DECKS,
    TUNICS,
    WILD_DECKS,
    lean_of,
    leaning,
    turned_head,
    wild,
    wild_params,
)
from .box_limbs import Style
from .boxes import Net
from .dealing import deal
from .figures import Part

__all__ = ["COUNT", "TRAITS", "BoxMember", "box_family"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
COUNT = 100
"""Members of the family."""
_SEED = 20261129

# Kinds of each trait with their shares of the family.
_DECKS: dict[str, dict[str, int]] = {
    "heads": {"2": 4, "3": 4, "4": 3, "5": 2, "6": 2, "7": 3, "8": 2},
    "build": {"one": 7, "stuck": 4, "parts": 4, "clothes": 3, "robot": 2},
    "sides": {"4": 2, "6": 4, "8": 4, "10": 2},
    "surface": {"hard": 6, "softened": 3},
    "welding": {"welded": 5, "seam open": 2, "flat shaded": 2},
    "girth": {"thin": 2, "ordinary": 5, "stout": 2, "broad": 2},
    "neck": {"none": 3, "ordinary": 4, "long": 1},
    "head": {"oval": 5, "ball": 3, "box": 2},
    "face": {"nose": 4, "plain": 3, "snout": 3},
    "eyes": {"disc": 3, "painted": 4, "dome": 3},
    "hands": {"block": 2, "mitten": 3, "fist": 2, "three": 1, "four": 3, "five": 3},
    "feet": {"shoe": 4, "drawn": 4, "stump": 1},
    "top": {
        "bare": 3,
        "hair_block": 3,
        "hair_cards": 3,
        "spikes": 1,
        "helmet": 2,
        "closed_helmet": 1,
        "horned_helmet": 1,
        "wizard_hat": 1,
        "top_hat": 1,
        "long_ears": 2,
        "cat_ears": 1,
        "hanging_ears": 1,
    },
    "worn": {
        "nothing": 8,
        "cape": 3,
        "cape_short": 1,
        "skirt": 2,
        "robe": 1,
        "robe_floor": 1,
        "tabard": 2,
    },
    "plates": {"none": 6, "pads": 2, "breastplate": 1, "both": 1},
    "carries": {"nothing": 8, "sword": 2, "staff": 1, "shield": 2, "backpack": 2, "tail": 2},
    "pose": {"t": 6, "a": 5, "down": 3, "squat": 1, "stride": 1, "held": 2},
    "frame": {"y up": 4, "z up": 1},
    "objects": {"several": 3, "one": 2},
}
TRAITS = tuple(_DECKS)
_LEG_JOINTS = ("hip", "knee", "ankle", "ball", "toe_tip")


@dataclass(frozen=True)
class BoxMember:
    """One character of the family."""

    name: str
    params: BoxParams
    style: Style
    traits: Mapping[str, str]
    """Kind of each trait, such as "pose" to "t"."""
    z_up: bool
    """Written with +Z up and facing -Y, else +Y up and facing +Z."""
    number: int
    deal: int = 0
    """Of the cards: 0 is the family that is reported on."""

    @property
    def tuning(self) -> bool:
        """May be looked at while tuning; the others are only reported on."""
        return self.deal > 0 or self.number % 2 == 0

    @property
    def hidden(self) -> tuple[str, ...]:
        """Joints of which nothing can be seen, for a robe hangs to the floor."""
        if self.traits["worn"] not in ("robe", "robe_floor", "gown", "robe_sleeves", "cape_round"):
            return ()
        return tuple(f"{side}_{name}" for side in ("left", "right") for name in _LEG_JOINTS)

    @property
    def untold(self) -> tuple[str, ...]:
        """Beginnings of joints' names of which the construction knows nothing: the fingers of a
        closed fist or a plain block, the toes of a stump."""
        fingers = ("thumb", "index", "middle", "ring", "pinky")
        stems = fingers if self.traits["hands"] in ("block", "fist") else ()
        if self.traits["feet"] == "stump":
            stems = (*stems, "ankle", "ball", "toe")
        return tuple(f"{side}_{stem}" for side in ("left", "right") for stem in stems)

    def build(self) -> tuple[list[Part], dict[str, FloatArray]]:
        """Parts and joints in the member's own frame and units; the same for every call."""
        return _build(self)


def box_family(deal_number: int = 0) -> list[BoxMember]:
    """All members, always the same.

    Args:
        deal_number: 0 for the family; others deal the same cards anew with another seed, so that
            what is tuned on them can be tested on the family.
    """
    seed = _SEED + 1000 * deal_number
    rng = np.random.default_rng(seed)
    decks = _DECKS if deal_number < FIRST else _DECKS | WILD_DECKS
    decks = decks if deal_number < BELTED else decks | BELTED_DECKS
    decks = decks if deal_number < TUNICS else _DECKS | TUNIC_DECKS
    dealt = {trait: deal(rng, shares, COUNT) for trait, shares in decks.items()}
    return [
        _member(number, {trait: cards[number] for trait, cards in dealt.items()}, deal_number, seed)
        for number in range(COUNT)
    ]


def _agreed(traits: dict[str, str]) -> dict[str, str]:
    """The traits with what cannot go together put right."""
    t = dict(traits)
    if t["sides"] == "4" and t["build"] == "one":
        t["sides"] = "6"
    if t["build"] == "robot":
        t.update(sides="4", surface="hard", worn="nothing", girth="ordinary", head="box")
        t["top"] = t["top"] if t["top"] in ("helmet", "cat_ears", "long_ears") else "bare"
        t["feet"] = "shoe"
    if t["build"] == "clothes" and t["feet"] == "stump":
        t["feet"] = "shoe"
    if t["build"] not in ("one", "robot") and t["feet"] == "drawn" and t["sides"] == "4":
        t["feet"] = "shoe"
    if t["carries"] in ("sword", "staff"):
        t["hands"] = "fist"
    if t["carries"] == "staff" and t["pose"] == "down":
        t["pose"] = "held"
    if t["pose"] == "squat" and t["feet"] == "stump":
        t["feet"] = "drawn" if t["sides"] != "4" else "shoe"
    if t["worn"].startswith("robe") and t["pose"] in ("squat", "stride"):
        t["pose"] = "a"
    if t["worn"] == "skirt" and t["pose"] == "squat":
        t["pose"] = "t"
    if t["worn"].startswith("cape") and t["carries"] in ("backpack", "tail"):
        t["carries"] = "nothing"
    if t["head"] == "box" and t["face"] == "nose":
        t["face"] = "plain"
    if t["top"] in ("long_ears", "cat_ears", "hanging_ears") and t["build"] != "robot":
        t["face"] = "snout"
    if t["pose"] == "down" and t["girth"] == "broad":
        t["girth"] = "ordinary"
    return t


def _member(number: int, dealt: dict[str, str], deal_number: int, seed: int) -> BoxMember:
    rng = np.random.default_rng([seed, number])
    t = _agreed(dealt) if deal_number < FIRST else wild(_agreed(wild(dealt)))
    style = Style(
        t["build"],
        int(t["sides"]),
        float(rng.choice([2.0, 3.0, 6.0])) if t["sides"] != "4" else 24.0,
        bool(rng.random() < 0.5),
        t["feet"],
        float(rng.uniform(0.0, 0.14)),
    )
    words = [t["heads"] + "heads", t["build"], t["top"], t["worn"], t["carries"], t["pose"]]
    first = f"b{number:03d}" if deal_number == 0 else f"d{deal_number}b{number:03d}"
    words += [t["also"]] if "also" in t else []
    name = "_".join([first, *words]).replace(" ", "-")
    z_up = t["frame"] == "z up"
    params = _params(t, rng)
    params = params if deal_number < FIRST else wild_params(params, t, rng)
    return BoxMember(name, params, style, t, z_up, number, deal_number)


def _params(t: dict[str, str], rng: np.random.Generator) -> BoxParams:
    heads = float(np.clip(float(t["heads"]) + rng.uniform(-0.4, 0.5), 1.9, 8.3))
    head = 1.0 / heads
    chin = 1.0 - head
    gap = {"none": rng.uniform(0.0, 0.006), "ordinary": rng.uniform(0.015, 0.03),
           "long": rng.uniform(0.05, 0.09)}[t["neck"]]  # fmt: skip
    gap = min(gap, 0.2 * chin)
    share = rng.uniform(*np.array([np.interp(heads, [2, 4, 8], lows) for lows in
                                   ([0.36, 0.44, 0.54], [0.48, 0.58, 0.62])]))  # fmt: skip
    hip = share * (chin - gap)
    span = chin - gap - hip
    wide = {"thin": 0.85, "ordinary": 1.0, "stout": 1.25, "broad": 1.3}[t["girth"]]
    deep = {"thin": 0.85, "ordinary": 1.0, "stout": 1.45, "broad": 1.1}[t["girth"]]
    chest = (span * rng.uniform(0.30, 0.36) * wide, span * rng.uniform(0.20, 0.27) * deep)
    seat_share = {"stout": 1.05, "broad": 0.75}.get(t["girth"], 0.92)
    seat = (chest[0] * seat_share * rng.uniform(0.92, 1.05), chest[1] * rng.uniform(0.9, 1.05))
    waist_share = {"stout": 1.15, "broad": 0.82}.get(t["girth"], 0.85) * rng.uniform(0.93, 1.05)
    leg = min(seat[0] * rng.uniform(0.38, 0.46), 0.30 * hip)
    arm = min(span * rng.uniform(0.105, 0.15) * wide**0.5, 0.055)
    reach = float(np.interp(heads, [2, 4, 8], [0.22, 0.27, 0.32])) * rng.uniform(0.92, 1.08)
    upper = rng.uniform(0.49, 0.54)
    ankle = min(rng.uniform(0.038, 0.055), 0.22 * hip)
    foot = float(np.interp(heads, [2, 8], [0.17, 0.145])) * rng.uniform(0.9, 1.3)
    fat = {"five": 0.95, "four": 1.15, "three": 1.1}.get(t["hands"], 0.95)
    left, right = _pose(t["pose"], rng)
    hip_x = max(0.52 * seat[0], 1.04 * leg)
    width = float(np.interp(heads, [2, 4, 8], [0.46, 0.42, 0.34])) * rng.uniform(0.92, 1.08)
    neck = min(0.36 * chest[0] * rng.uniform(0.9, 1.1), 0.8 * width * head)
    return BoxParams(
        height=float(rng.choice([1.0, 1.8, 2.2, 100.0, 180.0])),
        heads=heads,
        hip=hip,
        hip_x=hip_x,
        knee_share=rng.uniform(0.48, 0.54),
        ankle=ankle,
        neck_gap=gap,
        drop=max(span * rng.uniform(0.12, 0.2), 1.05 * arm),
        shoulder_x=chest[0] + arm * rng.uniform(-0.35, 0.25),
        upper_arm=reach * upper,
        forearm=reach * (1.0 - upper),
        hand_length=0.105 * fat * rng.uniform(0.9, 1.15),
        arm=arm,
        leg=leg,
        foot_length=foot,
        foot_half=min(max(0.9 * leg, 0.03) * rng.uniform(0.95, 1.1), hip_x * 0.97),
        chest=chest,
        waist=(chest[0] * waist_share, chest[1] * waist_share),
        seat=seat,
        neck=neck,
        head_half=(width, width * rng.uniform(0.95, 1.15)),
        head_shape=t["head"],
        hand=t["hands"],
        left=left,
        right=right,
    )


def _pose(kind: str, rng: np.random.Generator) -> tuple[BoxSide, BoxSide]:
    raised = {"t": 90.0, "down": rng.uniform(12.0, 22.0)}.get(kind, rng.uniform(40.0, 65.0))
    base = BoxSide(
        arm_raise=raised,
        elbow=0.0 if kind == "t" else float(rng.uniform(0.0, 12.0)),
        leg_out=float(rng.uniform(0.0, 5.0)),
        knee=float(rng.choice([0.0, 3.0])),
    )
    left, right = base, base
    if kind == "held":
        right = replace(base, arm_raise=rng.uniform(15, 35), elbow=rng.uniform(60, 85))
        left = replace(base, elbow=rng.uniform(20, 70))
    if kind == "squat":
        knee = rng.uniform(50, 80)
        left = right = replace(base, thigh_forward=0.55 * knee, knee=knee, leg_out=8.0)
    if kind == "stride":
        left = replace(base, thigh_forward=rng.uniform(15, 30), knee=5.0)
        right = replace(base, thigh_forward=-rng.uniform(5, 12), knee=rng.uniform(10, 20))
    return left, right


def _build(member: BoxMember) -> tuple[list[Part], dict[str, FloatArray]]:
    p, t = member.params, member.traits
    bones = make_box_bones(p)
    nets, extra = _nets(member, bones)
    lean, turn = lean_of(t, member.number) if member.deal >= FIRST else (0.0, 0.0)
    hip = min(float(side.hip[1]) for side in bones.sides)
    parts = []
    for name, net in (nets | extra).items():
        vertices, faces = net.triangles()
        vertices, faces = np.asarray(vertices), np.asarray(faces)
        if turn and name in ("body", "head", "eyes", "beard", t["top"]):
            vertices = turned_head(vertices, bones, turn)
        if lean:
            vertices = leaning(vertices, hip, lean)
        if t["surface"] == "softened" and name in nets and not t["carries"].startswith("welded"):
            vertices, faces = _softened(vertices, faces, always=member.deal == 0)
        vertices, faces = _welding(t["welding"], vertices, faces)
        parts.append(Part(name, vertices * p.height, faces.astype(np.int64)))
    if t["objects"] == "one":
        parts = [_whole(parts)]
    joints = bones.joints()
    if turn:
        eyes = np.array([joints["left_eye"], joints["right_eye"]])
        joints["left_eye"], joints["right_eye"] = turned_head(eyes, bones, turn)
    if lean:
        joints = {name: leaning(at[None], hip, lean)[0] for name, at in joints.items()}
    joints = {
        name: at * p.height for name, at in joints.items() if not name.startswith(member.untold)
    }
    if member.z_up:
        parts = [replace(part, vertices=_z_up(part.vertices)) for part in parts]
        joints = {name: _z_up(at[None])[0] for name, at in joints.items()}
    return parts, joints


def _nets(member: BoxMember, bones: BoxBones) -> tuple[dict[str, Net], dict[str, Net]]:
    """The body's objects, and those on it."""
    p, t = member.params, member.traits
    nets = body_nets(p, bones, member.style)
    face = FACES.get(t["face"])
    if face is not None:
        host = "head" if "head" in nets else next(iter(nets))
        nets[host] = joined([nets[host], face(p, bones)])
    kind = t["carries"].removeprefix("welded ")
    if kind != t["carries"]:
        side, piece = ("left", "forearm") if kind == "shield" else ("right", "hand")
        at = next(n for n in (f"{piece}_{side}", f"arm_{side}", "body") if n in nets)
        nets[at] = welded(nets[at], kind, p, bones)
    eyes = eyes_net(t["eyes"], p, bones)
    extra: dict[str, Net] = {"eyes": eyes} if eyes is not None else {}
    plates = ("pads", "breastplate") if t["plates"] == "both" else (t["plates"],)
    for table, names in (
        (HEADWEAR | WILD_HEADWEAR, (t["top"],)),
        (WORN | WILD_WORN, (t["worn"],)),
        (PLATES | WILD_PLATES, plates),
        (CARRIED, (t["carries"],)),
        (ALSO, (t.get("also", ""),)),
    ):
        extra |= {name: table[name](p, bones) for name in names if name in table}
    return nets, extra


def _softened(vertices: FloatArray, faces: IntArray, always: bool) -> tuple[FloatArray, IntArray]:
    """The surface subdivided once; as it is where that throws points out of its box, as happens
    along the rim of open tubes, unless it is to be done always."""
    found = trimesh.remesh.subdivide_loop(vertices, faces, iterations=1)
    fine, split = (np.asarray(array) for array in found)
    reach = float(np.ptp(vertices, axis=0).max()) * 1e-6
    within = (fine >= vertices.min(axis=0) - reach) & (fine <= vertices.max(axis=0) + reach)
    return (fine, split) if always or within.all() else (vertices, faces)


def _welding(kind: str, vertices: FloatArray, faces: IntArray) -> tuple[FloatArray, IntArray]:
    """The same triangles with vertices doubled along the seam x = 0, or at every corner."""
    if kind == "flat shaded":
        return vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3)
    if kind == "seam open":
        right = vertices[faces].mean(axis=1)[:, 0] < 0.0
        halves = [faces[~right], faces[right]]
        points, found, start = [], [], 0
        for half in halves:
            used, row = np.unique(half, return_inverse=True)
            points.append(vertices[used])
            found.append(row.reshape(-1, 3) + start)
            start += len(used)
        return np.concatenate(points), np.concatenate(found)
    return vertices, faces


def _whole(parts: list[Part]) -> Part:
    start, points, faces = 0, [], []
    for part in parts:
        points.append(part.vertices)
        faces.append(part.faces + start)
        start += len(part.vertices)
    return Part("character", np.concatenate(points), np.concatenate(faces))


def _z_up(points: FloatArray) -> FloatArray:
    return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)
