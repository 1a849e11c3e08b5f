"""Plain records of the bend test: what is turned, what is measured, what came out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from autoplace.skeleton.pose import Turn

__all__ = [
    "BendReport",
    "BendResult",
    "BendTest",
    "Limit",
    "Measure",
    "TurnRule",
    "Value",
    "headline",
]


@dataclass(frozen=True)
class TurnRule:
    """How some joints are turned in a test."""

    joints: tuple[str, ...]
    """Stems or patterns of stems, such as 'elbow' or '*_1'; both sides."""
    axis: str
    """'bend', 'third' or 'aim'."""
    sense: str
    """Which way: 'flex' and 'extend' by the convention's promise for the bend axis; 'raise' (a limb
    away from hanging), 'thumbward', 'littleward' by where the joint's axis takes what hangs on it;
    'leftward', 'rightward', 'upward', 'downward' by where it takes the look, the same value for all
    joints of the rule."""
    to: float | None = None
    """Degrees to reach, counted from `start`; what the joint has at rest is taken off, and a joint
    that is bent farther already stays."""
    by: float | None = None
    """Degrees to turn, whatever the joint has at rest, but not beyond `to` where that is given."""
    pose: str = ""
    """Rules of one name make one pose of a test that has several."""
    start: str = "bone"
    """What `to` is counted from: 'bone' (straight on from the bone above) or 'down' (hanging)."""
    shared: bool = False
    """True when `by` is divided equally among the joints found."""
    range: float = 180.0
    """Most that the motion can reach in people, degrees."""
    source: str = ""
    """Where the range is from."""


@dataclass(frozen=True)
class Limit:
    """What one measure must keep to."""

    of: str
    unit: str
    says: str
    """A sentence; '{value}' is filled in."""
    source: str
    most: float | None = None
    least: float | None = None
    look: str = ""
    """What to look at when it is not kept."""

    def keeps(self, value: float) -> bool | None:
        """Whether a value keeps to the limit; None where there is none, and it is only told."""
        if self.most is None and self.least is None:
            return None
        return not (
            (self.most is not None and not value <= self.most)
            or (self.least is not None and not value >= self.least)
        )


@dataclass(frozen=True)
class BendTest:
    """One motion and what is measured in it."""

    name: str
    title: str
    turns: tuple[TurnRule, ...]
    limits: tuple[Limit, ...]

    @property
    def pose_names(self) -> tuple[str, ...]:
        """Names of its poses in order; one empty name when they have none."""
        return tuple(dict.fromkeys(rule.pose for rule in self.turns)) or ("",)

    def limit(self, of: str) -> Limit:
        """The limit of a measure."""
        return next(limit for limit in self.limits if limit.of == of)


@dataclass(frozen=True)
class Value:
    """A number that was measured, before it is held against its limit."""

    of: str
    joint: str
    """What it was measured at: a joint, a finger ('left_index') or a side."""
    value: float


@dataclass(frozen=True)
class Measure:
    """One measured number, held against its limit."""

    test: str
    joint: str
    pose: str
    """Which of the test's poses; empty where it has one."""
    of: str
    value: float
    unit: str
    limit: str
    """Such as 'at most 12'; empty for a number that is only told."""
    source: str
    """Where the limit is from."""
    passed: bool | None
    """None for a number that is only told."""
    sentence: str
    """For a person: what was measured, and for a failed one what to look at."""


@dataclass(frozen=True)
class BendResult:
    """What one test gave."""

    test: str
    title: str
    state: str
    """'passed', 'failed' or 'not run'."""
    reason: str = ""
    """Why it was not run, or on what part only."""
    measures: tuple[Measure, ...] = ()
    poses: Mapping[str, Mapping[str, Turn]] = field(default_factory=dict)
    """By the pose's name: the joints that were turned, and how, in degrees about their own axes."""

    @property
    def failures(self) -> tuple[Measure, ...]:
        """The measures that did not keep to their limits."""
        return tuple(m for m in self.measures if m.passed is False)


@dataclass(frozen=True)
class BendReport:
    """All tests of one skeleton."""

    results: tuple[BendResult, ...]
    notes: tuple[str, ...] = ()

    def __getitem__(self, test: str) -> BendResult:
        for result in self.results:
            if result.test == test:
                return result
        raise KeyError(test)

    @property
    def passed(self) -> bool:
        """True when no test failed."""
        return all(result.state != "failed" for result in self.results)

    @property
    def failed(self) -> tuple[BendResult, ...]:
        """The tests that failed."""
        return tuple(result for result in self.results if result.state == "failed")


def headline(result: BendResult) -> Measure | None:
    """The measure to tell first of a test: the first that failed, else of those that its first
    limit is about the one that comes nearest to the limit; None for a test that was not run."""
    if result.failures:
        return result.failures[0]
    if not result.measures:
        return None
    first = [measure for measure in result.measures if measure.of == result.measures[0].of]
    pick = min if "least" in first[0].limit else max
    return pick(first, key=lambda measure: measure.value)
