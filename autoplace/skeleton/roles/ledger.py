"""Which joint was given which of our names, each once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from autoplace.skeleton.names import finger_of, metacarpal_of, side_of, stem
from autoplace.skeleton.roles.tree import JointTree

__all__ = ["SURE", "Ledger", "RoleGuess"]

SURE = {"name": 0.95, "hierarchy": 0.8, "place": 0.6}
"""How far a guess of each kind is believed; common practice, no source."""
DOUBTFUL_NAME, STANDARD_NAME = 0.8, 1.0


@dataclass(frozen=True)
class RoleGuess:
    """What a joint of a file was taken for."""

    own_name: str
    """The file's name for it."""
    name: str | None
    """Ours, or None where it was not recognised."""
    how: str
    """'name', 'hierarchy' or 'place'; empty where it was not recognised."""
    sure: float
    """0 to 1; 0 where it was not recognised."""


@dataclass
class Ledger:
    """Names given so far; the first that claims a name or a joint keeps it."""

    tree: JointTree
    names: dict[int, str] = field(default_factory=dict)
    """Joint -> our name."""
    _how: dict[int, tuple[str, float]] = field(default_factory=dict)
    _taken: set[str] = field(default_factory=set)

    def give(self, joint: int, name: str, how: str) -> bool:
        """Gives a joint a name; `how` is what told it, unless the joint's own name says it."""
        if joint in self.names or name in self._taken:
            return False
        self.names[joint] = name
        self._taken.add(name)
        self._how[joint] = self._told(joint, name, how)
        return True

    def give_all(self, joints: Sequence[int], names: Sequence[str], how: str) -> bool:
        """Gives names to joints that belong together: all of them, or none."""
        if any(j in self.names for j in joints) or self._taken & set(names):
            return False
        return all([self.give(j, n, how) for j, n in zip(joints, names, strict=True)])

    def joint_of(self, name: str) -> int | None:
        """The joint of that name, if there is one."""
        return next((j for j, given in self.names.items() if given == name), None)

    def guess(self, joint: int) -> RoleGuess:
        """The row for a joint."""
        how, sure = self._how.get(joint, ("", 0.0))
        return RoleGuess(self.tree.names[joint], self.names.get(joint), how, sure)

    def _told(self, joint: int, name: str, how: str) -> tuple[str, float]:
        reading = self.tree.readings[joint]
        if reading.whole in (name, stem(name)):
            return "name", STANDARD_NAME
        if not reading.says(_part_of(name)) or reading.side not in (None, side_of(name)):
            return how, SURE[how]
        finger = finger_of(name) or metacarpal_of(name)
        if finger and reading.finger != finger:
            return how, SURE[how]
        return "name", SURE["name"] if reading.sure else DOUBTFUL_NAME


def _part_of(name: str) -> str:
    """What a reading calls the joint of this name of ours."""
    if finger_of(name) or metacarpal_of(name):
        return "finger"
    base = stem(name)
    if "_twist_" in base:
        return "twist"
    if base == "chest" or base.startswith("spine_"):
        return "spine"
    return "neck" if base.startswith("neck_") else base
