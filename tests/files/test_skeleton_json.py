"""Skeleton files: round trip, schema, the same bytes, and helpful refusals of broken ones."""

from __future__ import annotations

import json
from dataclasses import fields, replace

import jsonschema
import numpy as np
import pytest

from autoplace.errors import FileMissing, OutputError, SkeletonError
from autoplace.files.skeleton_json import SCHEMA, dump_skeleton, read_skeleton, write_skeleton
from autoplace.skeleton.model import Evidence, Finding, Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton


def full_skeleton() -> Skeleton:
    """A skeleton that uses every field of the format."""
    rng = np.random.default_rng(3)
    figure = orient(standard_skeleton("A"))
    joints = []
    for joint in figure:
        place = joint.position + 1e-3 * rng.normal(size=3)
        evidence = (
            Evidence("template_prior", rng.normal(size=3), 0.02, 1 / 3, "a person's knee"),
            Evidence("section_minimum", place, 1e-9, 2 / 3, "ünïcode „note“\n two lines"),
        )
        joints.append(replace(joint, position=place, spread=rng.random(), evidence=evidence))
    joints[8] = replace(joints[8], locked=True)
    joints[7] = replace(joints[7], look=np.array([0.0, -0.6, 0.8]))
    joints[0] = replace(joints[0], aim="spine_1")
    return replace(
        figure.with_joints(tuple(joints)),
        source=Source("keeper.obj", "0123456789abcdef" * 4, "+Z", "-Y", 174.25, "hands"),
        template="adult",
        settings={**figure.settings, "spine": 3, "leave_out": ["cloak*"], "roles": {"a": "hair"}},
        parts=(PartSummary("body", "body", 0.98, "largest"), PartSummary("e", "eyeball", 1.0)),
        findings=(
            Finding("bend_present", "left_knee", "warning", "bent by 0.1 degrees", "move it"),
            Finding("tree", None, "note", "fine", ""),
        ),
    )


def same(a, b) -> bool:
    """Equal records, arrays bit for bit."""
    if isinstance(a, np.ndarray):
        return bool(np.array_equal(a, b)) and a.dtype == b.dtype
    if hasattr(a, "__dataclass_fields__"):
        return type(a) is type(b) and all(
            same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a)
        )
    if isinstance(a, tuple):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    return a == b


@pytest.fixture
def schema():
    loaded = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(loaded)
    return loaded


def test_what_is_written_reads_back_equal_to_the_last_bit(tmp_path):
    """Every field of every record survives the file."""
    skeleton = full_skeleton()
    path = write_skeleton(skeleton, tmp_path / "a.skeleton.json")
    assert same(read_skeleton(path), skeleton)


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_sizes_survive(tmp_path, size):
    """Tiny and huge figures read back equal."""
    figure = orient(standard_skeleton())
    figure = figure.with_joints(tuple(replace(j, position=size * j.position) for j in figure))
    assert same(read_skeleton(write_skeleton(figure, tmp_path / "a.json")), figure)


def test_files_obey_the_schema(schema):
    """A full skeleton and a single joint both do."""
    for skeleton in (full_skeleton(), Skeleton((Joint("only", None, np.zeros(3)),))):
        jsonschema.validate(json.loads(dump_skeleton(skeleton)), schema)


def test_the_schema_refuses_what_the_reader_refuses(tmp_path, schema):
    """Each broken field below is refused by both, so that the two do not drift apart."""
    text = dump_skeleton(full_skeleton())
    for path, value in BROKEN:
        data = json.loads(text)
        _set(data, path, value)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(data, schema)
        file = tmp_path / "broken.json"
        file.write_text(json.dumps(data), encoding="utf-8")
        with pytest.raises(SkeletonError):
            read_skeleton(file)


MISSING = object()
BROKEN = [
    (["format"], "other"),
    (["version"], 2),
    (["version"], "1"),
    (["version"], True),
    (["joints"], []),
    (["joints"], {}),
    (["joints", 0, "name"], ""),
    (["joints", 0, "name"], 7),
    (["joints", 0, "parent"], 7),
    (["joints", 3, "position"], [1, 2]),
    (["joints", 3, "position"], [1, 2, "3"]),
    (["joints", 3, "position"], [1, 2, True]),
    (["joints", 3, "axes"], [[1, 0, 0], [0, 1, 0]]),
    (["joints", 3, "axes"], [1, 0, 0]),
    (["joints", 3, "spread"], -1),
    (["joints", 3, "locked"], 1),
    (["joints", 3, "lockd"], True),
    (["joints", 3, "evidence"], MISSING),
    (["joints", 3, "evidence", 0, "weight"], 1.5),
    (["joints", 3, "evidence", 0, "kind"], MISSING),
    (["joints", 7, "look"], [0, 1]),
    (["joints", 0, "aim"], None),
    (["source", "up"], "Y"),
    (["source", "height"], 0),
    (["source", "sha256"], "xyz"),
    (["source"], MISSING),
    (["settings"], []),
    (["parts", 0, "confidence"], 2),
    (["findings", 0, "level"], "fatal"),
    (["extra"], 1),
]


