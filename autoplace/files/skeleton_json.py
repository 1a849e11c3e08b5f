"""Skeletons as `*.skeleton.json`: the project's own format, lossless and the same bytes each time.

The format is written down in `skeleton.schema.json` beside this module. Numbers are written with
the fewest digits that read back as the same number; keys and joints keep their order.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from autoplace.errors import SkeletonError
from autoplace.files.atomic import write_whole
from autoplace.files.json_fields import Fields, parse_json
from autoplace.files.json_text import laid_out, plain, read_bounded, refuse_half_characters
from autoplace.skeleton.convention import AXIS_NAMES
from autoplace.skeleton.model import Evidence, Finding, Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.structure import parent_indices

__all__ = [
    "FORMAT",
    "SCHEMA",
    "VERSION",
    "dump_skeleton",
    "read_skeleton",
    "source_data",
    "source_from",
    "write_skeleton",
]

FORMAT = "autoplace.skeleton"
VERSION = 1
SCHEMA = Path(__file__).with_name("skeleton.schema.json")
"""Where the JSON Schema of the format lies."""
LARGEST = 64 * 2**20
"""Files above 64 MB are refused unread: a skeleton of a hundred joints takes about 0.2 MB."""


def write_skeleton(skeleton: Skeleton, path: str | Path) -> Path:
    """Writes a skeleton file, whole or not at all; gives the path back.

    Raises SkeletonError when the record holds what the format cannot (a value that is not finite,
    a broken tree, settings that are not plain data), OutputError when the file cannot be written.
    """
    return write_whole(path, dump_skeleton(skeleton).encode("utf-8"))


def dump_skeleton(skeleton: Skeleton) -> str:
    """The text of a skeleton file; raises SkeletonError as `write_skeleton` does."""
    parent_indices(skeleton)
    data = {
        "format": FORMAT,
        "version": VERSION,
        "source": source_data(skeleton.source),
        "template": skeleton.template,
        "settings": plain(skeleton.settings),
        "joints": [_joint_data(joint) for joint in skeleton.joints],
        "parts": [
            {"name": p.name, "role": p.role, "confidence": plain(p.confidence)}
            | ({"reason": p.reason} if p.reason else {})
            for p in skeleton.parts
        ],
        "findings": [
            {"check": f.check, "joint": f.joint, "level": f.level}
            | {"message": f.message, "fix": f.fix}
            for f in skeleton.findings
        ],
    }
    text = laid_out(data) + "\n"
    refuse_half_characters(text)
    _skeleton(Fields(json.loads(text), "the skeleton"))  # never write what would not be read
    return text


def read_skeleton(path: str | Path, *, require_tree: bool = True) -> Skeleton:
    """Reads a skeleton file.

    With `require_tree=False` a broken tree (two joints of one name, a parent missing or after its
    child) is let through, so that the checks can report on it.

    Raises FileMissing when the file cannot be opened and SkeletonError, naming the place and the
    mending, when it breaks the format.
    """
    path = Path(path)
    content = read_bounded(path, LARGEST, "skeleton")
    try:
        skeleton = _skeleton(Fields(parse_json(content), "the file"))
        if require_tree:
            parent_indices(skeleton)
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' is no skeleton file we can use: {reason}") from reason
    return skeleton


def source_data(source: Source) -> dict[str, Any]:
    """The mesh that something was made in, as plain data."""
    data = {
        "mesh": source.mesh,
        "sha256": source.sha256,
        "up": source.up,
        "forward": source.forward,
        "height": plain(source.height),
    }
    return data | ({"part": source.part} if source.part else {})


def source_from(data: Fields) -> Source:
    """The mesh from plain data; SkeletonError where a field breaks the format."""
    source = Source(
        mesh=data.text("mesh"),
        sha256=data.digest("sha256"),
        up=data.choice("up", AXIS_NAMES),
        forward=data.choice("forward", AXIS_NAMES),
        height=data.number("height", above=0.0),
        part=data.choice("part", ("hand", "hands")) if data.has("part") else "",
    )
    data.done()
    return source


def _joint_data(joint: Joint) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": joint.name,
        "parent": joint.parent,
        "position": plain(joint.position),
        "axes": plain(joint.axes),
        "spread": plain(joint.spread),
        "locked": bool(joint.locked),
    }
    if joint.aim is not None:
        data["aim"] = joint.aim
    if joint.look is not None:
        data["look"] = plain(joint.look)
    data["evidence"] = [
        {
            "kind": e.kind,
            "weight": plain(e.weight),
            "position": plain(e.position),
            "spread": plain(e.spread),
            "note": e.note,
        }
        for e in joint.evidence
    ]
    return data


def _skeleton(data: Fields) -> Skeleton:
    form, version = data.text("format"), data.whole("version")
    if form != FORMAT:
        raise SkeletonError(f"its format is '{form}', not '{FORMAT}'.")
    if version != VERSION:
        raise SkeletonError(
            f"it has version {version} of the format and this program reads {VERSION}: "
            "use the program's version that wrote it, or place the skeleton anew."
        )
    skeleton = Skeleton(
        joints=tuple(_joint(entry) for entry in data.groups("joints", label="name")),
        source=source_from(data.group("source")),
        template=data.text("template"),
        settings=data.mapping("settings"),
        parts=tuple(_part(entry) for entry in data.groups("parts", label="name")),
        findings=tuple(_finding(entry) for entry in data.groups("findings", label="check")),
    )
    data.done()
    if not skeleton.joints:
        raise SkeletonError("it holds no joints.")
    return skeleton


def _joint(entry: Fields) -> Joint:
    joint = Joint(
        name=entry.text("name", filled=True),
        parent=entry.text_or_none("parent"),
        position=entry.vector("position"),
        axes=entry.matrix("axes"),
        spread=entry.number("spread", least=0.0),
        locked=entry.flag("locked"),
        evidence=tuple(_evidence(e) for e in entry.groups("evidence", label="kind")),
        aim=entry.text("aim") if entry.has("aim") else None,
        look=entry.vector("look") if entry.has("look") else None,
    )
    entry.done()
    return joint


def _evidence(entry: Fields) -> Evidence:
    evidence = Evidence(
        kind=entry.text("kind"),
        position=entry.vector("position"),
        spread=entry.number("spread", least=0.0),
        weight=entry.number("weight", least=0.0, most=1.0),
        note=entry.text("note"),
    )
    entry.done()
    return evidence


def _part(entry: Fields) -> PartSummary:
    part = PartSummary(
        name=entry.text("name"),
        role=entry.text("role"),
        confidence=entry.number("confidence", least=0.0, most=1.0),
        reason=entry.text("reason") if entry.has("reason") else "",
    )
    entry.done()
    return part


def _finding(entry: Fields) -> Finding:
    finding = Finding(
        check=entry.text("check"),
        joint=entry.text_or_none("joint"),
        level=entry.choice("level", ("error", "warning", "note")),
        message=entry.text("message"),
        fix=entry.text("fix"),
    )
    entry.done()
    return finding
