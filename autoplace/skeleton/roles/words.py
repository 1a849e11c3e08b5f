"""What a joint's name says: part of the body, side, finger, in words of anatomy and the trade.

The words are those of general English anatomy and of everyday rigging talk; common practice, no
source. Joint names of open standards are in `standard_names`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from autoplace.skeleton.names import (
    FINGERS,
    SIDES,
    family,
    finger_of,
    metacarpal_of,
    side_of,
    stem,
    twist_of,
)
from autoplace.skeleton.roles.standard_names import standard_name

__all__ = ["Reading", "read_names"]

_PIECE = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")

SIDE_WORDS = {"l": "left", "left": "left", "lft": "left"}
SIDE_WORDS |= {"r": "right", "right": "right", "rgt": "right", "rt": "right"}
COMPOUNDS = {
    "collarbone": "clavicle",
    "toes": "toe",
    "forefoot": "ball",
    "eyeball": "eye",
    "fingers": "finger",
    "eyelid": "lid",
    "eyebrow": "brow",
    "shoulderblade": "scapula",
}
"""Words that mean something else than the words they are put together of, or say it otherwise."""
TIP_WORDS = {"end", "tip", "top", "site"}
TWIST_WORDS = {"twist", "roll", "twst"}
OTHERS = {"ik", "pole", "target", "ctrl", "control", "socket", "attach", "prop", "weapon", "skirt"}
OTHERS |= {"cape", "cloak", "hair", "ear", "brow", "lid", "jaw", "tongue", "lip", "cheek", "nose"}
OTHERS |= {"mouth", "teeth", "tooth", "tail", "wing", "breast", "bust", "glute", "muscle", "helper"}
OTHERS |= {"corrective", "strap", "belt", "hat", "helmet", "sleeve", "horn", "heel", "buttock"}
OTHERS |= {"effector", "sword", "shield", "scarf", "pony", "braid", "whisker", "beak", "pupil"}
FINGER_WORDS = {name: name for name in FINGERS} | {
    "pointer": "index",
    "pinkie": "pinky",
    "little": "pinky",
    "mid": "middle",
}
METACARPAL_WORDS = {"metacarpal", "meta", "carpal", "palm"}
TRUNK_WORDS = {"spine", "chest", "back", "torso", "neck", "head", "eye", "pelvis", "hips"}

SURE_PARTS: tuple[tuple[frozenset[str], str], ...] = tuple(
    (frozenset(words.split()), part)
    for words, part in (
        ("upper arm", "shoulder"),
        ("up arm", "shoulder"),
        ("humerus", "shoulder"),
        ("fore arm", "elbow"),
        ("lower arm", "elbow"),
        ("low arm", "elbow"),
        ("elbow", "elbow"),
        ("ulna", "elbow"),
        ("radius", "elbow"),
        ("upper leg", "hip"),
        ("up leg", "hip"),
        ("thigh", "hip"),
        ("femur", "hip"),
        ("lower leg", "knee"),
        ("low leg", "knee"),
        ("knee", "knee"),
        ("shin", "knee"),
        ("calf", "knee"),
        ("tibia", "knee"),
        ("clavicle", "clavicle"),
        ("clav", "clavicle"),
        ("collar", "clavicle"),
        ("wrist", "wrist"),
        ("hand", "wrist"),
        ("ankle", "ankle"),
        ("foot", "ankle"),
        ("head", "head"),
        ("skull", "head"),
        ("neck", "neck"),
        ("chest", "spine"),
        ("thorax", "spine"),
        ("ribcage", "spine"),
        ("spine", "spine"),
        ("back", "spine"),
        ("torso", "spine"),
        ("waist", "spine"),
        ("abdomen", "spine"),
        ("belly", "spine"),
        ("stomach", "spine"),
        ("lumbar", "spine"),
        ("pelvis", "pelvis"),
        ("hips", "pelvis"),
        ("sacrum", "pelvis"),
    )
)
"""All words of a row in a name mean the part; the first row that fits decides."""
DOUBTFUL_PARTS = {
    "arm": ("shoulder", "elbow"),
    "shoulder": ("clavicle", "shoulder"),
    "scapula": ("clavicle",),
    "leg": ("hip", "knee"),
    "root": ("pelvis",),
}
"""Words that different riggers use for different joints: the hierarchy decides which."""

CHAINS = ("spine", "neck", "other")
"""What a standard's name means that is one of a chain longer than ours, or none of ours."""


@dataclass(frozen=True)
class Reading:
    """What one name says; empty fields where it says nothing."""

    parts: tuple[str, ...] = ()
    """Stems of our names ('knee'), or 'finger', 'spine', 'twist', 'other'; several in doubt."""
    side: str | None = None
    finger: str | None = None
    tip: bool = False
    metacarpal: bool = False
    whole: str | None = None
    """The whole name of ours, where a standard or the name itself fixes it."""

    @property
    def sure(self) -> bool:
        """The name means one part only."""
        return len(self.parts) == 1

    def says(self, part: str) -> bool:
        """Whether the name may mean this part."""
        return part in self.parts


