"""Skeletons as `*.skeleton.json`: the project's own format, lossless and the same bytes each time.

The format is written down in `skeleton.schema.json` beside this module. Numbers are written with
the fewest digits that read back as the same number; keys and joints keep their order.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.atomic import write_whole
from autoplace.files.json_fields import Fields, parse_json
from autoplace.skeleton.convention import AXIS_NAMES
from autoplace.skeleton.model import Evidence, Finding, Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.structure import parent_indices

__all__ = ["FORMAT", "SCHEMA", "VERSION", "dump_skeleton", "read_skeleton", "write_skeleton"]

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
    source = skeleton.source
    data = {
        "format": FORMAT,
        "version": VERSION,
        "source": {
            "mesh": source.mesh,
            "sha256": source.sha256,
            "up": source.up,
            "forward": source.forward,
            "height": _plain(source.height),
        }
        | ({"part": source.part} if source.part else {}),
        "template": skeleton.template,
        "settings": _plain(skeleton.settings),
        "joints": [_joint_data(joint) for joint in skeleton.joints],
        "parts": [
            {"name": p.name, "role": p.role, "confidence": _plain(p.confidence)}
            | ({"reason": p.reason} if p.reason else {})
            for p in skeleton.parts
        ],
        "findings": [
            {"check": f.check, "joint": f.joint, "level": f.level}
            | {"message": f.message, "fix": f.fix}
            for f in skeleton.findings
        ],
    }
    text = _laid_out(data) + "\n"
    if any("\ud800" <= character <= "\udfff" for character in text):
        raise SkeletonError("The skeleton holds half of a character, which no file can keep.")
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
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise SkeletonError(
                f"'{path}' is {size / 2**20:.0f} MB; a skeleton file has at most "
                f"{LARGEST // 2**20} MB: is it another kind of file?"
            )
        content = path.read_bytes()
    except OSError as reason:
        raise FileMissing(
            f"Cannot read '{path}': {reason.strerror or reason}; check the name."
        ) from reason
    try:
        skeleton = _skeleton(Fields(parse_json(content), "the file"))
        if require_tree:
            parent_indices(skeleton)
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' is no skeleton file we can use: {reason}") from reason
    return skeleton


def _joint_data(joint: Joint) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": joint.name,
        "parent": joint.parent,
        "position": _plain(joint.position),
        "axes": _plain(joint.axes),
        "spread": _plain(joint.spread),
        "locked": bool(joint.locked),
    }
    if joint.aim is not None:
        data["aim"] = joint.aim
    if joint.look is not None:
        data["look"] = _plain(joint.look)
    data["evidence"] = [
        {
            "kind": e.kind,
            "weight": _plain(e.weight),
            "position": _plain(e.position),
            "spread": _plain(e.spread),
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
    source = data.group("source")
    skeleton = Skeleton(
        joints=tuple(_joint(entry) for entry in data.groups("joints", label="name")),
        source=Source(
            mesh=source.text("mesh"),
            sha256=source.digest("sha256"),
            up=source.choice("up", AXIS_NAMES),
            forward=source.choice("forward", AXIS_NAMES),
            height=source.number("height", above=0.0),
            part=source.choice("part", ("hand", "hands")) if source.has("part") else "",
        ),
        template=data.text("template"),
        settings=data.mapping("settings"),
        parts=tuple(_part(entry) for entry in data.groups("parts", label="name")),
        findings=tuple(_finding(entry) for entry in data.groups("findings", label="check")),
    )
    source.done()
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


def _plain(value: Any) -> Any:
    """Numbers, arrays, tuples and mappings as plain JSON data; SkeletonError for anything else."""
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        number = float(value)
        if not np.isfinite(number):
            raise SkeletonError(f"The skeleton holds the number {number}, which no file can keep.")
        return number + 0.0  # a negative zero becomes plain zero
    if isinstance(value, np.ndarray | list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    raise SkeletonError(f"The skeleton holds a {type(value).__name__}, which no file can keep.")


def _laid_out(value: Any, indent: str = "") -> str:
    """JSON with short things on one line, so that a person can read and compare joints."""
    line = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if len(indent) + len(line) <= 100 and not (isinstance(value, dict) and indent == ""):
        return line
    deeper = indent + " "
    if isinstance(value, dict) and value:
        rows = [
            f"{deeper}{json.dumps(key, ensure_ascii=False)}: {_laid_out(item, deeper)}"
            for key, item in value.items()
        ]
        return "{\n" + ",\n".join(rows) + "\n" + indent + "}"
    if isinstance(value, list) and value:
        rows = [deeper + _laid_out(item, deeper) for item in value]
        return "[\n" + ",\n".join(rows) + "\n" + indent + "]"
    return line
