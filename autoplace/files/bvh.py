"""The joints of a BVH file: a small reader of the hierarchy, and of one frame if there is but one.

BVH has no standard body; its grammar here is that of the two texts commonly taught from: offsets
are given in the zero pose with all axes along the world's, and the rotations of a frame multiply
in the order of the channels. That zero pose is the rest. End sites become tip helpers, but for one
at its joint's own place, which only says that the chain ends. A file of exactly one frame shows the
skeleton standing in a pose, and is read so; longer motion is passed over.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.files.joint_record import (
    DEEPEST,
    JointRecord,
    file_size,
    from_frames,
    refuse_too_many,
)
from autoplace.skeleton.names import tip_below

__all__ = ["read_bvh_joints"]

FloatArray = NDArray[np.float64]

LONGEST_LINE = 2**20
"""Characters; one frame of MOST_JOINTS joints with six channels takes half of that."""
MOST_LINES = 200_000
"""Lines of a hierarchy; MOST_JOINTS joints take some 20,000."""
LARGEST_NUMBER = 1e30
CHANNELS = ("Xposition", "Yposition", "Zposition", "Xrotation", "Yrotation", "Zrotation")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


@dataclass
class _Joint:
    name: str
    parent: int
    tip: bool
    offset: FloatArray | None = None
    channels: list[str] = field(default_factory=list)


def read_bvh_joints(path: Path) -> JointRecord:
    """Reads the joints of a BVH file, in the file's frame and units.

    An end site is called after its joint, with `_tip` behind, and a number where a joint has more
    than one; below a joint of our names it is called as we call that tip. Which way is up is not
    said.

    Raises FileMissing when the file cannot be opened, SkeletonError with the line when it is
    broken, in words that go on after a colon.
    """
    file_size(path)
    with path.open("r", encoding="utf-8-sig", errors="replace", newline=None) as file:
        lines = _Lines(file)
        if lines.next_words() != ["HIERARCHY"]:
            raise SkeletonError("it does not begin with HIERARCHY, as a BVH file does.")
        joints = _without_empty_ends(_hierarchy(lines))
        frames, values = _motion(lines, sum(len(j.channels) for j in joints))
    parents = np.array([j.parent for j in joints], dtype=np.int64)
    names = [j.name for j in joints]
    rest = _stand(joints, None)
    now = rest if values is None else _stand(joints, values)
    record = from_frames("BVH", names, parents, now, rest=rest)
    notes = []
    if frames > 1:
        notes.append(
            f"The motion of {frames} frames was passed over; the joints stand in the zero pose."
        )
    if values is not None:  # what the roots are turned by shows here, unlike in other formats
        turned = record.turned.copy()
        for root in np.flatnonzero(parents < 0):
            trace = float(np.trace(now[root, :3, :3]))
            turned[root] = math.degrees(math.acos(max(-1.0, min(1.0, (trace - 1.0) / 2.0))))
        record = replace(record, turned=np.where(turned > 0.01, turned, 0.0))
    return replace(record, tips=tuple(j.tip for j in joints), notes=(*notes, *record.notes))


class _Lines:
    """The words of a text, line by line, and where we are in it."""

    def __init__(self, file: Iterator[str]) -> None:
        self._file = file
        self.number = 0
        self.line = ""

    def next_line(self) -> str:
        """The next line that holds anything, or an empty text at the end."""
        while True:
            line = self._file.readline(LONGEST_LINE + 1)  # type: ignore[attr-defined]
            self.number += 1
            if len(line) > LONGEST_LINE:
                self.refuse("is far too long for a BVH file")
            self.line = line.strip()
            if self.line or not line:
                return self.line

    def next_words(self) -> list[str]:
        """The words of the next line, with braces as words of their own."""
        if self.number > MOST_LINES:
            self.refuse("still belongs to the hierarchy, which is too long for a character's")
        return self.next_line().replace("{", " { ").replace("}", " } ").split()

    def refuse(self, what: str) -> None:
        """Raises SkeletonError about the line we are in."""
        raise SkeletonError(f"line {self.number} {what}; export the file again.")

    def number_of(self, word: str) -> float:
        """A finite number; refused otherwise."""
        if not NUMBER.fullmatch(word) or not abs(float(word)) <= LARGEST_NUMBER:
            self.refuse(f"has '{word[:40]}' where a number should be")
        return float(word)


def _hierarchy(lines: _Lines) -> list[_Joint]:
    """All joints and end sites, parents first; reads up to the line MOTION or the end."""
    joints: list[_Joint] = []
    open_joints: list[int] = []
    waiting: list[str] = []
    opening = False  # a joint was named and its brace is awaited
    while True:
        if not waiting:
            waiting = lines.next_words()
            if not waiting:
                break
        word = waiting[0]
        if opening and word != "{":
            lines.refuse(f"should open a brace after '{joints[-1].name[:40]}'")
        if word == "{":
            if not opening:
                lines.refuse("opens a brace that belongs to no joint")
            opening = False
            open_joints.append(len(joints) - 1)
            waiting = waiting[1:]
        elif word == "}":
            if not open_joints:
                lines.refuse("closes a brace that was not opened")
            _finish(joints[open_joints.pop()], lines)
            waiting = waiting[1:]
        elif word in ("ROOT", "JOINT", "End"):
            waiting = _begin(word, waiting[1:], joints, open_joints, lines)
            opening = True
        elif word == "OFFSET" and open_joints:
            joint = joints[open_joints[-1]]
            if len(waiting) < 4 or joint.offset is not None:
                lines.refuse("should be the one OFFSET of a joint, with three numbers")
            joint.offset = np.array([lines.number_of(w) for w in waiting[1:4]])
            waiting = waiting[4:]
        elif word == "CHANNELS" and open_joints:
            waiting = _channels(joints[open_joints[-1]], waiting[1:], lines)
        elif word == "MOTION":
            break
        else:
            lines.refuse(f"has '{word[:40]}', which is no part of a hierarchy")
    if open_joints or opening:
        lines.refuse("ends the hierarchy while a brace is still open")
    if not joints:
        raise SkeletonError("its hierarchy holds no joints.")
    return joints


def _without_empty_ends(joints: list[_Joint]) -> list[_Joint]:
    """The joints without the end sites that lie at their joint's own place."""
    kept = [
        i
        for i, j in enumerate(joints)
        if not (j.tip and j.offset is not None and not j.offset.any())
    ]
    place_of = {old: new for new, old in enumerate(kept)} | {-1: -1}
    return [replace(joints[i], parent=place_of[joints[i].parent]) for i in kept]


