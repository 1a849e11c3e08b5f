"""A skeleton under other names: its joints, what refers to them, and what findings say of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from autoplace.skeleton.model import Finding, Skeleton

__all__ = ["renamed", "renamed_text"]


def renamed(skeleton: Skeleton, names: Mapping[str, str]) -> Skeleton:
    """The skeleton with joints called as `names` (name -> other name) says; others keep theirs.

    Parents, aims and findings follow, also where a finding names a joint in quotes. The names must
    be unlike one another; that is the caller's to see to.
    """
    changed = {name: other for name, other in names.items() if name != other}
    if not changed:
        return skeleton
    joints = tuple(
        replace(
            joint,
            name=changed.get(joint.name, joint.name),
            parent=None if joint.parent is None else changed.get(joint.parent, joint.parent),
            aim=None if joint.aim is None else changed.get(joint.aim, joint.aim),
        )
        for joint in skeleton
    )
    findings = tuple(_renamed_finding(f, changed) for f in skeleton.findings)
    return replace(skeleton, joints=joints, findings=findings)


def _renamed_finding(finding: Finding, names: Mapping[str, str]) -> Finding:
    return replace(
        finding,
        joint=None if finding.joint is None else names.get(finding.joint, finding.joint),
        message=renamed_text(finding.message, names),
        fix=renamed_text(finding.fix, names),
    )


def renamed_text(text: str, names: Mapping[str, str]) -> str:
    """The text with every joint that stands in quotes under its other name."""
    pieces = text.split("'")
    return "'".join(names.get(piece, piece) if i % 2 else piece for i, piece in enumerate(pieces))
