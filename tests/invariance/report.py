"""Prints how far the joints move when the same figure arrives in another state of the mesh.

Run it as `python -m tests.invariance.report`. Each state of each character is compared with the
joints of the unchanged mesh; figures are in percent of height.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from functools import partial

import numpy as np

from tests.invariance.comparing import TARGET, Followed, Subject, follow, placed_joints, subjects
from tests.invariance.states import MANY, STATES, Changed, height_of
from tests.report_options import at_once


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.invariance.report", description=__doc__)
    parser.add_argument("--only", metavar="TEXT", action="append", help="states with this in them")
    parser.add_argument("--subjects", metavar="TEXT", action="append", help="these characters")
    parser.add_argument("--joints", type=int, default=1, metavar="N", help="farthest joints shown")
    parser.add_argument("--workers", type=int, default=2, metavar="N", help="characters at once")
    parser.add_argument("--each", action="store_true", help="a line for each character and state")
    parser.add_argument("--per-joint", action="store_true", help="add a table of every joint")
    parser.add_argument("--many", action="store_true", help="add the state of 1.75 million faces")
    return parser.parse_args(words)


def run(subject: Subject, names: list[str]) -> list[Followed]:
    """One character in all the states asked for."""
    joints = placed_joints(subject.character)
    height = height_of(subject.character)
    found = []
    for name in names:
        state = MANY[1] if name == MANY[0] else STATES[name]
        changed: Changed = state(subject.character, subject.known)
        found.append(follow(subject.name, name, changed, joints, height))
    return found


def farthest(followed: list[Followed], count: int) -> str:
    """The joints that moved most, each once, with how far."""
    moved: dict[str, tuple[float, str]] = {}
    for one in followed:
        for joint, far in one.moved.items():
            if far > moved.get(joint, (0.0, ""))[0]:
                moved[joint] = (far, one.subject)
    ranked = sorted(moved.items(), key=lambda pair: -pair[1][0])[:count]
    return ", ".join(f"{joint} {far:.2f} ({who})" for joint, (far, who) in ranked)


def joint_lines(followed: list[Followed]) -> list[str]:
    """A table of how far each joint moves, left and right together, over all states."""
    moved: dict[str, list[tuple[float, str]]] = {}
    for one in followed:
        for joint, far in one.moved.items():
            stem = joint.removeprefix("left_").removeprefix("right_")
            moved.setdefault(stem, []).append((far, f"{one.subject}, {one.state}"))
    lines = ["", f"{'joint':<14}{'median':>7}{'90th':>7}{'worst':>8}{'beyond':>8}  worst in"]
    for stem, rows in sorted(moved.items(), key=lambda pair: -max(pair[1])[0]):
        far = np.array([row[0] for row in rows])
        lines.append(
            f"{stem:<14}{np.median(far):7.3f}{np.percentile(far, 90):7.3f}{far.max():8.3f}"
            f"{100 * np.mean(far > TARGET):7.1f}%  {max(rows)[1]}"
        )
    return lines


def main() -> int:
    options = arguments()
    names = [*STATES, MANY[0]] if options.many else list(STATES)
    if options.only:
        names = [n for n in names if any(text in n for text in options.only)]
    people = subjects(tuple(options.subjects) if options.subjects else None)
    start = time.perf_counter()
    results = at_once(partial(run, names=names), people, options.workers)
    print(
        f"{len(people)} characters in {len(names)} states, {time.perf_counter() - start:.0f} s; "
        f"movement of joints in percent of height (at most {TARGET})\n"
    )
    print(f"{'state':<34}{'median':>7}{'95th':>7}{'worst':>8}{'slowest':>9}  farthest")
    good = True
    for index, name in enumerate(names):
        row = [followed[index] for followed in results]
        moved = np.array([far for one in row for far in one.moved.values()] or [np.inf])
        slow = max(one.seconds for one in row)
        mark = " " if all(one.holds for one in row) else "!"
        good &= mark == " "
        print(
            f"{name:<34}{np.median(moved):7.3f}{np.percentile(moved, 95):7.3f}"
            f"{moved.max():8.3f}{mark}"
            f"{slow:7.2f} s  {farthest(row, options.joints)}"
        )
        for one in row:
            for problem in one.problems:
                print(f"    {one.subject}: {problem}")
        if options.each:
            for one in row:
                print(f"    {one.subject:<26}{one.worst:8.3f}  {farthest([one], options.joints)}")
    if options.per_joint:
        print(*joint_lines([one for followed in results for one in followed]), sep="\n")
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"\npeak memory {max(own, children) / 2**10:.0f} MB")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
