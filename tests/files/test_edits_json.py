"""Edits files: round trip, schema, the same bytes, and helpful refusals of broken ones."""

from __future__ import annotations

import json
from contextlib import suppress

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplace.errors import FileMissing, OutputError, SkeletonError
from autoplace.files.edits_json import SCHEMA, dump_edits, read_edits, write_edits
from autoplace.files.marks import is_ours
from autoplace.files.skeleton_json import write_skeleton
from autoplace.skeleton.edits import Edits, JointEdit
from autoplace.skeleton.model import Source
from tests.examples import examples
from tests.placed_figure import placed_figure

SOURCE = Source("keeper.obj", "0123456789abcdef" * 4, "+Z", "-Y", 174.25, "hands")
FULL = Edits(
    SOURCE,
    (
        JointEdit("left_knee", (0.1, 1 / 3, -2e-9), True),
        JointEdit("right_knee", (0.1, 0.2, 0.3)),
        JointEdit("tête „1“", None, True),
    ),
    spine=4,
    neck=2,
)
MISSING = object()
BROKEN = [
    (["format"], "other"),
    (["format"], "autoplace.skeleton"),
    (["format"], MISSING),
    (["version"], 2),
    (["version"], True),
    (["source"], MISSING),
    (["source", "up"], "Y"),
    (["source", "sha256"], "abc"),
    (["source", "height"], 0),
    (["source", "units"], "m"),
    (["spine"], 0),
    (["spine"], 18),
    (["spine"], 2.5),
    (["spine"], None),
    (["neck"], 8),
    (["joints"], MISSING),
    (["joints"], {}),
    (["joints", 0], "left_knee"),
    (["joints", 0, "name"], ""),
    (["joints", 0, "name"], MISSING),
    (["joints", 0, "position"], [1, 2]),
    (["joints", 0, "position"], [1, 2, "3"]),
    (["joints", 0, "position"], None),
    (["joints", 0, "locked"], 1),
    (["joints", 0, "axes"], [1, 0, 0]),
    (["joints", 1], {"name": "neck"}),
    (["joints", 1], {"name": "neck", "locked": False}),
    (["extra"], 1),
]


@pytest.fixture
def schema():
    loaded = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(loaded)
    return loaded


def _set(data, path, value):
    for key in path[:-1]:
        data = data[key]
    if value is MISSING:
        del data[path[-1]]
    else:
        data[path[-1]] = value


def test_what_is_written_reads_back_equal(tmp_path, schema):
    """Every field survives, and the file obeys the schema; so does one that decides nothing."""
    for edits in (FULL, Edits(Source())):
        path = write_edits(edits, tmp_path / "a.edits.json")
        assert read_edits(path) == edits
        jsonschema.validate(json.loads(path.read_text(encoding="utf-8")), schema)


@settings(max_examples=examples(50), deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=("Cs",)), min_size=1),
            st.one_of(
                st.none(), st.tuples(*3 * (st.floats(allow_nan=False, allow_infinity=False),))
            ),
            st.booleans(),
        ),
        unique_by=lambda row: row[0],
    )
)
def test_any_edits_survive_the_file(tmp_path_factory, rows):
    """Any names and any finite numbers, to the last bit."""
    edits = Edits(SOURCE, tuple(JointEdit(*row) for row in rows))
    path = tmp_path_factory.getbasetemp() / "any.edits.json"
    assert read_edits(write_edits(edits, path)) == edits


@settings(max_examples=examples(200), deadline=None, derandomize=True)
@given(st.data())
def test_a_damaged_file_is_refused_or_read(tmp_path_factory, data):
    """Cut off, or with bytes changed: sound edits or an error of ours, never anything else."""
    content = bytearray(dump_edits(FULL).encode("utf-8"))
    content = content[: data.draw(st.integers(0, len(content)))]
    for _ in range(data.draw(st.integers(0, 4))):
        if content:
            at = data.draw(st.integers(0, len(content) - 1))
            content[at] = data.draw(st.sampled_from(b'{}[]",:0-9.eN\\ \xff\x00'))
    path = tmp_path_factory.getbasetemp() / "damaged.edits.json"
    path.write_bytes(content)
    with suppress(SkeletonError):
        assert isinstance(read_edits(path), Edits)


