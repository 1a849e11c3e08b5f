"""The report of a placing: plain data that a person or a program can read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from autoplace.measure.frame_record import Frame
from autoplace.measure.not_found import NotFound
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.place.eye_report import eye_report
from autoplace.place.eyes import EyesFound
from autoplace.place.hands import HandPlacement
from autoplace.place.template import TemplateChoice
from autoplace.skeleton.model import Skeleton

__all__ = ["findings_report", "hand_report", "make_report"]


def make_report(
    character: Character,
    roles: Roles,
    frame: Frame,
    choice: TemplateChoice,
    skeleton: Skeleton,
    hands: Mapping[str, HandPlacement | NotFound],
    eyes: EyesFound,
) -> dict[str, Any]:
    """What was found, as nested dicts, lists, numbers and strings only.

    Lengths are in input units unless the key says otherwise.
    """
    return {
        "parts": [
            {"name": name, "role": role, "confidence": confidence, "reason": reason}
            for name, role, confidence, reason in roles.part_roles(character)
        ],
        "frame": {
            "up": frame.up,
            "forward": frame.forward,
            "height": frame.height,
            "symmetry_residual": frame.symmetry_residual,
            "notes": list(frame.notes),
        },
        "hands": {side: hand_report(hand) for side, hand in hands.items()},
        "eyes": {side: eye_report(eyes.of(side), frame) for side in ("left", "right")}
        | {
            name.replace("_eye", "").replace("_", " "): eye_report(eye, frame)
            for name, eye in eyes.by_joint().items()
            if name not in ("left_eye", "right_eye")
        },
        "template": {
            "name": choice.template.name,
            "why": choice.why,
            "confidence": choice.confidence,
        },
        "joints": len(skeleton.joints),
        "findings": findings_report(skeleton),
    }


def findings_report(skeleton: Skeleton) -> list[dict[str, Any]]:
    """What was noticed about a skeleton."""
    return [
        {
            "check": f.check,
            "joint": f.joint,
            "level": f.level,
            "message": f.message,
            "fix": f.fix,
        }
        for f in skeleton.findings
    ]


def hand_report(hand: HandPlacement | NotFound) -> dict[str, Any]:
    """What was found of one hand."""
    if isinstance(hand, NotFound):
        return {"fingers": 0, "names": [], "notes": [hand.why]}
    return {"fingers": hand.finger_count, "names": list(hand.chains), "notes": list(hand.notes)}