def _set(data, path, value):
    for key in path[:-1]:
        data = data[key]
    if value is MISSING:
        del data[path[-1]]
    else:
        data[path[-1]] = value


def test_a_refusal_names_file_place_and_mending(tmp_path):
    """The message says which joint, which field, what was wanted and what was found."""
    data = json.loads(dump_skeleton(full_skeleton()))
    data["joints"][3]["position"] = [0.1, None, 0.2]
    file = tmp_path / "broken.skeleton.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(SkeletonError) as caught:
        read_skeleton(file)
    message = str(caught.value)
    for part in ("broken.skeleton.json", "joints[3] ('chest').position", "three finite numbers"):
        assert part in message
    assert "[0.1, null, 0.2]" in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"[1, 2]", "an object in braces"),
        (b"o keeper\nv 0 0 0\n", "not JSON"),
        (b"\xff\xfe\x00\x01", "UTF-8"),
        (b"[" * 100000, "nested too deep"),
        (b'{"format": NaN}', "NaN"),
        (b'{"format": 1, "format": 2}', "stands twice"),
        (b'{"version": ' + b"9" * 5000 + b"}", "number"),
        (b"{}", "lacks the key 'format'"),
        (b'{"format": "autoplace.skeleton", "version": 9}', "version 9"),
    ],
)
def test_files_of_other_content_are_refused_in_one_sentence(tmp_path, content, says):
    """Empty, cut off, another format, deep nesting, huge numbers: no traceback of the parser."""
    file = tmp_path / "odd.json"
    file.write_bytes(content)
    with pytest.raises(SkeletonError, match=says):
        read_skeleton(file)


def test_numbers_beyond_floats_are_refused(tmp_path):
    """1e999 and a whole number of 400 digits are no positions."""
    text = dump_skeleton(Skeleton((Joint("only", None, np.array([0.5, 0, 0])),)))
    for number in ("1e999", "9" * 400):
        file = tmp_path / "huge.json"
        file.write_text(text.replace("0.5", number), encoding="utf-8")
        with pytest.raises(SkeletonError, match="three finite numbers"):
            read_skeleton(file)


def test_a_missing_file_is_told(tmp_path):
    """The name is in the message; a folder is no file."""
    with pytest.raises(FileMissing, match=r"nowhere\.json"):
        read_skeleton(tmp_path / "nowhere.json")
    with pytest.raises(FileMissing):
        read_skeleton(tmp_path)


def test_a_file_of_another_order_of_size_is_not_read(tmp_path):
    """A file above the bound is refused by its size alone."""
    file = tmp_path / "big.json"
    with open(file, "wb") as stream:
        stream.truncate(65 * 2**20)
    with pytest.raises(SkeletonError, match="65 MB"):
        read_skeleton(file)


def test_broken_trees_are_refused_unless_asked_for(tmp_path):
    """A parent after its child: refused by default, let through for the checks."""
    data = json.loads(dump_skeleton(full_skeleton()))
    data["joints"] = data["joints"][::-1]
    file = tmp_path / "tree.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(SkeletonError, match="list every parent before its children"):
        read_skeleton(file)
    assert len(read_skeleton(file, require_tree=False)) == len(data["joints"])


def test_the_same_skeleton_gives_the_same_bytes(tmp_path):
    """Written twice and through a read: equal bytes, ending in a line end, no negative zeros."""
    skeleton = full_skeleton()
    first = write_skeleton(skeleton, tmp_path / "a.json").read_bytes()
    again = write_skeleton(read_skeleton(tmp_path / "a.json"), tmp_path / "b.json").read_bytes()
    assert first == again
    assert first.endswith(b"}\n")
    assert b"-0.0," not in first
    assert b"-0.0]" not in first


def test_joints_stand_in_the_order_and_shape_of_the_format():
    """Top-level and joint keys in the documented order; a position on one line."""
    text = dump_skeleton(full_skeleton())
    data = json.loads(text)
    assert list(data) == [
        "format", "version", "source", "template", "settings", "joints", "parts", "findings",
    ]  # fmt: skip
    assert list(data["joints"][3]) == [
        "name", "parent", "position", "axes", "spread", "locked", "evidence",
    ]  # fmt: skip
    assert '\n   "position": [' in text


def test_records_that_no_file_can_keep_are_refused(tmp_path):
    """Not finite, no plain data, or text that is no text: SkeletonError, and no file is left."""
    figure = orient(standard_skeleton())
    bad = [
        figure.with_joints((replace(figure.joints[0], spread=float("nan")),)),
        figure.with_joints((replace(figure.joints[0], position=np.array([0, np.inf, 0])),)),
        replace(figure, settings={"a": object()}),
        replace(figure, source=Source(height=0.0)),
        replace(figure, source=Source(up="up")),
        replace(figure, template="\ud800"),
        Skeleton(()),
    ]
    for skeleton in bad:
        with pytest.raises(SkeletonError):
            write_skeleton(skeleton, tmp_path / "bad.json")
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_told(tmp_path):
    """The reason is an OutputError."""
    with pytest.raises(OutputError, match="no folder"):
        write_skeleton(full_skeleton(), tmp_path / "no" / "a.json")
