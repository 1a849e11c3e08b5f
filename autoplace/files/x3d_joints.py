"""The joints of an X3D file in XML: those of its HAnim humanoid (ISO/IEC 19774-1, 19775-1).

A joint is its centre, in the humanoid's space, and is unturned at rest; what its translation,
rotation and scale say comes on top, about the centre (19775-1, "Transform"). HAnim stands on +Y,
faces +Z and counts in metres. A site at the end of a segment, called `..._tip`, is a tip helper;
other sites are landmarks and are passed over.

The file is read as it streams by, and only these nodes are kept. Entities, which could make a small
file a huge one, are refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from xml.parsers import expat

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
from autoplace.skeleton.names import is_tip

__all__ = ["read_x3d_joints"]

FloatArray = NDArray[np.float64]

LARGEST_NUMBER = 1e30
LARGEST = 512 * 2**20
"""Bytes; a mesh of a million triangles takes some 50 MB."""
NESTED = 4 * DEEPEST
"""How deep nodes may be within one another: segments and fields stand between joints."""
CHUNK = 1 << 20
ZERO, ONE, STILL = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0), (0.0, 0.0, 1.0, 0.0)


@dataclass
class _Joint:
    name: str
    parent: int
    tip: bool
    center: FloatArray
    moves: FloatArray = field(default_factory=lambda: np.eye(4))
    """(4, 4) what the node's transform does to points of its parent's space, for columns."""


@dataclass
class _Humanoid:
    name: str
    joints: list[_Joint] = field(default_factory=list)


def read_x3d_joints(path: Path) -> JointRecord:
    """Reads the joints of an .x3d file, in the humanoid's space, in metres.

    Raises FileMissing when the file cannot be opened, SkeletonError with the line when it is
    broken or holds no humanoid, in words that go on after a colon.
    """
    size = file_size(path)
    if size > LARGEST:
        raise SkeletonError(
            f"it has {size >> 20} MB, more than the {LARGEST >> 20} MB that are read; export only "
            "the character."
        )
    reader = _Reader()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            reader.feed(chunk)
    reader.end()
    found = [h for h in reader.humanoids if h.joints]
    if not found:
        raise SkeletonError("it holds no HAnimHumanoid with joints.")
    best = max(found, key=lambda humanoid: len(humanoid.joints))
    record = _record(best)
    if len(found) > 1:
        note = f"The file has {len(found)} humanoids; '{best.name}' with the most joints is taken."
        record = replace(record, notes=(note, *record.notes))
    return record


def _record(humanoid: _Humanoid) -> JointRecord:
    joints = humanoid.joints
    parents = np.array([j.parent for j in joints], dtype=np.int64)
    rest = np.tile(np.eye(4), (len(joints), 1, 1))
    rest[:, :3, 3] = [j.center for j in joints]
    moves = np.zeros_like(rest)
    for index, joint in enumerate(joints):
        above = moves[joint.parent] if joint.parent >= 0 else np.eye(4)
        moves[index] = above @ joint.moves
    now = moves @ rest
    if not np.all(np.isfinite(now)) or np.abs(now).max() > LARGEST_NUMBER:
        raise SkeletonError("its joints scale one another beyond all numbers; export it again.")
    names = [j.name for j in joints]
    record = from_frames("X3D", names, parents, now, rest=rest)
    return replace(
        record,
        tips=tuple(j.tip for j in joints),
        up="+Y",
        forward="+Z",
        metres_per_unit=1.0,
    )


class _Reader:
    """Hears of every node as the file streams by, and keeps the humanoids' joints."""

    def __init__(self) -> None:
        self.humanoids: list[_Humanoid] = []
        self._open: list[tuple[str, int]] = []  # the nodes we are in, and which joint each is
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._finish
        self._parser.EntityDeclHandler = self._entity

    def feed(self, chunk: bytes) -> None:
        """Reads on; SkeletonError with the line where the text is no XML."""
        self._parse(chunk, False)

    def end(self) -> None:
        """Ends the text; SkeletonError when it breaks off."""
        self._parse(b"", True)
        if not self._root_seen:
            raise SkeletonError("it is no X3D file, which begins with X3D.")

    _root_seen = False

    def _parse(self, chunk: bytes, last: bool) -> None:
        try:
            self._parser.Parse(chunk, last)
        except expat.ExpatError as reason:
            what = expat.ErrorString(reason.code)
            raise SkeletonError(
                f"line {reason.lineno} is no sound XML ({what}); export the file again."
            ) from reason
        except (ValueError, LookupError) as reason:  # an encoding that nobody knows
            raise SkeletonError("it is written in an unknown encoding; write UTF-8.") from reason

    def _entity(self, *_: object) -> None:
        self._refuse("declares an entity, which X3D has no need of")

    def _start(self, kind: str, fields: dict[str, str]) -> None:
        if not self._root_seen:
            if kind != "X3D":
                self._refuse(f"begins with '{kind[:40]}' and not with X3D")
            self._root_seen = True
        if len(self._open) >= NESTED:
            self._refuse(f"nests nodes more than {NESTED} deep")
        joint = -1
        if kind == "HAnimHumanoid" and "USE" not in fields:
            self.humanoids.append(_Humanoid(fields.get("name") or fields.get("DEF") or "humanoid"))
        elif kind in ("HAnimJoint", "HAnimSite") and "USE" not in fields:
            joint = self._joint(kind, fields)
        self._open.append((kind, joint))

    def _finish(self, _: str) -> None:
        self._open.pop()

    def _joint(self, kind: str, fields: Mapping[str, str]) -> int:
        """Keeps a joint or a tip; gives its number, or -1 for what is passed over."""
        humanoid = any(k == "HAnimHumanoid" for k, _ in self._open) and self.humanoids[-1]
        above = [joint for k, joint in self._open if k == "HAnimJoint"]
        if not humanoid:
            return -1
        name = fields.get("name") or self._plain(fields.get("DEF", ""), humanoid.name)
        if not name:
            self._refuse(f"has a {kind} without a name")
        tip = kind == "HAnimSite"
        if tip and not (above and (name.endswith("_tip") or is_tip(name))):
            return -1
        if len(above) >= DEEPEST:
            self._refuse(f"nests joints more than {DEEPEST} deep, as no character's are")
        center = self._numbers(fields, "translation" if tip else "center", ZERO)
        moves = np.eye(4) if tip else self._moves(fields, center)
        parent = above[-1] if above else -1
        humanoid.joints.append(_Joint(name, parent, tip, center, moves))
        refuse_too_many(len(humanoid.joints))
        return len(humanoid.joints) - 1

    @staticmethod
    def _plain(identity: str, humanoid: str) -> str:
        """A node's id without the humanoid's name before it."""
        return identity.removeprefix(f"{humanoid}_").removeprefix("hanim_")

    def _moves(self, fields: Mapping[str, str], center: FloatArray) -> FloatArray:
        """T C R SR S -SR -C of the standard's Transform, as one matrix."""
        turn = self._turn(fields, "rotation")
        aside = self._turn(fields, "scaleOrientation")
        linear = turn @ aside @ np.diag(self._numbers(fields, "scale", ONE)) @ aside.T
        matrix = np.eye(4)
        matrix[:3, :3] = linear
        matrix[:3, 3] = self._numbers(fields, "translation", ZERO) + center - linear @ center
        return matrix

    def _turn(self, fields: Mapping[str, str], key: str) -> FloatArray:
        """(3, 3) of an axis and an angle in radians."""
        *axis, angle = self._numbers(fields, key, STILL)
        size = float(np.linalg.norm(axis))
        if size == 0:
            if angle:
                self._refuse(f"has a {key} about no axis")
            return np.eye(3)
        x, y, z = np.array(axis) / size
        cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
        return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * (cross @ cross)

    def _numbers(
        self, fields: Mapping[str, str], key: str, otherwise: tuple[float, ...]
    ) -> FloatArray:
        """As many finite numbers as the default has, which is given where the field is not."""
        words = fields[key].replace(",", " ").split() if key in fields else None
        if words is None:
            return np.array(otherwise)
        try:
            numbers = np.array([float(word) for word in words])
        except ValueError:
            numbers = np.zeros(0)
        if len(numbers) != len(otherwise) or not np.all(np.abs(numbers) <= LARGEST_NUMBER):
            self._refuse(f"has a {key} that is not {len(otherwise)} numbers")
        return numbers

    def _refuse(self, what: str) -> None:
        """Raises SkeletonError about the line we are in."""
        raise SkeletonError(f"line {self._parser.CurrentLineNumber} {what}; export the file again.")
