"""Prints how well the placing does on the open dataset and on the demo characters.

Run it as `python -m tests.dataset.report`.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np

from tests.dataset import baseline, scores
from tests.dataset.bodies import build, report_list, tuning_list
from tests.dataset.fetch import DatasetMissing
from tests.dataset.placing import demo_truths, score_bodies, score_demo
from tests.report_options import add_tables, bodies_asked, report_options


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = report_options("dataset", __doc__)
    add_tables(parser, "body")
    parser.add_argument("--no-demo", action="store_true", help="leave out the demo characters")
    parser.add_argument("--no-cost", action="store_true", help="leave out the timings")
    return parser.parse_args(words)


def dataset_report(options: argparse.Namespace) -> bool:
    """Prints the dataset's part; True when its targets are met."""
    specs, kind = bodies_asked(options)
    if not specs:
        print("no dataset body has that name")
        return False
    start = time.perf_counter()
    ours = score_bodies(specs, options.workers, options.pictures)
    wall = time.perf_counter() - start
    everyone = [build(spec) for spec in (tuning_list() if options.tuning else report_list())]
    names = {spec.name for spec in specs}
    others = {
        title: [guess for guess in baseline.outcomes(everyone, same) if guess.name in names]
        for title, same in (("mean of the others", False), ("mean of others its age", True))
    }
    print(f"open dataset: {len(specs)} {kind}, {wall:.0f} s\n")
    lines, good = scores.group_table(ours, others, scores.DATASET_TARGETS)
    if len(specs) > 1:
        lines += ["", *scores.bias_table(ours)]
    lines.append("")
    lines += scores.failure_lines(ours)
    for label in ("group", "pose", "weight", "muscle", "proportions"):
        lines += ["", *scores.breakdown_table(ours, label)]
    lines += ["", "spreads against errors, axis by axis", *scores.calibration_table(ours)]
    if options.per_joint:
        lines += ["", *scores.joint_table(ours)]
    if options.worst:
        lines += ["", "farthest off", *scores.worst_lines(ours, options.worst)]
    seconds = [outcome.seconds for outcome in ours if outcome.seconds]
    if seconds:
        lines += [
            "",
            f"placing, {options.workers} at once: median {np.median(seconds):.2f} s, "
            f"slowest {max(seconds):.2f} s",
        ]
    print("\n".join(lines))
    return good and not any(outcome.problems for outcome in ours)


def demo_report(options: argparse.Namespace) -> bool:
    """Prints the demo characters' part; True when their targets are met."""
    pairs = demo_truths()
    if not pairs:
        print("\ndemo characters: none with known joints found in meshes/")
        return False
    ours = [score_demo(mesh, truth, options.pictures) for mesh, truth in pairs]
    print(f"\ndemo characters: {len(ours)}\n")
    lines, good = scores.group_table(ours, {}, scores.DEMO_TARGETS)
    lines += ["", *scores.failure_lines(ours), ""]
    lines += [f"{'character':<16}" + "".join(f"{group:>18}" for group in scores.GROUPS)]
    for outcome in ours:
        line = f"{outcome.name:<16}"
        for group in scores.GROUPS:
            line += f"{scores.short(scores.group_errors([outcome], group)):>18}"
        lines.append(line)
    if options.worst:
        lines += ["", "farthest off", *scores.worst_lines(ours, options.worst)]
    print("\n".join(lines))
    return good and not any(outcome.problems for outcome in ours)


def cost_report() -> bool:
    """Prints the timings; True when they are within the limits."""
    from tests.dataset.cost import COMMAND_LIMIT, PLACING_LIMIT, measure

    try:
        cost = measure()
    except Exception as error:
        print(f"\ntimings: not measured: {type(error).__name__}: {error}")
        return False
    print(f"\ntimings on a body of {cost.faces:,} faces, best of five")
    good = True
    for name, seconds, limit in (
        ("placing itself", cost.placing, PLACING_LIMIT),
        ("whole command", cost.command, COMMAND_LIMIT),
    ):
        met = seconds <= limit
        good &= met
        print(f"{name:<22}{seconds:6.2f} s   <= {limit} s   {'met' if met else 'MISSED'}")
    print(f"{'trimesh reads the file':<22}{cost.reading:6.2f} s")
    return good


def main(words: list[str] | None = None) -> int:
    options = arguments(words)
    if options.pictures:
        options.pictures.mkdir(parents=True, exist_ok=True)
    try:
        good = dataset_report(options)
    except DatasetMissing as error:
        print(f"open dataset: {error}", file=sys.stderr)
        good = False
    if not options.no_demo:
        good &= demo_report(options)
    if not options.no_cost:
        good &= cost_report()
    return 1 if options.strict and not good else 0


if __name__ == "__main__":
    sys.exit(main())
