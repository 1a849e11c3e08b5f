"""Prints how well eyes are found and fitted on heads with known ones.

Run it as `python -m tests.eyes.report`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from functools import cache

import numpy as np

from tests.eyes.cases import CASES, LIDS_ONLY, PLAIN_ONLY, Case
from tests.eyes.hosts import (
    Host,
    dataset_host,
    demo_host,
    family_hosts,
    light_host,
    plain_host,
)
from tests.eyes.judging import Judged, judge

PLAIN_SIZES = (0.9, 1.0, 1.2, 1.5, 1.9, 2.4)
DEMOS = ("keeper", "lamplighter", "ferryman", "bell_child")
PER_CASE = 10


@cache
def hosts(even: bool) -> tuple[Host, ...]:
    """All figures: plain heads, the demo characters, and half of the invented family."""
    found = [plain_host(size) for size in PLAIN_SIZES]
    found += [light_host(), *(demo_host(name) for name in DEMOS), *family_hosts(even, 14)]
    return (*found, dataset_host())


def cases(even: bool, per_case: int, only: str | None) -> Iterator[Case]:
    """Each way of modelling eyes on some figures, drawn by number; always the same."""
    for row, (name, build) in enumerate(CASES.items()):
        if only and only not in name:
            continue
        usable = [
            host
            for host in hosts(even)
            if not (name in PLAIN_ONLY and host.face != "plain")
            and not (name in LIDS_ONLY and host.face != "lids")
        ]
        for number in range(per_case):
            host = usable[(7 * row + 3 * number) % len(usable)]
            yield build(host, np.random.default_rng([row, number, not even]))


def table(judged: list[Judged]) -> list[str]:
    """One line a case."""
    lines = [
        f"{'case':<24}{'eyes':>5}{'wrong':>6}{'centre off, % of radius':>27}"
        f"{'look off, degrees':>22}{'seen':>6}{'within 2 spreads':>18}",
        f"{'':<35}{'median':>9}{'95th':>9}{'worst':>9}{'median':>11}{'worst':>11}",
    ]
    for name in dict.fromkeys(row.case for row in judged):
        rows = [row for row in judged if row.case == name]
        errors = np.array([100 * r.error for r in rows if not r.problem and r.error == r.error])
        looks = np.array([r.look for r in rows if not r.problem and r.look == r.look])
        line = f"{name:<24}{len(rows):>5}{sum(bool(r.problem) for r in rows):>6}"
        if len(errors):
            p95 = np.percentile(errors, 95)
            line += f"{np.median(errors):>9.3f}{p95:>9.3f}{errors.max():>9.3f}"
        else:
            line += " " * 27
        line += (
            f"{np.median(looks):>11.2f}{looks.max():>11.2f}{len(looks):>6}"
            if len(looks)
            else " " * 22 + f"{0:>6}"
        )
        known = [r for r in rows if r.error == r.error]
        if known:
            within = np.mean([r.error <= 2 * r.spread for r in known])
            line += f"{100 * within:>16.0f} %"
        lines.append(line)
    return lines


def main(words: list[str] | None = None) -> int:
    """Print the report; 1 when an eye was missed or made up."""
    parser = argparse.ArgumentParser(prog="python -m tests.eyes.report", description=__doc__)
    parser.add_argument("--only", metavar="TEXT", help="only cases with this in their name")
    parser.add_argument("--per-case", type=int, default=PER_CASE, metavar="N")
    parser.add_argument(
        "--tuning", action="store_true", help="the figures that a number may be tuned on"
    )
    args = parser.parse_args(words)
    start = time.perf_counter()
    judged, heads = [], 0
    for case in cases(args.tuning, args.per_case, args.only):
        heads += 1
        judged += judge(case)
    print("\n".join(table(judged)))
    wrong = [row for row in judged if row.problem]
    for row in wrong:
        print(f"  {row.case}, {row.host}, {row.eye}: {row.problem} {row.shape}")
    seconds = time.perf_counter() - start
    print(f"{heads} heads, {len(judged)} eyes, {len(wrong)} wrong, {seconds:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
