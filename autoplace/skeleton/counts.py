"""Numbers of spine and neck joints that a person asked for after placing, and the way back.

`settings["edits"]` says what was asked for, and under "placed" keeps what the change took away: the
joints of the chain as placed, the number that the settings named, and what hung from other joints.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from autoplace.errors import SkeletonError
from autoplace.skeleton.model import Evidence, Joint, Skeleton
from autoplace.skeleton.respacing import (
    CHAINS,
    chain_joints,
    must_be_possible,
    replaced_chain,
    with_chain,
)

__all__ = ["asked_counts", "with_asked_counts", "without_asked_counts"]

KEY = "edits"


def asked_counts(skeleton: Skeleton) -> tuple[int | None, int | None]:
    """Numbers of joints of spine and neck that were asked for after placing, None as placed.

    Raises SkeletonError when something else is recorded there.
    """
    record = _record(skeleton)
    for chain in CHAINS:
        if record.get(chain) is not None:
            must_be_possible(chain, record[chain])
    return record.get("spine"), record.get("neck")


def with_asked_counts(skeleton: Skeleton, spine: int | None, neck: int | None) -> Skeleton:
    """The skeleton with so many joints in spine and neck, None as it has; axes are not filled.

    Raises SkeletonError when the skeleton has no such chain.
    """
    for chain, count in (("spine", spine), ("neck", neck)):
        if count is not None:
            skeleton = _with_count(skeleton, chain, count)
    return skeleton


def without_asked_counts(skeleton: Skeleton) -> Skeleton:
    """The skeleton with the joints of spine and neck as they were placed; axes are not filled.

    Raises SkeletonError when the record of it is broken.
    """
    record = _record(skeleton)
    if not record:
        return skeleton
    for chain, before in reversed(list(_placed(record).items())):
        skeleton = _with_placed(skeleton, chain, before)
    settings = {key: value for key, value in skeleton.settings.items() if key != KEY}
    return replace(skeleton, settings=settings)


def _with_count(skeleton: Skeleton, chain: str, count: int) -> Skeleton:
    old = chain_joints(skeleton, chain)
    record = dict(_record(skeleton))
    settings = dict(skeleton.settings)
    if len(old) != count:
        changed = with_chain(skeleton, chain, count)
        placed = dict(_placed(record))
        # of several changes the first knows what was placed
        placed.setdefault(chain, _what_changes(skeleton, changed, chain, old))
        record["placed"] = placed
        settings[chain] = count
        skeleton = changed
    return replace(skeleton, settings={**settings, KEY: {**record, chain: count}})


def _what_changes(
    skeleton: Skeleton, changed: Skeleton, chain: str, old: tuple[Joint, ...]
) -> dict[str, Any]:
    """What is needed to go back from `changed` to the skeleton."""
    in_chain = {joint.name for joint in old}
    after = {joint.name: joint for joint in changed}
    rest = [joint for joint in skeleton if joint.name not in in_chain]
    return {
        "setting": skeleton.settings.get(chain),
        "joints": [_as_data(joint) for joint in old],
        "parents": {j.name: j.parent for j in rest if after[j.name].parent != j.parent},
        "aims": {j.name: j.aim for j in rest if after[j.name].aim != j.aim},
    }


def _with_placed(skeleton: Skeleton, chain: str, before: Mapping[str, Any]) -> Skeleton:
    try:
        joints = [_joint(entry) for entry in before["joints"]]
        parents, aims = dict(before["parents"]), dict(before["aims"])
        setting = before["setting"]
        if not joints:
            raise ValueError("no joints")
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as reason:
        raise SkeletonError(
            f"What the skeleton's settings record of its {chain} as placed is broken: take "
            f"'{KEY}' out of the settings."
        ) from reason
    old = chain_joints(skeleton, chain)
    skeleton = replaced_chain(skeleton, old, joints, CHAINS[chain][1])
    back = tuple(
        replace(
            joint,
            parent=parents.get(joint.name, joint.parent),
            aim=aims.get(joint.name, joint.aim),
        )
        for joint in skeleton
    )
    settings = dict(skeleton.settings)
    if setting is None:
        settings.pop(chain, None)
    else:
        settings[chain] = setting
    return replace(skeleton, joints=back, settings=settings)


def _record(skeleton: Skeleton) -> Mapping[str, Any]:
    record = skeleton.settings.get(KEY, {})
    if not isinstance(record, Mapping):
        raise SkeletonError(f"The skeleton's settings hold '{KEY}' that are no table: take it out.")
    return record


def _placed(record: Mapping[str, Any]) -> Mapping[str, Any]:
    placed = record.get("placed", {})
    if not isinstance(placed, Mapping) or not set(placed) <= set(CHAINS):
        raise SkeletonError(
            f"The skeleton's settings hold '{KEY}' with something else than spine and neck under "
            "'placed': take it out."
        )
    return placed


def _as_data(joint: Joint) -> dict[str, Any]:
    return {
        "name": joint.name,
        "parent": joint.parent,
        "position": _numbers(joint.position),
        "spread": float(joint.spread),
        "aim": joint.aim,
        "evidence": [
            {
                "kind": e.kind,
                "position": _numbers(e.position),
                "spread": float(e.spread),
                "weight": float(e.weight),
                "note": e.note,
            }
            for e in joint.evidence
        ],
    }


def _joint(data: Mapping[str, Any]) -> Joint:
    evidence = tuple(
        Evidence(
            str(e["kind"]),
            _point(e["position"]),
            float(e["spread"]),
            float(e["weight"]),
            str(e["note"]),
        )
        for e in data["evidence"]
    )
    parent, aim = data["parent"], data["aim"]
    return Joint(
        str(data["name"]),
        None if parent is None else str(parent),
        _point(data["position"]),
        spread=float(data["spread"]),
        evidence=evidence,
        aim=None if aim is None else str(aim),
    )


def _point(numbers: Any) -> Any:
    point = np.array(numbers, dtype=np.float64)
    if point.shape != (3,):
        raise ValueError(numbers)
    return point


def _numbers(point: Any) -> list[float]:
    return [float(value) for value in point]
