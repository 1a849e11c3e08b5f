"""The skeleton: joints with parents, positions, axes, spread and evidence, as plain records."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Evidence", "Finding", "Joint", "PartSummary", "Skeleton", "Source"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Evidence:
    """One thing that spoke for a joint's place."""

    kind: str
    """What was measured, such as 'template_prior', 'section_minimum', 'centreline_bend'."""
    position: FloatArray
    """(3,) where this evidence alone would put the joint; same frame as the joint."""
    spread: float
    """One standard deviation of this evidence, same units as the joint."""
    weight: float = 0.0
    """Share of the decision, 0 to 1; the weights of a joint's evidence sum to one."""
    note: str = ""
    """Plain words for a person."""


@dataclass(frozen=True)
class Joint:
    """One joint. `position`, `axes` and `spread` are in the skeleton's frame and units."""

    name: str
    parent: str | None
    position: FloatArray
    """(3,)"""
    axes: FloatArray = field(default_factory=lambda: np.eye(3))
    """(3, 3) unit rows: where the joint's local X, Y and Z point; orthonormal, right-handed."""
    spread: float = 0.0
    """One standard deviation of the position."""
    locked: bool = False
    """True when a person decided the place."""
    evidence: tuple[Evidence, ...] = ()
    aim: str | None = None
    """Child this joint aims at; None for a tip, or for the only child."""
    look: FloatArray | None = None
    """(3,) unit look direction of an eye joint, if it was seen; else None."""


@dataclass(frozen=True)
class Finding:
    """Something a check noticed, with how to mend it."""

    check: str
    joint: str | None
    level: str
    """'error', 'warning' or 'note'."""
    message: str
    fix: str
    measured: float | None = field(default=None, compare=False)
    """What was measured, in `unit`. This and what follows is said in `message` too and is for a
    program to read; skeleton files do not keep it, and findings that differ in it are equal."""
    limit: float | None = field(default=None, compare=False)
    """The bound that it was held against."""
    unit: str = field(default="", compare=False)
    """'deg', 'height' (a fraction of the character's), 'radius' (of the eyeball) or '' for a ratio
    or a number."""
    source: str = field(default="", compare=False)
    """Where the bound comes from."""


@dataclass(frozen=True)
class PartSummary:
    """What a part of the mesh was taken for."""

    name: str
    role: str
    confidence: float
    reason: str = ""


@dataclass(frozen=True)
class Source:
    """The mesh a skeleton was placed in."""

    mesh: str = ""
    sha256: str | None = None
    up: str = "+Y"
    forward: str = "+Z"
    height: float = 1.0
    """Height of the character in the skeleton's units."""
    part: str = ""
    """'hand' or 'hands' when the mesh is no more of a figure than that, and the height is that of a
    person with such hands; empty for a figure."""


@dataclass(frozen=True)
class Skeleton:
    """Joints in order, parents before children, with where they came from."""

    joints: tuple[Joint, ...]
    source: Source = field(default_factory=Source)
    template: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    parts: tuple[PartSummary, ...] = ()
    findings: tuple[Finding, ...] = ()

    def __iter__(self) -> Iterator[Joint]:
        return iter(self.joints)

    def __len__(self) -> int:
        return len(self.joints)

    def __contains__(self, name: object) -> bool:
        return any(joint.name == name for joint in self.joints)

    def __getitem__(self, name: str) -> Joint:
        for joint in self.joints:
            if joint.name == name:
                return joint
        raise KeyError(name)

    @property
    def names(self) -> tuple[str, ...]:
        """Joint names in order."""
        return tuple(joint.name for joint in self.joints)

    def children(self, name: str) -> tuple[Joint, ...]:
        """Joints whose parent is `name`, in order."""
        return tuple(joint for joint in self.joints if joint.parent == name)

    def positions(self) -> FloatArray:
        """(n, 3) joint positions in order."""
        return np.array([joint.position for joint in self.joints]).reshape(-1, 3)

    def with_joints(self, joints: tuple[Joint, ...]) -> Skeleton:
        """The same skeleton with other joints."""
        return replace(self, joints=joints)