def test_only_what_differs_is_written():
    """No count that was not asked for, no lock that is not, no place that was not given."""
    data = json.loads(dump_edits(Edits(SOURCE, FULL.joints)))
    assert list(data) == ["format", "version", "source", "joints"]
    assert [sorted(joint) for joint in data["joints"]] == [
        ["locked", "name", "position"],
        ["name", "position"],
        ["locked", "name"],
    ]


def test_the_same_decisions_give_the_same_bytes():
    """In whatever order they were made."""
    assert dump_edits(FULL) == dump_edits(Edits(SOURCE, FULL.joints[::-1], spine=4, neck=2))


@pytest.mark.parametrize(("path", "value"), BROKEN)
def test_reader_and_schema_refuse_the_same(tmp_path, schema, path, value):
    """In one sentence that names the file."""
    data = json.loads(dump_edits(FULL))
    _set(data, path, value)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)
    file = tmp_path / "broken.edits.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(SkeletonError) as told:
        read_edits(file)
    assert str(file) in str(told.value)
    assert str(told.value).count("\n") == 0
    assert str(told.value).endswith(".")


def test_a_refusal_names_place_and_mending(tmp_path):
    """Which joint, which field, what was wanted and what was found."""
    file = tmp_path / "broken.edits.json"

    def told(text: str) -> str:
        file.write_text(text, encoding="utf-8")
        with pytest.raises(SkeletonError) as refused:
            read_edits(file)
        return str(refused.value)

    text = dump_edits(FULL)
    assert "not JSON" in told(text[:60])
    assert "NaN" in told(text.replace("0.2", "NaN"))
    assert "joints[1] ('right_knee').position should be three finite numbers" in told(
        text.replace("0.2", '"a"')
    )
    assert "has the key 'lockd'" in told(text.replace('"locked"', '"lockd"'))
    assert "Two edits are of the joint 'left_knee'" in told(text.replace("right", "left"))
    assert "--keep" in told(text.replace("autoplace.edits", "autoplace.skeleton"))
    assert "version 7" in told(text.replace('"version": 1', '"version": 7'))


def test_files_that_cannot_be_read_or_written(tmp_path):
    """A missing file, one far too large, a folder."""
    with pytest.raises(FileMissing):
        read_edits(tmp_path / "no.edits.json")
    large = tmp_path / "large.edits.json"
    large.write_bytes(b" " * (5 * 2**20))
    with pytest.raises(SkeletonError, match="5 MB"):
        read_edits(large)
    with pytest.raises(OutputError):
        write_edits(FULL, tmp_path)
    with pytest.raises(OutputError):
        write_edits(FULL, tmp_path / "gone" / "a.edits.json")


def test_what_no_file_can_keep_is_not_written(tmp_path):
    """Half of a character; nothing is left on the disk."""
    with pytest.raises(SkeletonError):
        write_edits(Edits(SOURCE, (JointEdit("\ud800", np.zeros(3)),)), tmp_path / "a.edits.json")
    assert list(tmp_path.iterdir()) == []


def test_our_json_files_are_known_by_their_format(tmp_path):
    """Edits and skeletons are ours, other JSON is not, nor what merely speaks of them."""
    assert is_ours(write_edits(FULL, tmp_path / "a.edits.json"))
    assert is_ours(write_skeleton(placed_figure(), tmp_path / "a.skeleton.json"))
    other = tmp_path / "other.json"
    for text in ("{}", '{"format": "other"}', '{"like": {"format": "autoplace.edits"}}'):
        other.write_text(text, encoding="utf-8")
        assert not is_ours(other)
