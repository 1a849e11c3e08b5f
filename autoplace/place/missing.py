"""Findings for what a figure normally has and this one lacks."""

from __future__ import annotations

from autoplace.measure.limb_record import Limbs
from autoplace.measure.not_found import NotFound
from autoplace.place.assembly import Hands
from autoplace.place.body import SIDES
from autoplace.place.eyes import EyesFound
from autoplace.skeleton.model import Finding

__all__ = ["missing_findings"]


def missing_findings(
    limbs: Limbs, hands: Hands, eyes: EyesFound, legs: bool = True
) -> tuple[Finding, ...]:
    """One finding for each missing arm, leg, set of fingers and eyeball, and for what was told
    limbs apart; none for missing legs if not `legs`, since something hides them."""
    findings = []
    for kind in ("arm", "leg") if legs else ("arm",):
        for side in SIDES:
            if limbs.one(kind, side) is None:
                findings.append(
                    Finding(
                        "missing_limb",
                        None,
                        "warning",
                        f"The {side} {kind} was not found, so its joints are left out.",
                        _where_to_look(kind),
                    )
                )
    findings += [
        Finding(
            "arm_from_piece",
            None,
            "note",
            f"{note[0].upper()}{note[1:]}.",
            "Look at its shoulder and elbow on the sheet.",
        )
        for note in limbs.notes
    ]
    if limbs.led_up:
        findings.append(
            Finding(
                "thighs_led_on",
                None,
                "note",
                "The legs end inside what hides them, and were led straight on to the trunk.",
                "Look at hips and knees on the sheet.",
            )
        )
    for side in SIDES:
        hand = hands[side]
        if isinstance(hand, NotFound) and limbs.one("arm", side) is not None:
            findings.append(
                Finding(
                    "missing_fingers",
                    f"{side}_wrist",
                    "warning",
                    f"No fingers on the {side} hand: {hand.why}.",
                    "If the hand has fingers, check that its part is not left out.",
                )
            )
        elif not isinstance(hand, NotFound):
            findings += [
                Finding(
                    "unclear_fingers",
                    f"{side}_wrist",
                    "note",
                    f"{side.capitalize()} hand: {note}.",
                    "Look at the fingers on the sheet; --fingers says which ones the hand has.",
                )
                for note in hand.notes
            ]
    for side in SIDES:
        eye = eyes.of(side)
        if isinstance(eye, NotFound) and not eyes.others:
            other = eyes.of("right" if side == "left" else "left")
            guess = "its joint is left out" if other else "its place is a guess by head proportions"
            findings.append(
                Finding(
                    "missing_eyeball",
                    None if other else f"{side}_eye",
                    "warning",
                    f"No {side} eyeball: {eye.why}; {guess}.",
                    "If a part is the eye, say so with --role PART=eyeball.",
                )
            )
    return tuple(findings)


def _where_to_look(kind: str) -> str:
    """What a person can do about a limb that was not found."""
    if kind == "arm":
        return (
            "An arm whose skin is grown together with the trunk's all along cannot be told from "
            "it: model it apart or as a piece of its own; else check --up and --forward, or "
            "whether a part that was left out covers it."
        )
    return (
        "If the mesh has one, check --up and --forward, or whether a part that was left out covers "
        "it."
    )