def read_names(names: Sequence[str]) -> list[Reading]:
    """What each of the names says; words that begin nearly all of them are passed over."""
    words = [_words(name) for name in names]
    while len(words) > 3:
        first = [w[0] if len(w) > 1 else "" for w in words]
        common = max(set(first), key=lambda w: (first.count(w), w))
        if not common or common in SIDE_WORDS or first.count(common) < 0.9 * len(words):
            break
        words = [w[1:] if w[:1] == [common] and len(w) > 1 else w for w in words]
    return [_reading(name, w) for name, w in zip(names, words, strict=True)]


def _words(name: str) -> list[str]:
    """Lower-case words of a name: cut at signs, digits and capitals, compounds taken apart."""
    pieces = _PIECE.findall(re.split(r"[:|]", name)[-1][:200])
    words: list[str] = []
    for piece in pieces:
        low = piece.lower()
        words += COMPOUNDS.get(low, low).split() if low in COMPOUNDS else _split_side(low)
    return words


def _split_side(word: str) -> list[str]:
    """'lthigh' and 'thighl' as a side and a word that is known; any other word as it is."""
    if word in _KNOWN:
        return [word]
    for side in ("", *sorted(SIDE_WORDS, key=len, reverse=True)):
        for rest in (word.removeprefix(side), word.removesuffix(side)):
            parts = _parted(rest)
            if parts and (rest != word or not side):
                return [*([side] if side else []), *parts]
    return [word]


@cache
def _parted(word: str) -> tuple[str, ...]:
    """Known words that a word is put together of, 'thumbtip' as 'thumb', 'tip'; empty if none."""
    if word in COMPOUNDS:
        return tuple(COMPOUNDS[word].split())
    if word in _KNOWN:
        return (word,)
    for cut in range(2, min(len(word) - 1, 20)):
        if word[:cut] in _KNOWN or word[:cut] in COMPOUNDS:
            rest = _parted(word[cut:])
            if rest:
                return (*COMPOUNDS.get(word[:cut], word[:cut]).split(), *rest)
    return ()


_KNOWN = {w for row, _ in SURE_PARTS for w in row} | {w for k in DOUBTFUL_PARTS for w in k.split()}
_KNOWN |= {*OTHERS, *TWIST_WORDS, *TIP_WORDS, *FINGER_WORDS, "eye", "toe", "ball", "finger", "hip"}


def _reading(name: str, words: list[str]) -> Reading:
    ours = name if family(name) else standard_name(name)
    if ours in CHAINS and not family(name):
        return Reading((ours,))
    if ours is not None:
        return _of_our_name(ours)
    said = set(words)
    side = next((SIDE_WORDS[w] for w in words if w in SIDE_WORDS), None)
    tip = bool(said & TIP_WORDS)
    if said & TWIST_WORDS:
        return Reading(("twist",), side)
    if said & OTHERS:
        return Reading(("other",), side)
    if "eye" in said:
        return Reading(("eye",), side)
    if said & {"toe", "ball", "hallux"}:
        small = bool(said & (set(FINGER_WORDS) - {"index", "pointer"}))
        if small and not said & {"big", "great"}:
            return Reading(("other",), side)
        return Reading(("toe_tip" if tip else "ball",), side, tip=tip)
    finger = next((FINGER_WORDS[w] for w in words if w in FINGER_WORDS and w != "middle"), None)
    if finger is None and "middle" in said:
        finger = "middle"
    alone = side is None and not said & {"finger", "hand"}
    if finger in ("middle", "pinky", "ring") and (alone or said & TRUNK_WORDS):
        finger = None  # 'middle' and 'little' are said of much else
    if finger or "finger" in said:
        metacarpal = bool(said & METACARPAL_WORDS) and finger != "thumb"
        return Reading(("finger",), side, finger, tip, metacarpal)
    for row, part in SURE_PARTS:
        if row <= said:
            if tip:
                part = {"head": "head_top", "ankle": "toe_tip"}.get(part, "other")
            return Reading((part,), side, tip=tip)
    if "hip" in said:
        return Reading(("hip",) if side else ("pelvis",), side)
    for key, parts in DOUBTFUL_PARTS.items():
        if set(key.split()) <= said and not tip:
            return Reading(parts, side)
    return Reading((), side, tip=tip)


def _of_our_name(name: str) -> Reading:
    """The reading of a name that is ours, with its side or without."""
    if twist_of(name):
        return Reading(("twist",), side_of(name), whole=name)
    sided = name if side_of(name) else f"{SIDES[0]}_{name}"
    finger = finger_of(sided) or metacarpal_of(sided)
    if finger:
        tip, palm = name.endswith("_tip"), name.endswith("_metacarpal")
        return Reading(("finger",), side_of(name), finger, tip, palm, name)
    part = re.sub(r"_\d+$", "", stem(name))
    part = "spine" if part == "chest" else part
    return Reading((part,), side_of(name), tip=part in ("head_top", "toe_tip"), whole=name)