def _begin(
    word: str, rest: list[str], joints: list[_Joint], open_joints: list[int], lines: _Lines
) -> list[str]:
    """Begins a joint or an end site; gives the words of the line that are left."""
    brace = rest.index("{") if "{" in rest else len(rest)
    name = " ".join(rest[:brace])
    if (word == "ROOT") == bool(open_joints):
        lines.refuse(f"has {word} {'inside' if open_joints else 'outside'} another joint")
    parent = open_joints[-1] if open_joints else -1
    if parent >= 0 and joints[parent].tip:
        lines.refuse("hangs a joint from an end site")
    if word == "End":
        siblings = sum(j.tip and j.parent == parent for j in joints[parent:])
        above = joints[parent].name
        name = (not siblings and tip_below(above)) or f"{above}_tip"
        name += f"_{siblings + 1}" if siblings else ""
    elif not name:
        lines.refuse(f"has {word} without a name")
    if len(open_joints) >= DEEPEST:
        lines.refuse(f"nests joints more than {DEEPEST} deep, as no character's are")
    joints.append(_Joint(name, parent, word == "End"))
    refuse_too_many(len(joints))
    return rest[brace:]


def _channels(joint: _Joint, rest: list[str], lines: _Lines) -> list[str]:
    count = rest[0] if rest else ""
    if not count.isdecimal() or len(count) > 2 or joint.channels or joint.tip:
        lines.refuse("should be the one CHANNELS of a joint, with their number")
    names = rest[1 : 1 + int(count)]
    known = {channel.lower(): channel for channel in CHANNELS}
    if len(names) < int(count) or any(n.lower() not in known for n in names):
        lines.refuse(f"should name {count} channels out of {', '.join(CHANNELS)}")
    joint.channels = [known[name.lower()] for name in names]
    if len(set(joint.channels)) < len(names):
        lines.refuse("names a channel twice")
    return rest[1 + int(count) :]


def _finish(joint: _Joint, lines: _Lines) -> None:
    if joint.offset is None:
        lines.refuse(f"closes '{joint.name[:40]}', which has no OFFSET")


def _motion(lines: _Lines, channels: int) -> tuple[int, list[float] | None]:
    """How many frames there are, and the values of the frame if it is the only one."""
    if not lines.line:
        return 0, None  # a hierarchy without motion
    words = lines.next_line().replace(":", " ").split()
    if len(words) != 2 or words[0] != "Frames" or not re.fullmatch(r"\d{1,12}", words[1]):
        lines.refuse("should say 'Frames:' and how many")
    frames = int(words[1])
    if frames != 1:
        return frames, None
    if not lines.next_line().replace(" ", "").startswith("FrameTime:"):
        lines.refuse("should say 'Frame Time:' and how long")
    values: list[float] = []
    while len(values) < channels:  # some writers break long lines
        words = lines.next_line().split()
        if not words or len(values) + len(words) > channels:
            lines.refuse(f"should end a frame of {channels} numbers, one for each channel")
        values += [lines.number_of(word) for word in words]
    return 1, values


def _stand(joints: list[_Joint], values: list[float] | None) -> FloatArray:
    """(n, 4, 4) frames in the world, in the zero pose or with the values of a frame."""
    frames = np.zeros((len(joints), 4, 4))
    used = 0
    for index, joint in enumerate(joints):
        assert joint.offset is not None
        local = np.eye(4)
        local[:3, 3] = joint.offset
        if values is not None:
            mine = dict(zip(joint.channels, values[used:], strict=False))
            used += len(joint.channels)
            _apply(local, mine, keep=joint.parent >= 0)
        frames[index] = frames[joint.parent] @ local if joint.parent >= 0 else local
    return frames


def _apply(local: FloatArray, values: dict[str, float], *, keep: bool) -> None:
    """Puts the values of a frame into a joint's own frame, in place.

    A position replaces the offset. Where all positions of a joint that is no root are zero, the
    writer meant them to be added to it (`keep`): a joint seldom sits on its parent.
    """
    places = {name: v for name, v in values.items() if name.endswith("position")}
    if any(places.values()) or not keep:
        for name, value in places.items():
            local["XYZ".index(name[0]), 3] = value
    for name, degrees in values.items():
        if name.endswith("rotation"):
            first = "XYZ".index(name[0])
            second, third = (first + 1) % 3, (first + 2) % 3
            cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
            turn = np.eye(3)
            turn[second, second] = turn[third, third] = cosine
            turn[second, third], turn[third, second] = -sine, sine
            local[:3, :3] = local[:3, :3] @ turn
