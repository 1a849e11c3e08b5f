"""Runs bend tests on a skeleton: poses it, measures, and holds the numbers against their limits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from autoplace.skeleton.bending.eyes import measure_eyes
from autoplace.skeleton.bending.fingers import (
    measure_curl,
    measure_fist,
    measure_spread,
    measure_thumb,
)
from autoplace.skeleton.bending.fist import closed_fist
from autoplace.skeleton.bending.keying import keyed_pose, turned_joints
from autoplace.skeleton.bending.limbs import (
    measure_elbow,
    measure_hip,
    measure_knee,
    measure_shoulder,
    measure_toes,
    measure_wrist,
)
from autoplace.skeleton.bending.records import (
    BendReport,
    BendResult,
    BendTest,
    Limit,
    Measure,
    Value,
)
from autoplace.skeleton.bending.sides import (
    SYMMETRIC,
    measure_sides,
    mirrored_pose,
    rest_asymmetry,
)
from autoplace.skeleton.bending.stances import DOWN_OF, measure_stance, stance_pose
from autoplace.skeleton.bending.subject import Subject
from autoplace.skeleton.bending.trunk import measure_nod, measure_spine, measure_turn
from autoplace.skeleton.pose import Pose, Posed

__all__ = ["MEASURED", "poses_of_test", "run_bend_tests"]


@dataclass(frozen=True)
class _Given:
    """What a measure may look at."""

    subject: Subject
    posed: Posed
    pose: Pose
    name: str
    """Of the pose."""


Measuring = Callable[[_Given], list[Value]]

MEASURED: dict[str, Measuring] = {
    "elbow": lambda given: measure_elbow(given.subject, given.posed),
    "knee": lambda given: measure_knee(given.subject, given.posed),
    "hip": lambda given: measure_hip(given.subject, given.posed),
    "shoulder": lambda given: measure_shoulder(given.subject, given.posed),
    "wrist": lambda given: measure_wrist(given.subject, given.posed),
    "head_turn": lambda given: measure_turn(given.subject, given.posed),
    "head_nod": lambda given: measure_nod(given.subject, given.posed),
    "spine_curl": lambda given: measure_spine(given.subject, given.posed, given.pose),
    "finger_curl": lambda given: measure_curl(given.subject, given.posed),
    "finger_spread": lambda given: measure_spread(given.subject, given.posed, given.pose),
    "thumb": lambda given: measure_thumb(given.subject, given.posed),
    "fist": lambda given: measure_fist(given.subject, given.posed),
    "toe_roll": lambda given: measure_toes(given.subject, given.posed),
    "eyes": lambda given: measure_eyes(given.subject, given.posed),
    "stances": lambda given: measure_stance(given.subject, given.posed, given.name),
    "sides": lambda given: measure_sides(given.subject, given.posed),
}
"""How each test is measured, by its name."""
MOST_NAMED = 4
"""Missing joints that are listed."""
ASSUMED = (
    "The skeleton does not record how its axes were meant, so the default convention was taken: "
    "orient it first if it should be another."
)


def run_bend_tests(subject: Subject, tests: Sequence[BendTest]) -> BendReport:
    """All tests on one skeleton, in the order given; a test whose joints are missing is not run."""
    results = tuple(_run(subject, test) for test in tests)
    return BendReport(results, (ASSUMED,) if subject.assumed else ())


def poses_of_test(subject: Subject, test: BendTest) -> dict[str, Pose]:
    """The poses of a test on this skeleton, by name; those that turn nothing are left out."""
    if test.name == "stances":
        poses = {name: stance_pose(subject, name) for name in DOWN_OF}
    elif test.name == "sides":
        poses = {"": mirrored_pose(subject)}
    else:
        poses = {
            name: keyed_pose(subject, [rule for rule in test.turns if rule.pose == name])
            for name in test.pose_names
        }
    if test.name == "fist":
        poses = {name: closed_fist(subject, pose) for name, pose in poses.items() if pose}
    return {name: pose for name, pose in poses.items() if pose}


def _run(subject: Subject, test: BendTest) -> BendResult:
    def not_run(reason: str) -> BendResult:
        return BendResult(test.name, test.title, "not run", reason)

    if test.name not in MEASURED:
        return not_run("the program knows no way to measure it")
    poses = poses_of_test(subject, test)
    if not poses:
        unpromised = any(turned_joints(subject, rule) for rule in test.turns)
        return not_run(
            "the convention's axes do not follow how these joints bend"
            if unpromised
            else _missing(test)
        )
    unmirrored = _unmirrored(subject) if test.name == "sides" else ""
    measures: list[Measure] = []
    for name, pose in poses.items():
        values = MEASURED[test.name](_Given(subject, subject.posed(pose), pose, name))
        measures += [_measure(test, value, name, bool(unmirrored)) for value in values]
    if not measures:
        return not_run("the joints that it is measured by are missing")
    state = "failed" if any(m.passed is False for m in measures) else "passed"
    result = BendResult(test.name, test.title, state, "", tuple(measures), poses)
    return replace(result, state="not run", reason=unmirrored) if unmirrored else result


def _unmirrored(subject: Subject) -> str:
    """Why the two sides are not meant to move alike; empty where they are."""
    if subject.convention.mirror != "motion":
        return "the convention keeps the axes of a pair parallel, so equal values do not mirror"
    unlike = rest_asymmetry(subject)
    if unlike <= SYMMETRIC:
        return ""
    return (
        f"the two sides differ by {100 * unlike:.2g} % of the height at rest, so they cannot move "
        "alike"
    )


def _missing(test: BendTest) -> str:
    if test.name == "sides":
        return "the skeleton has no joint on both sides"
    named = [joint for rule in test.turns for joint in rule.joints if "*" not in joint]
    shown = list(dict.fromkeys(named)) or ["shoulder", "elbow", "wrist"]
    more = ", ..." if len(shown) > MOST_NAMED else ""
    return f"the skeleton has none of these joints: {', '.join(shown[:MOST_NAMED])}{more}"


def _measure(test: BendTest, value: Value, pose: str, told_only: bool) -> Measure:
    limit = test.limit(value.of)
    passed = None if told_only else limit.keeps(value.value)
    where = f"{value.joint}, {pose}" if pose else value.joint
    sentence = f"{where}: {limit.says.format(value=value.value)}"
    bound = _bound(limit)
    if passed is False:
        sentence += f" ({bound}); look here: {limit.look}" if limit.look else f" ({bound})"
    return Measure(
        test=test.name,
        joint=value.joint,
        pose=pose,
        of=value.of,
        value=float(value.value),
        unit=limit.unit,
        limit=bound,
        source=limit.source,
        passed=passed,
        sentence=sentence + ".",
    )


def _bound(limit: Limit) -> str:
    bounds = []
    if limit.least is not None:
        bounds.append(f"at least {limit.least:g}")
    if limit.most is not None:
        bounds.append(f"at most {limit.most:g}")
    return " and ".join(bounds)
