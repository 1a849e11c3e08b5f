"""A skeleton as a BVH file: the hierarchy, and one frame in which nothing is turned.

BVH has no standard body; what is written is what the texts commonly taught from describe. Offsets
are along the world's axes in the frame and units of the skeleton, for the format says neither a
unit nor an up axis. The root has no offset and stands where the frame's position channels put it:
readers differ in whether these replace the offset or are added to it, and so agree. Tip helpers
become end sites, and a joint on which nothing hangs gets an end site at its own place, since many
readers expect a chain to end in one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError
from autoplace.files.atomic import write_whole
from autoplace.files.export_notes import frame_note, lost_axes, lost_judgement, names_or_own
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import is_tip
from autoplace.skeleton.structure import parent_indices

__all__ = ["dump_bvh", "is_rest_bvh", "write_bvh"]

FloatArray = NDArray[np.float64]

TURNS = "Zrotation Xrotation Yrotation"
FRAME_TIME = "1"
"""Seconds; of a rest there is but one frame."""
FORBIDDEN = re.compile(r"[\s{}]|[^\x20-\U0010ffff]")
"""In names: BVH parts its words by white space and braces."""
_NUMBER = r"-?\d+(?:\.\d+)?"
_OURS = re.compile(
    rf"(?: *(?:(?:ROOT|JOINT) \S+|End Site|\{{|\}}|OFFSET(?: {_NUMBER}){{3}}"
    rf"|CHANNELS (?:3|6 Xposition Yposition Zposition) {TURNS})\n)+"
)
"""The lines of a hierarchy as they are written here."""


def write_bvh(
    skeleton: Skeleton, path: str | Path, *, names: Sequence[str] | None = None
) -> tuple[str, ...]:
    """Writes a skeleton as BVH, whole or not at all; gives notes on what the format cannot carry.

    `names` are what the joints, in order, are called in the file; unsaid, as in the skeleton, whose
    own names tell which joints are tips.

    Raises SkeletonError for a broken tree; OutputError for a name that BVH forbids, and when the
    file cannot be written.
    """
    given = names_or_own(skeleton, names)
    write_whole(path, dump_bvh(skeleton, names=given).encode("utf-8"))
    tips = [i for i, joint in enumerate(skeleton) if _ends(skeleton, i)]
    notes = [*lost_axes("BVH", skeleton), frame_note("BVH", skeleton)]
    if tips:
        notes.append(
            f"The end sites of BVH have no names: {len(tips)} tip helpers such as "
            f"'{given[tips[0]]}' are written as such."
        )
    if sum(joint.parent is None for joint in skeleton) > 1:
        notes.append("The skeleton has several roots, of which some readers of BVH take the first.")
    return (*notes, *lost_judgement("BVH", skeleton))


def dump_bvh(skeleton: Skeleton, *, names: Sequence[str] | None = None) -> str:
    """The text of the file; raises as `write_bvh` does."""
    parents = parent_indices(skeleton)
    given = names_or_own(skeleton, names)
    for name in given:
        if FORBIDDEN.search(name):
            raise OutputError(
                f"The joint '{name}' cannot be written as BVH, whose names have no spaces or "
                "braces: give it another name, or rename it by a table (--names)."
            )
    at = skeleton.positions()
    children: list[list[int]] = [[] for _ in given]
    for index, above in enumerate(parents):
        if above >= 0:
            children[above].append(index)
    lines = ["HIERARCHY"]
    frame: list[str] = []
    # what is still to be written, last first: a joint, or a brace to close at some depth
    waiting: list[tuple[int, int]] = [(i, 0) for i in reversed(range(len(given))) if parents[i] < 0]
    while waiting:
        index, depth = waiting.pop()
        pad = "  " * depth
        if index < 0:
            lines.append(f"{pad}}}")
            continue
        above = int(parents[index])
        if _ends(skeleton, index):
            lines += _end_site(pad, at[index] - at[above])
            continue
        shift = np.zeros(3) if above < 0 else at[index] - at[above]
        moves = "6 Xposition Yposition Zposition" if above < 0 else "3"
        frame += [*_numbers(at[index]), "0", "0", "0"] if above < 0 else ["0", "0", "0"]
        lines += [
            f"{pad}{'ROOT' if above < 0 else 'JOINT'} {given[index]}",
            f"{pad}{{",
            f"{pad}  OFFSET {' '.join(_numbers(shift))}",
            f"{pad}  CHANNELS {moves} {TURNS}",
        ]
        if not children[index]:
            lines += _end_site(pad + "  ", np.zeros(3))
        waiting.append((-1, depth))
        waiting += [(child, depth + 1) for child in reversed(children[index])]
    lines += ["MOTION", "Frames: 1", f"Frame Time: {FRAME_TIME}", " ".join(frame)]
    return "\n".join(lines) + "\n"


def is_rest_bvh(text: str) -> bool:
    """Whether a BVH text is a rest in exactly the layout that is written here.

    BVH has no comments to put a mark in, so this tells our own files from those of others.
    """
    head, found, tail = text.partition("MOTION\n")
    begin = "HIERARCHY\n"
    values = re.fullmatch(rf"Frames: 1\nFrame Time: {FRAME_TIME}\n([^\n]*)\n", tail)
    if not (found and values and head.startswith(begin) and _OURS.fullmatch(head, len(begin))):
        return False
    return all(re.fullmatch(_NUMBER, word) for word in values.group(1).split(" "))


def _ends(skeleton: Skeleton, index: int) -> bool:
    """Whether a joint is a tip helper at the end of a chain."""
    joint = skeleton.joints[index]
    return joint.parent is not None and is_tip(joint.name) and not skeleton.children(joint.name)


def _end_site(pad: str, shift: FloatArray) -> list[str]:
    return [
        f"{pad}End Site",
        f"{pad}{{",
        f"{pad}  OFFSET {' '.join(_numbers(shift))}",
        f"{pad}}}",
    ]


def _numbers(vector: FloatArray) -> list[str]:
    """The shortest decimal texts that read back as the same numbers, without exponents, which not
    every reader of BVH knows."""
    return [np.format_float_positional(float(v) + 0.0, trim="-") for v in vector]
