"""Error of joints kept in a new model: `python -m tests.keep.report`.

Every known joint of the old body is locked at its known place, and where it is kept in the new body
is held against the joint that is known there. Beside it stands what is lost by keeping absolute
coordinates, also when these are shifted and scaled with the figure, and by placing all anew.
Errors are in percent of the new body's height.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from autoplace.keep.locked_joints import place_keeping
from autoplace.skeleton.model import Skeleton
from tests.keep.cases import TOPOLOGIES, Pair, pairs
from tests.known_skeleton import known_skeleton
from tests.report_options import at_once

__all__ = ["Kept", "kept_errors", "measure", "summary"]


@dataclass(frozen=True)
class Kept:
    """Errors (n,) of all joints of one pair, percent of the new height, by what was done."""

    change: str
    topology: str
    carried_by: str
    errors: dict[str, np.ndarray]


def locked_at_known(pair: Pair) -> Skeleton:
    """The old body's known joints as a skeleton, all locked."""
    skeleton = known_skeleton(pair.old.joints, pair.old.height)
    return skeleton.with_joints(tuple(replace(joint, locked=True) for joint in skeleton))


def kept_errors(pair: Pair, topology: str) -> Kept:
    """One pair, with the new body's mesh in one state."""
    old = locked_at_known(pair)
    result = place_keeping(pair.new_mesh(topology), old, pair.old.character)
    found: dict[str, list[float]] = {}
    for joint in result.placed.skeleton:
        known = pair.new.joints.get(joint.name)
        if known is None or joint.name not in pair.old.joints:
            continue
        before = pair.old.joints[joint.name]
        scaled = (before - pair.old.origin) * pair.new.height / pair.old.height + pair.new.origin
        anew = [e.position for e in joint.evidence if e.kind == "placed_anew"]
        rows = {"kept": joint.position, "same coordinates": before, "scaled with figure": scaled}
        rows["placed anew"] = anew[0] if anew else np.full(3, np.nan)
        for name, place in rows.items():
            off = 100.0 * float(np.linalg.norm(place - known)) / pair.new.height
            found.setdefault(name, []).append(off)
    return Kept(
        pair.change,
        topology,
        result.carried_by,
        {name: np.array(errors) for name, errors in found.items()},
    )


def measure(numbers: Sequence[int], tuning: bool, topology: str, workers: int = 2) -> list[Kept]:
    """Pairs by their numbers in `pairs`, in that order."""
    return at_once(partial(_one, tuning=tuning, topology=topology), numbers, workers)


def _one(number: int, tuning: bool, topology: str) -> Kept:
    return kept_errors(pairs(tuning)[number], topology)


def summary(results: Sequence[Kept]) -> dict[str, tuple[float, float, float]]:
    """Median, 95th percentile and worst of all joints, by what was done."""
    found = {}
    for name in ("kept", "placed anew", "scaled with figure", "same coordinates"):
        errors = np.concatenate([result.errors[name] for result in results])
        errors = errors[np.isfinite(errors)]
        found[name] = (
            float(np.median(errors)),
            float(np.percentile(errors, 95)),
            float(errors.max()),
        )
    return found


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.keep.report", description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="bodies that may be looked at")
    parser.add_argument("--workers", type=int, default=2, help="processes (default: 2)")
    options = parser.parse_args(arguments)
    count = len(pairs(options.tuning))
    print("Joints kept in a new model: median, 95th percentile, worst; percent of the height.")
    for topology in TOPOLOGIES:
        results = measure(range(count), options.tuning, topology, options.workers)
        by = sorted({result.carried_by for result in results})
        print(f"\nThe new model's mesh: {topology} ({', '.join(by)})")
        changes = [*dict.fromkeys(result.change for result in results), "all"]
        for change in changes:
            some = [r for r in results if change in ("all", r.change)]
            told = summary(some)
            cells = [f"{name} " + " ".join(f"{v:6.2f}" for v in told[name]) for name in told]
            print(f"  {change:16}" + "   ".join(cells))


if __name__ == "__main__":
    main()
