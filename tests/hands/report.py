"""Prints how well fingers are found and placed on the invented hands.

Run it as `python -m tests.hands.report`. Odd members are reported on; `--tuning` shows the others,
and `--deal N` members of a further deal, all of which may be looked at. `--boxes` takes hands that
are modelled as boxes out of few faces.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np

from meshes.hand_boxes import box_family
from meshes.hand_family import HandMember, hand_family
from tests.hands.placing import COUNTED, HIGH, MEDIAN, Scored, all_errors, score_all
from tests.report_options import add_tables, picked, report_options

TRAITS = (
    "kind",
    "girth",
    "length",
    "ends",
    "closeness",
    "curl",
    "thumb",
    "worn",
    "relief",
    "faces",
)
BOX_TRAITS = ("kind", "girth", "closeness", "curl", "thumb", "worn", "sides", "loops", "sewn")
SURE = 0.9


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    parser = report_options("hands", __doc__, "hands")
    parser.add_argument("--deal", type=int, default=0, metavar="N", help="a further deal of hands")
    parser.add_argument("--boxes", action="store_true", help="the hands made of boxes instead")
    add_tables(parser, "hand")
    return parser.parse_args(words)


def chosen(options: argparse.Namespace) -> list[HandMember]:
    """The members asked for."""
    family = box_family() if options.boxes else hand_family(options.deal)
    shown = options.tuning or options.deal > 0
    members = [m for m in family if m.tuning == shown or options.only]
    return picked(members, options.only, options.count)


def summary(errors: np.ndarray) -> str:
    if not len(errors):
        return "-"
    middle, high = np.median(errors), np.percentile(errors, 95)
    return f"{middle:5.2f} {high:6.2f} {errors.max():6.2f}"


def trait_table(found: list[Scored], trait: str) -> list[str]:
    """Fingers and errors by the kinds of one trait."""
    lines = [f"{trait:<12}{'hands':>6}{'counted':>9}{'named':>7}   median   95th  worst"]
    for kind in sorted({one.member.traits[trait] for one in found}, key=lambda k: (len(k), k)):
        some = [one for one in found if one.member.traits[trait] == kind]
        counted, named = sum(one.counted for one in some), sum(one.named for one in some)
        lines.append(
            f"{kind:<12}{len(some):>6}{counted:>9}{named:>7}   {summary(all_errors(some))}"
        )
    return lines


def joint_table(found: list[Scored]) -> list[str]:
    lines = [f"{'joint':<12}median   95th  worst   within two spreads"]
    for joint in ("_1", "_2", "_3", "_tip", "thumb_1", "thumb_2", "thumb_3", "thumb_tip"):
        pairs = [
            (e, one.spreads[name])
            for one in found
            for name, e in one.errors.items()
            if name.endswith(joint) and name.startswith("thumb") == joint.startswith("thumb")
        ]
        errors, spreads = (np.array([pair[k] for pair in pairs]) for k in (0, 1))
        if not len(errors):
            continue
        covered = 100 * np.mean(errors <= 2.0 * spreads * np.sqrt(3.0))
        name = joint if joint.startswith("thumb") else f"fingers{joint}"
        lines.append(f"{name:<12}{summary(errors)}   {covered:5.0f} %")
    return lines


def report_lines(found: list[Scored], options: argparse.Namespace) -> tuple[list[str], bool]:
    """The whole report, and whether all targets are met."""
    counted = np.mean([one.counted for one in found])
    named = np.mean([one.named for one in found])
    open_hands = [one for one in found if one.member.traits["curl"] != "fist"]
    free = np.mean([one.counted for one in open_hands])
    errors = all_errors(found)
    good = bool(
        counted >= COUNTED and np.median(errors) <= MEDIAN and np.percentile(errors, 95) <= HIGH
    )
    lines = [
        f"fingers counted right: {100 * counted:.1f} % (target {100 * COUNTED:.0f}), "
        f"without fists {100 * free:.1f} %; named right: {100 * named:.1f} %",
        f"joints, percent of hand length: {len(errors)}, median / 95th / worst {summary(errors)} "
        f"(target {MEDIAN:g} / {HIGH:g})",
    ]
    inner = np.array([e for one in found for n, e in one.errors.items() if not n.endswith("tip")])
    lines += [f"without tips: {summary(inner)}"]
    hinges = np.array([one.hinge_off for one in found if one.errors])
    lines += [f"bend planes of curled fingers, worst of a hand, degrees: {summary(hinges)}"]
    told = [one for one in found if one.side[1] > SURE]
    right = np.mean([one.side[0] == one.member.side for one in found])
    surely = np.mean([one.side[0] == one.member.side for one in told]) if told else 0.0
    lines += [
        f"left and right told from the hand alone: {100 * right:.1f} %; where it is surer than "
        f"{100 * SURE:.0f} %, {len(told)} hands: {100 * surely:.1f} %"
    ]
    for one in found:
        if not one.named:
            traits = " ".join(one.member.traits.values())
            lines.append(
                f"  {one.member.name} {traits}: {', '.join(one.found) or 'none'} "
                f"{'; '.join(one.notes)}"
            )
    lines += ["", *joint_table(found)]
    for trait in BOX_TRAITS if options.boxes else TRAITS:
        lines += ["", *trait_table(found, trait)]
    worst = sorted(
        ((e, one.member.name, name) for one in found for name, e in one.errors.items()),
        reverse=True,
    )
    lines += ["", "farthest off"]
    lines += [f"  {name} {joint}: {e:.1f}" for e, name, joint in worst[: options.worst]]
    if options.per_joint:
        for one in found:
            parts = " ".join(f"{name} {e:.1f}" for name, e in one.errors.items())
            lines.append(f"{one.member.name} twist {one.twist:.0f}: {parts}")
    return lines, good


def main(words: list[str] | None = None) -> int:
    options = arguments(words)
    if options.pictures:
        options.pictures.mkdir(parents=True, exist_ok=True)
    members = chosen(options)
    if not members:
        print("no hand of the family has that name")
        return 1
    start = time.perf_counter()
    found = score_all(members, options.workers, options.pictures)
    print(f"invented hands: {len(members)}, {time.perf_counter() - start:.0f} s\n")
    lines, good = report_lines(found, options)
    print("\n".join(lines))
    if options.pictures:
        from tests.hands.pictures import contact_sheet

        names = [options.pictures / f"{member.name}.png" for member in members]
        for page in range(0, len(names), 16):
            contact_sheet(options.pictures / f"sheet_{page // 16}.png", names[page : page + 16])
    return 1 if options.strict and not good else 0


if __name__ == "__main__":
    sys.exit(main())
