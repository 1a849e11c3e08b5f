"""Prints what the bend test gives on the open dataset and on the demo characters.

Run it as `python -m tests.bending.report`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from autoplace.files.bend_tests import read_bend_tests
from autoplace.skeleton.bending.records import BendReport, Measure
from tests.bending.bodies_bent import Bent, bend_all
from tests.dataset.fetch import DatasetMissing
from tests.report_options import bodies_asked, report_options

Named = tuple[str, Measure]
"""A character's name and one thing measured on it."""


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = report_options("bending", __doc__)
    parser.add_argument("--pictures", type=Path, metavar="DIR", help="a strip of each character")
    parser.add_argument("--no-demo", action="store_true", help="leave the demo characters out")
    parser.add_argument("--worst", type=int, default=12, metavar="N", help="failures listed")
    return parser.parse_args(words)


def reports(bent: Sequence[Bent], what: str) -> list[tuple[str, BendReport]]:
    """Name and report, 'placed' or 'known', of the characters that have one."""
    return [(b.name, report) for b in bent if (report := getattr(b, what)) is not None]


def measures(found: Sequence[tuple[str, BendReport]], test: str, of: str) -> list[Named]:
    """All that one measure of one test gave."""
    return [(name, m) for name, report in found for m in report[test].measures if m.of == of]


def tally(found: Sequence[tuple[str, BendReport]]) -> list[str]:
    """One line a test: how many characters passed and failed."""
    lines = [f"{'test':<16}{'passed':>8}{'failed':>8}{'not run':>9}"]
    for test in read_bend_tests():
        states = [report[test.name].state for _, report in found]
        counts = [states.count(state) for state in ("passed", "failed", "not run")]
        lines.append(f"{test.name:<16}{counts[0]:>8}{counts[1]:>8}{counts[2]:>9}")
    return lines


def numbers(found: Sequence[tuple[str, BendReport]]) -> list[str]:
    """One line a measure: how many, how many failed, median and worst, beside the limit."""
    lines = [f"{'measure':<26}{'n':>5}{'failed':>7}{'median':>10}{'least':>10}{'most':>10}  limit"]
    for test in read_bend_tests():
        for limit in test.limits:
            some = [m for _, m in measures(found, test.name, limit.of)]
            if not some:
                continue
            values = np.array([m.value for m in some])
            failed = sum(m.passed is False for m in some)
            name, bound = f"{test.name} {limit.of}", some[0].limit or "only told"
            lines.append(
                f"{name:<26}{len(some):>5}{failed:>7}{np.median(values):>10.3g}"
                f"{values.min():>10.3g}{values.max():>10.3g}  {bound} ({limit.unit})"
            )
    return lines


def targets(found: Sequence[tuple[str, BendReport]]) -> tuple[list[str], bool]:
    """The project's own targets, each with what was reached, and whether all are met."""
    tips = [m for _, m in measures(found, "fist", "tip")]
    order = [m for _, m in measures(found, "fist", "order")]
    sign = [m for _, m in measures(found, "fist", "same_sign")]
    spine = [m.value for _, m in measures(found, "spine_curl", "axes")]
    moved = [m for _, m in measures(found, "sides", "moved") if m.passed is not None]
    thumbs = [m.value for _, m in measures(found, "fist", "thumb")]
    rows = [
        ("finger tips within 12 % of the hand's length of the palm", tips),
        ("neighbouring fingers that do not cross", order),
        ("fingers whose joints all flex by one sign", sign),
        ("symmetric characters that move in mirror image to 1e-6", moved),
    ]
    lines, good = [], True
    for title, some in rows:
        kept = sum(m.passed is True for m in some)
        met = kept == len(some)
        good &= met
        lines.append(f"{title:<60}{kept:>5} of {len(some):<5}{'met' if met else 'MISSED'}")
    if spine:
        met = max(spine) <= 1.0
        good &= met
        lines.append(
            f"{'bend axes of the spine within 1 degree, worst':<60}{max(spine):>8.2g}    "
            f"{'met' if met else 'MISSED'}"
        )
    if thumbs:
        near = np.mean(np.array(thumbs) <= 12.0)
        lines.append(
            f"(thumb tips within 12 % of the palm or a curled finger: {100 * near:.1f} %, median "
            f"{np.median(thumbs):.1f}, worst {max(thumbs):.1f})"
        )
    return lines, good


def failures(found: Sequence[tuple[str, BendReport]], most: int) -> list[str]:
    """The measures that did not keep to their limits, by character."""
    lines = [
        f"  {name} {result.test}: {measure.sentence.split(';')[0]}"
        for name, report in found
        for result in report.failed
        for measure in result.failures
    ]
    rest = len(lines) - most
    return lines[:most] + ([f"  and {rest} more"] if rest > 0 else [])


def block(title: str, bent: Sequence[Bent], most: int) -> tuple[list[str], bool]:
    """The report on some characters, and whether every test was passed."""
    lines = [f"{title}: {len(bent)} characters"]
    broken = [b for b in bent if b.problem]
    lines += [f"  BROKE DOWN: {b.name}: {b.problem}" for b in broken]
    good = not broken
    for what, words in (("placed", "joints as placed"), ("known", "the characters' own joints")):
        found = reports(bent, what)
        if not found:
            continue
        reached, met = targets(found)
        failed = failures(found, most)
        if what == "placed":
            good &= met and not failed
        lines += ["", f"--- {words}", "", *reached, "", *tally(found), "", *numbers(found)]
        lines += ["", "failures", *failed] if failed else ["", "no failures"]
    return lines, good


def main(words: list[str] | None = None) -> int:
    options = arguments(words)
    if options.pictures:
        options.pictures.mkdir(parents=True, exist_ok=True)
    specs, kind = bodies_asked(options)
    start = time.perf_counter()
    try:
        bodies, demos = bend_all(
            specs,
            demo=not options.no_demo,
            pictures=options.pictures,
            workers=options.workers,
        )
    except DatasetMissing as reason:
        print(reason, file=sys.stderr)
        return 2
    good = True
    for title, bent in ((f"open dataset, {kind}", bodies), ("demo characters", demos)):
        if bent:
            lines, met = block(title, bent, options.worst)
            print("\n".join([*lines, ""]))
            good &= met
    print(f"{time.perf_counter() - start:.0f} s")
    return int(options.strict and not good)


if __name__ == "__main__":
    sys.exit(main())
