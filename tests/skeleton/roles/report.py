"""Prints how many joints are recognised in known skeletons whose names tell nothing.

Run it as `python -m tests.skeleton.roles.report`.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable

from autoplace.skeleton.model import Skeleton
from tests.figures import Y, Z
from tests.skeleton.roles.known import TIPS, bodies, members
from tests.skeleton.roles.renamed import Style, counted, lacking, mistakes, numbers

WAYS = {
    "nothing but places": (numbers, (), {}),
    "up and forward said": (numbers, (), {"up": Y, "forward": Z}),
    "limbs counted through": (counted, (), {}),
    "without tips and eyes": (numbers, (*TIPS, "eye"), {}),
}


def row(
    name: str, skeletons: Iterable[Skeleton], style: Style, gone: tuple[str, ...], given: dict
) -> str:
    """Share of joints recognised, skeletons without any mistake, and the joints missed most."""
    joints = right = whole = count = 0
    missed: Counter[str] = Counter()
    for skeleton in skeletons:
        known = lacking(skeleton, *gone) if gone else skeleton
        wrong = mistakes(known, style, **given)
        joints, right, count = joints + len(known), right + len(known) - len(wrong), count + 1
        whole += not wrong
        missed.update(name.partition("_")[2] or name for name in wrong)
    most = ", ".join(f"{name} {number}" for name, number in missed.most_common(4))
    return f"{name:<26}{100 * right / joints:9.2f}%{whole:6d} of {count:<6d}{most}"


def main(arguments: list[str] | None = None) -> int:
    """Prints a table for the family and one for the dataset."""
    parser = argparse.ArgumentParser(prog="python -m tests.skeleton.roles.report")
    parser.add_argument("--tuning", action="store_true", help="those that may be looked at")
    parser.add_argument("--family", action="store_true", help="the invented family only")
    options = parser.parse_args(arguments)
    sources = {"invented family": lambda: members(options.tuning)}
    if not options.family:
        sources["open dataset"] = lambda: bodies(options.tuning)
    for title, source in sources.items():
        skeletons = [skeleton for _, skeleton in source()]
        print(f"\n{title:<26}{'joints':>10}{'whole':>8}        missed")
        for name, (style, gone, given) in WAYS.items():
            print(row(name, skeletons, style, gone, given))
    return 0


if __name__ == "__main__":
    sys.exit(main())
