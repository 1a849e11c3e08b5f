"""What spoke for a joint's place, and how sure it is, in words and as a colour.

The weights are the shares of the decision; how sure a joint is, is its spread.
"""

from __future__ import annotations

import math

import numpy as np

from autoplace.show.palette import Colour, mix
from autoplace.skeleton.decided import DECIDING, as_placed
from autoplace.skeleton.model import Evidence, Joint, Skeleton
from autoplace.skeleton.names import FINGERS, family, finger_of, metacarpal_of, stem

__all__ = [
    "KINDS",
    "SURENESS_COLOURS",
    "evidence_words",
    "joint_words",
    "reason_words",
    "spread_words",
    "sureness",
    "sureness_colour",
]

KINDS: dict[str, str] = {
    "armpit": "height of the armpit",
    "back_bend": "the skin of the back bends here",
    "bone_share": "expected length of the bone",
    "box_middle": "middle of the eye's box",
    "centreline_bend": "the centreline bends here",
    "confirmed": "locked by hand where it was placed",
    "corrected": "set by hand",
    "ellipsoid_fit": "centre of the ellipsoid fitted to the eyeball",
    "face_bulge": "the bulge of the lids",
    "face_hollow": "the hollow of the eye in the face",
    "finger_end": "end of the finger",
    "finger_share": "expected share of the finger",
    "foot_end": "end of the foot",
    "foot_share": "share of the foot's length",
    "hand_sections": "sections of the hand and the forearm",
    "hand_share": "expected place in the hand",
    "head_proportions": "proportions of a head",
    "hip_centres": "middle of the hips",
    "kept": "carried over from the model before",
    "landmark": "a landmark of the surface",
    "learned_shape": "the shape around it",
    "limb_axis": "axis of the limb",
    "piece_gap": "two pieces of the finger meet here",
    "placed_anew": "where it would be placed",
    "section_breadth": "breadth of the section",
    "section_minimum": "narrowest section",
    "sphere_fit": "centre of the sphere fitted to the eyeball",
    "template_prior": "where the template puts it",
}
"""Words for each kind of evidence, for where it brings no note of its own."""

UNUSED = "placed_anew"
"""Kind of the evidence that says where such a joint would be placed."""

SURE, UNSURE = 0.001, 0.03
"""Spreads, as fractions of the height, at and below which a joint counts as wholly sure and at and
above which as wholly unsure. Between a well seen finger joint and a joint that the template alone
puts, such as a hip under a skirt (own demo characters)."""

SURENESS_COLOURS: tuple[Colour, Colour, Colour] = ((22, 88, 168), (236, 214, 150), (204, 84, 0))
"""Sure, between, unsure: blue over sand to orange, which stay apart for most kinds of colour
blindness (common practice, no source)."""
NOT_KNOWN: Colour = (150, 146, 156)
"""A joint whose spread nobody recorded."""

_PARTS = {"1": "knuckle", "2": "middle joint", "3": "end joint"}
_THUMB_PARTS = {"1": "base", "2": "knuckle", "3": "end joint"}


def joint_words(name: str) -> str:
    """A joint's name as it is spoken: 'left_index_1' gives 'left index finger, knuckle'.

    A name that is not one of ours is left as it is.
    """
    if family(name) is None:
        return name
    side = name[: len(name) - len(stem(name))].replace("_", " ")
    finger, bone = finger_of(name), metacarpal_of(name)
    if bone is not None:
        return f"{side}{bone} finger, metacarpal"
    if finger in FINGERS:
        parts = _THUMB_PARTS if finger == "thumb" else _PARTS
        part = stem(name).rsplit("_", 1)[1]
        digit = finger if finger == "thumb" else f"{finger} finger"
        return f"{side}{digit}, {parts.get(part, part)}"
    return side + stem(name).replace("_", " ")


def reason_words(joint: Joint, skeleton: Skeleton) -> str:
    """What spoke for the joint's place and by how much, the strongest first; no full stop.

    Evidence that had no share in the decision is left out.
    """
    shared = sorted(
        (e for e in joint.evidence if round(100.0 * e.weight) >= 1), key=lambda e: -e.weight
    )
    if not shared:
        if joint.locked:
            return "set by hand"
        return "the file does not say what it was placed by"
    if len(shared) == 1:
        return _one(shared[0], skeleton)
    return "; ".join(f"{_one(e, skeleton)} ({100.0 * e.weight:.0f} percent)" for e in shared)


