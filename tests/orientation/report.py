"""Prints how well joints are oriented on the open dataset and on the demo characters.

Run it as `python -m tests.orientation.report`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from autoplace.skeleton.model import Skeleton
from tests.dataset.bodies import BodySpec, build
from tests.dataset.fetch import DatasetMissing
from tests.dataset.placing import demo_truths
from tests.orientation.measures import (
    BENT,
    LIMBS,
    aim_errors,
    finger_axes,
    limb_planes,
    skeleton_of,
    spine_spread,
)
from tests.placed_once import placed_demo
from tests.report_options import at_once, bodies_asked, report_options

AIM, SPINE, PLANE = 0.01, 1.0, 5.0
"""Targets, degrees."""


@dataclass(frozen=True)
class Measured:
    """One character; degrees."""

    name: str
    group: str
    """Sex and age; of a demo character its own name."""
    aim: float
    """Worst of all joints."""
    spine: float
    fingers: float
    """Between the bend axes of one finger that differ most, worst of all fingers."""
    placed: dict[str, float]
    """By hinge joint: its axis against the plane of the known joints, signed."""
    known: dict[str, float]
    """The same of the known joints themselves, oriented."""


def measure_body(spec: BodySpec) -> Measured:
    """One dataset body, placed and oriented as a user would have it."""
    import autoplace

    body = build(spec)
    placed = autoplace.place(body.character).skeleton
    known = autoplace.orient(skeleton_of(body.joints, body.height))
    return _measured((spec.name, body.spec.group), placed, known, body.joints)


def measure_demo(number: int) -> Measured:
    """One demo character, read from its file."""
    import autoplace

    mesh, truth = demo_truths()[number]
    record = json.loads(truth.read_text(encoding="utf-8"))
    joints = {name: np.array(place, dtype=float) for name, place in record["joints"].items()}
    placed = placed_demo(mesh.stem).skeleton
    known = autoplace.orient(
        skeleton_of(joints, float(record["height"]), record["up"], record["forward"])
    )
    return _measured((mesh.stem, mesh.stem), placed, known, joints)


def _measured(
    names: tuple[str, str], placed: Skeleton, known: Skeleton, joints: dict[str, np.ndarray]
) -> Measured:
    return Measured(
        *names,
        max(aim_errors(placed).values()),
        spine_spread(placed),
        max(finger_axes(placed).values(), default=0.0),
        limb_planes(placed, joints),
        limb_planes(known, joints),
    )


def measure_all(
    specs: Sequence[BodySpec], demo: bool = True, workers: int = 2
) -> tuple[list[Measured], list[Measured]]:
    """Bodies and demo characters, several at once."""
    numbers = range(len(demo_truths())) if demo else range(0)
    return at_once(measure_body, specs, workers), at_once(measure_demo, numbers, workers)


def _off_plane(measured: Sequence[Measured], base: str, what: str) -> list[tuple[str, float]]:
    """Group and signed degrees of every limb of one kind."""
    return [
        (m.group, value)
        for m in measured
        for name, value in getattr(m, what).items()
        if name.endswith(base)
    ]


def _less_group(measured: Sequence[Measured], base: str) -> list[tuple[str, float]]:
    """The same of the joints as placed, less the mean of the limb's sex and age: where a body's
    makers put its hips aside is convention as much as error. Empty for single characters."""
    rows = _off_plane(measured, base, "placed")
    groups = {group for group, _ in rows}
    if len(groups) == len({m.name for m in measured}):
        return []
    means = {group: float(np.mean([v for g, v in rows if g == group])) for group in groups}
    return [(group, value - means[group]) for group, value in rows]


def table(title: str, measured: Sequence[Measured]) -> tuple[list[str], bool]:
    """Lines of the report, and whether the targets are met."""
    aim = max(m.aim for m in measured)
    spine = max(m.spine for m in measured)
    good = aim <= AIM and spine <= SPINE
    lines = [
        f"{title}: {len(measured)} characters",
        f"  aim            worst {aim:.1e} degrees (target {AIM:g})",
        f"  spine's axes   worst {spine:.1e} degrees apart (target {SPINE:g})",
        f"  finger's axes  worst {max(m.fingers for m in measured):.2f} degrees apart",
    ]
    for base in LIMBS:
        for what, rows in (
            ("joints as placed", _off_plane(measured, base, "placed")),
            ("less the mean of its sex and age", _less_group(measured, base)),
            ("the body's own joints", _off_plane(measured, base, "known")),
        ):
            values = np.abs([value for _, value in rows])
            if not len(values):
                continue
            within = float(np.mean(values <= PLANE))
            good &= what != "joints as placed" or within == 1.0
            lines.append(
                f"  {base:<6} {what:<33} {len(values):3d} bent by more than {BENT:g}: median "
                f"{np.median(values):.2f}, 95th {np.percentile(values, 95):.2f}, worst "
                f"{values.max():.1f}; within {PLANE:g} degrees {100 * within:.0f} % (target 100)"
            )
    return lines, good


def main(words: list[str] | None = None) -> int:
    options = report_options("orientation", __doc__).parse_args(words)
    specs, _ = bodies_asked(options)
    try:
        bodies, demos = measure_all(specs, workers=options.workers)
    except DatasetMissing as reason:
        print(reason, file=sys.stderr)
        return 2
    met = True
    for title, measured in (("open dataset", bodies), ("demo characters", demos)):
        if measured:
            lines, good = table(title, measured)
            print("\n".join([*lines, ""]))
            met &= good
    worst = sorted(
        ((abs(v), m.name, joint) for m in bodies for joint, v in m.placed.items()), reverse=True
    )
    print("farthest off the plane of the known joints")
    for value, name, joint in worst[:8]:
        print(f"  {value:5.1f}  {joint:<12} {name}")
    return int(options.strict and not met)


if __name__ == "__main__":
    sys.exit(main())
