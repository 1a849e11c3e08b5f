"""Prints how well the placing does on the invented families.

Run it as `python -m tests.family.report`. Readings are learned from the smooth members of even
number, so that those of odd number are told apart. Of the box family those of odd number are
reported on; `--tuning` shows the others, and `--deal N` members of a further deal, all of which may
be looked at.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np

from meshes.box_family import TRAITS as BOX_TRAITS
from meshes.box_family import BoxMember, box_family
from meshes.family import Member, family
from tests.dataset import scores
from tests.family.placing import BOX_TARGETS, TARGETS, Scored, score_all, told_apart
from tests.report_options import add_tables, picked, report_options

TRAITS = (
    "template",
    "heads",
    "legs",
    "girth",
    "neck",
    "hands",
    "feet",
    "skin",
    "top",
    "garment",
    "carries",
    "pose",
    "faces",
    "eyes",
    "frame",
    "names",
)


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = report_options("family", __doc__, "members", tuning=False)
    add_tables(parser, "member")
    parser.add_argument(
        "--family",
        choices=("smooth", "box"),
        default="smooth",
        help="of smooth shapes, or of loops and boxes as figures for games are modelled",
    )
    parser.add_argument(
        "--tuning",
        action="store_true",
        help="of the box family the members of even number, that may be looked at while tuning",
    )
    parser.add_argument(
        "--deal", type=int, default=0, metavar="N", help="a further deal of the box family"
    )
    parser.add_argument("--findings", action="store_true", help="add what was found on each member")
    return parser.parse_args(words)


def chosen(options: argparse.Namespace) -> list[Member] | list[BoxMember]:
    """The members asked for."""
    if options.family == "smooth":
        return picked(family(), options.only, options.count)
    shown = options.tuning or options.deal > 0
    members = [member for member in box_family(options.deal) if member.tuning == shown]
    return picked(members, options.only, options.count)


def trait_table(scored: list[Scored], trait: str) -> list[str]:
    """Failures and errors of the joints that can be seen, by the kinds of one trait."""
    head = f"{trait:<16}{'members':>8}{'failed':>8}"
    lines = [head + "".join(f"{group:>18}" for group in scores.GROUPS)]
    for kind in sorted({one.outcome.labels[trait] for one in scored}):
        some = [one for one in scored if one.outcome.labels[trait] == kind]
        failed = sum(bool(one.outcome.problems) for one in some)
        line = f"{kind:<16}{len(some):>8}{failed:>8}"
        for group in scores.GROUPS:
            found = scores.group_errors([one.seen for one in some], group)
            line += f"{scores.short(found):>18}"
        lines.append(line)
    return lines


def hidden_lines(scored: list[Scored]) -> list[str]:
    """How the joints under floor-long garments fare: error, and does their spread cover it."""
    unseen = [one.unseen for one in scored if one.hidden]
    found = scores.group_errors(unseen, "limbs")
    if not len(found):
        return []
    misses = [miss for outcome in unseen for miss in outcome.misses.values()]
    covered = np.mean([miss.distance <= 2.0 * miss.spread * np.sqrt(3.0) for miss in misses])
    return [
        f"limb joints hidden to the floor: {len(found)}, {scores.summary(found)}, "
        f"within two spreads {100 * covered:.0f} %"
    ]


def report_lines(scored: list[Scored], options: argparse.Namespace) -> tuple[list[str], bool]:
    """The whole report, and whether every target is met without failure."""
    seen = [one.seen for one in scored]
    outcomes = [one.outcome for one in scored]
    boxes = options.family == "box"
    lines, good = scores.group_table(seen, {}, BOX_TARGETS if boxes else TARGETS)
    whole = scores.group_errors(outcomes, "limbs")
    lines += [f"limbs, hidden ones too: {len(whole)}, {scores.summary(whole)}"]
    if not boxes:
        for which, some in zip(("odd", "even"), told_apart(scored), strict=True):
            found = scores.group_errors([one.seen for one in some], "limbs")
            said = f"limbs of members of {which} number: {len(found)}"
            lines += [said + (f", {scores.summary(found)}" if len(found) else "")]
    lines += [*hidden_lines(scored), "", *scores.failure_lines(outcomes)]
    in_body = [one for one in scored if one.in_body]
    lines += [f"failures but for fingers: {len(in_body)} of {len(scored)}"]
    swapped = [one for one in scored if one.swapped]
    lines += [f"left-right swaps: {len(swapped)} of {len(scored)}"]
    lines += [f"  {one.outcome.name}: {', '.join(one.swapped)}" for one in swapped]
    for trait in ("template", *BOX_TRAITS) if boxes else TRAITS:
        lines += ["", *trait_table(scored, trait)]
    lines += ["", "spreads against errors, axis by axis", *scores.calibration_table(outcomes)]
    if options.per_joint:
        lines += ["", *scores.joint_table(seen)]
    if options.worst:
        lines += ["", "farthest off", *scores.worst_lines(seen, options.worst)]
    if options.findings:
        for one in scored:
            lines += ["", one.outcome.name, *(f"  {text}" for text in one.findings)]
    seconds = [outcome.seconds for outcome in outcomes if outcome.seconds]
    if seconds:
        lines += ["", f"placing: median {np.median(seconds):.2f} s, slowest {max(seconds):.2f} s"]
    return lines, good and not swapped and not any(outcome.problems for outcome in outcomes)


def main(words: list[str] | None = None) -> int:
    options = arguments(words)
    if options.pictures:
        options.pictures.mkdir(parents=True, exist_ok=True)
    members = chosen(options)
    if not members:
        print("no member of the family has that name")
        return 1
    start = time.perf_counter()
    scored = score_all(members, options.workers, options.pictures)
    seconds = time.perf_counter() - start
    print(f"invented family ({options.family}): {len(members)} members, {seconds:.0f} s\n")
    lines, good = report_lines(scored, options)
    print("\n".join(lines))
    return 1 if options.strict and not good else 0


if __name__ == "__main__":
    sys.exit(main())
