"""Snap the eye joints of an existing skeleton to the eyeballs in its mesh; touch nothing else."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from autoplace.errors import SkeletonError
from autoplace.measure.frame_record import Frame
from autoplace.place.assembly import in_input
from autoplace.place.evidence import Placed
from autoplace.place.eye_report import eye_report
from autoplace.place.eyes import EyePlace, EyesFound, eye_surfaces, place_eyes
from autoplace.refit.recorded import RefitResult, recorded_frame, roles_in
from autoplace.result import Settings
from autoplace.settings import checked
from autoplace.skeleton.model import Finding, Joint, Skeleton
from autoplace.skeleton.names import family
from autoplace.skeleton.orient import orient

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles

__all__ = ["find_eyes", "refit_eyes"]

HEADS_TALL = 7.5
"""Of an ordinary figure (references on canons): scales a head whose body nothing tells of."""
OURS = ("missing_eyeball", "eye_from_face", "locked_eye")
"""Checks whose findings about an eye are replaced when the eyes are fitted anew."""


def refit_eyes(
    character: Character, skeleton: Skeleton, settings: Settings | None = None
) -> RefitResult:
    """Snap the eye joints of a skeleton to the eyeballs measured in its mesh.

    Positions, axes, spread, look and evidence of the eye joints are made anew; an eye joint that
    is missing is added under `head` when its eyeball is found. Every other joint is the same
    record as before, and so is an eye joint that is locked, or whose eyeball is not found; the
    report and the findings say so. The axes follow the convention the skeleton was oriented by.

    Args:
        character: the mesh, a whole figure or a head alone, in the skeleton's frame and units.
        skeleton: where it stands (`source.up`, `source.forward`, `source.height`) is believed.
        settings: parts to leave out and parts whose role is told count, and nothing else.

    Raises:
        SkeletonError: eyeballs without joints are found, and there is no `head` to hang them from;
            or the skeleton's tree is broken.
        AutoplaceError: a setting is impossible.
    """
    settings = checked(settings or Settings())
    begin = time.perf_counter()
    frame, roles, eyes = find_eyes(character, skeleton, settings)
    found_at = time.perf_counter()
    result, changed, kept = _with_eyes(skeleton, eyes, frame)
    result = _oriented(result, changed)
    findings = _findings(result, eyes, kept)
    result = replace(
        result,
        findings=tuple(f for f in skeleton.findings if not _replaced(f)) + findings,
    )
    report: dict[str, Any] = {
        "eyes": {name: eye_report(eye, frame) for name, eye in eyes.by_joint().items()},
        "changed": list(changed),
        "kept": dict(kept),
        "parts": [
            {"name": name, "role": role, "confidence": confidence, "reason": reason}
            for name, role, confidence, reason in roles.part_roles(character)
            if role == "eyeball"
        ],
        "frame": {"up": frame.up, "forward": frame.forward, "height": frame.height},
        "findings": [vars(finding) for finding in findings],
    }
    seconds = {"eyes": found_at - begin, "joints": time.perf_counter() - found_at}
    return RefitResult(result, report, seconds, changed, frame, roles)


def find_eyes(
    character: Character, skeleton: Skeleton, settings: Settings
) -> tuple[Frame, Roles, EyesFound]:
    """The frame a skeleton records, the roles of the pieces in it, and the eyes among them.

    All as `refit_eyes` uses them; the eyes' places are in the working frame.
    """
    frame = _eye_frame(recorded_frame(character, skeleton), character, skeleton)
    prepared, roles = roles_in(frame, character, settings)
    # the mesh as it came: a lighter copy's vertices lie a little inside of a ball
    roles = prepared.original_roles(roles)
    working = [frame.to_working(part.vertices) for part in character.parts]
    return frame, roles, place_eyes(eye_surfaces(character, roles, working))


def _eye_frame(frame: Frame, character: Character, skeleton: Skeleton) -> Frame:
    """The recorded frame; for a head that nothing tells the body of, that of an ordinary figure."""
    if any(joint.name.rsplit("_", 1)[-1] in ("pelvis", "hip", "knee") for joint in skeleton):
        return frame
    up = character.vertices @ frame.rotation[1]
    top, extent = float(up.max()), float(np.ptp(up))
    origin = frame.origin @ frame.rotation.T
    origin[1] = top - HEADS_TALL * extent
    return replace(frame, height=HEADS_TALL * extent, origin=origin @ frame.rotation)


def _with_eyes(
    skeleton: Skeleton, eyes: EyesFound, frame: Frame
) -> tuple[Skeleton, tuple[str, ...], dict[str, str]]:
    """The skeleton with its eyes moved or added, the names of these, and why others were kept."""
    found = eyes.by_joint()
    kept: dict[str, str] = {}
    changed: list[str] = []
    joints: list[Joint] = list(skeleton.joints)
    for index, joint in enumerate(joints):
        if family(joint.name) != "eye":
            continue
        if joint.locked:
            kept[joint.name] = "it is locked"
        elif joint.name not in found:
            missing = {"left_eye": eyes.left, "right_eye": eyes.right}.get(joint.name)
            kept[joint.name] = getattr(missing, "why", "no eyeball was found there")
        else:
            joints[index] = _moved(joint, found[joint.name], frame)
            changed.append(joint.name)
    for name, eye in found.items():
        if name in skeleton:
            continue
        if "head" not in skeleton:
            raise SkeletonError(
                f"An eyeball was found for '{name}', but the skeleton has no joint 'head' to hang "
                f"it from; name the head's joint 'head', or add '{name}' to the skeleton."
            )
        joints.append(_moved(Joint(name, "head", np.zeros(3)), eye, frame))
        changed.append(name)
    return skeleton.with_joints(tuple(joints)), tuple(changed), kept


def _moved(joint: Joint, eye: EyePlace, frame: Frame) -> Joint:
    """The joint at the eye's centre, in the input frame."""
    placed = in_input(Placed(eye.center, eye.spread, eye.evidence, 1.0), frame)
    return replace(
        joint,
        position=placed.position,
        spread=placed.spread,
        evidence=placed.evidence,
        look=None if eye.look is None else frame.direction_to_input(eye.look),
    )


def _oriented(skeleton: Skeleton, changed: tuple[str, ...]) -> Skeleton:
    """New axes for the changed joints by the skeleton's own convention; the others keep theirs."""
    turned = orient(skeleton)
    return skeleton.with_joints(
        tuple(
            replace(joint, axes=turned[joint.name].axes) if joint.name in changed else joint
            for joint in skeleton.joints
        )
    )


def _replaced(finding: Finding) -> bool:
    return finding.check in OURS


def _findings(skeleton: Skeleton, eyes: EyesFound, kept: dict[str, str]) -> tuple[Finding, ...]:
    """What to say of eye joints that were left alone."""
    findings = []
    if not eyes.by_joint() and not kept:
        findings.append(
            Finding(
                "missing_eyeball",
                None,
                "warning",
                "No eyeballs were found and there are no eye joints, so nothing was changed.",
                "If a part is the eye, say so with --role PART=eyeball.",
            )
        )
    for name, why in kept.items():
        if skeleton[name].locked:
            findings.append(
                Finding(
                    "locked_eye",
                    name,
                    "note",
                    f"{name} is locked and was left where it is.",
                    "Unlock the joint to have it fitted.",
                )
            )
        else:
            findings.append(
                Finding(
                    "missing_eyeball",
                    name,
                    "warning",
                    f"{name} was left where it is: {why}.",
                    "If a part is the eye, say so with --role PART=eyeball.",
                )
            )
    return tuple(findings)