def spread_words(joint: Joint, skeleton: Skeleton) -> str:
    """How sure the joint's place is, in percent of the height and in the file's units."""
    if not _known(joint):
        return "how sure it is, is not recorded"
    share = joint.spread / skeleton.source.height
    return (
        f"sure to about {_percent(share)} percent of the height ({joint.spread:.3g} in the file's "
        "units)"
    )


def evidence_words(joint: Joint, skeleton: Skeleton) -> str:
    """What spoke for the joint, how sure it is, and what a person decided about it.

    Such as 'left knee: the leg bends by 10 degrees here (62 percent); share of thigh and shank, as
    in the adult template (38 percent). Sure to about 0.75 percent of the height (0.0131 in the
    file's units).'
    """
    # who locked a joint where it was placed left it to what it was placed by
    stands = as_placed(joint) if _kind(joint) == "confirmed" else joint
    said = [f"{joint_words(joint.name)}: {reason_words(stands, skeleton)}."]
    by_hand = _decided_by_hand(stands)
    if not by_hand:
        said.append(_sentence(spread_words(stands, skeleton)))
    away = _away(stands, skeleton)
    if by_hand and away:
        said.append(away)
    if joint.locked:
        said.append("Locked: it keeps this place when the skeleton is placed again.")
    return " ".join(said)


def sureness(joint: Joint, height: float) -> float | None:
    """How sure a joint's place is, from 0 to 1; None where nothing is recorded about it.

    Falls with the logarithm of the spread, from 1 at 0.1 percent of the height to 0 at 3 percent.
    What a person locked is wholly sure.

    Args:
        joint: Its spread is in the units of `height`.
        height: Of the character, `skeleton.source.height`.
    """
    if _decided_by_hand(joint):
        return 1.0
    if not _known(joint) or height <= 0.0:
        return None
    share = max(joint.spread / height, 1e-12)
    return float(np.clip(math.log(UNSURE / share) / math.log(UNSURE / SURE), 0.0, 1.0))


def sureness_colour(joint: Joint, height: float) -> Colour:
    """The colour of a joint by how sure its place is; grey where that is not known."""
    sure = sureness(joint, height)
    if sure is None:
        return NOT_KNOWN
    first, middle, last = SURENESS_COLOURS
    # rounded, so that the colours mixed before are found again
    sure = round(sure, 2)
    return mix(middle, first, 2.0 * sure - 1.0) if sure > 0.5 else mix(last, middle, 2.0 * sure)


def _one(evidence: Evidence, skeleton: Skeleton) -> str:
    """One piece of evidence in words."""
    kind = KINDS.get(evidence.kind, evidence.kind.replace("_", " "))
    # a semicolon parts one piece of evidence from the next
    note = evidence.note.strip().rstrip(".").replace(";", ",") or kind
    template = skeleton.template
    if evidence.kind == "template_prior" and template and "template" not in note:
        return f"{note}, as in the {template} template"
    if evidence.kind == "template_prior" and template and template not in note:
        return note.replace("the template", f"the {template} template")
    return note


def _kind(joint: Joint) -> str:
    """What decided the joint before all else."""
    return joint.evidence[0].kind if joint.evidence else ""


def _decided_by_hand(joint: Joint) -> bool:
    return joint.locked or _kind(joint) in DECIDING


def _known(joint: Joint) -> bool:
    """Whether the spread was recorded; a file from elsewhere has none."""
    return bool(joint.evidence) or joint.spread > 0.0


def _away(joint: Joint, skeleton: Skeleton) -> str:
    """How far from where evidence alone would put it, for a joint that a person decided."""
    unused = next((e for e in joint.evidence if e.kind == UNUSED), None)
    if unused is None:
        return ""
    away = np.asarray(joint.position) - np.asarray(unused.position)
    share = float(np.linalg.norm(away)) / skeleton.source.height
    if share < 5e-6:
        return "It stands where it would be placed."
    return f"That is {_percent(share)} percent of the height from where it would be placed."


def _percent(share: float) -> str:
    """Percent with two digits that count, such as 1.2, 0.41 or 0.0013."""
    value = 100.0 * share
    digits = max(0, 1 - math.floor(math.log10(value))) if value > 0.0 else 0
    return f"{value:.{min(digits, 6)}f}"


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
