"""The table of joints: read back by the standard library's reader, and RFC 4180 by the letter."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from autoplace.errors import OutputError
from autoplace.files.joint_table import COLUMNS, dump_joint_table, write_joint_table
from autoplace.files.marks import is_ours
from autoplace.skeleton.model import Evidence, Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton


@pytest.fixture(scope="module")
def figure():
    plain = orient(standard_skeleton("A"))
    joints = tuple(replace(j, spread=0.001 * i, locked=i == 3) for i, j in enumerate(plain.joints))
    return plain.with_joints(joints)


def test_every_value_reads_back_the_same(figure):
    """Python's own csv reader gives each joint with exactly its numbers."""
    rows = list(csv.DictReader(io.StringIO(dump_joint_table(figure), newline=""), strict=True))
    assert [row["name"] for row in rows] == list(figure.names)
    for row, joint in zip(rows, figure, strict=True):
        assert tuple(row) == COLUMNS
        assert row["parent"] == (joint.parent or "")
        assert [float(row[k]) for k in "xyz"] == joint.position.tolist()
        axes = [[float(row[f"{a}_axis_{k}"]) for k in "xyz"] for a in "xyz"]
        assert axes == np.asarray(joint.axes).tolist()
        assert float(row["spread"]) == joint.spread
        assert row["locked"] == ("true" if joint.locked else "false")


def test_lines_and_quotes_follow_the_rfc():
    """RFC 4180: lines end in CRLF (2.1), commas, quotes and breaks are quoted (2.6, 2.7)."""
    odd = ('a,"b"', "c\nd")
    joints = (Joint(odd[0], None, np.zeros(3)), Joint(odd[1], odd[0], np.ones(3)))
    text = dump_joint_table(Skeleton(joints))
    lines = text.split("\r\n")
    assert lines[0] == ",".join(COLUMNS)
    assert lines[1].startswith('"a,""b""",,0.0,0.0,0.0,1.0,0.0,0.0,')
    assert lines[2].startswith('"c\nd","a,""b""",1.0,')
    assert lines[3:] == [""]
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert [row[0] for row in rows[1:]] == list(odd)
    assert {len(row) for row in rows} == {len(COLUMNS)}


def test_other_names_are_written(figure):
    """Names from a table stand in both columns; one that repeats is refused."""
    names = [f"x{i}" for i in range(len(figure))]
    rows = list(csv.DictReader(io.StringIO(dump_joint_table(figure, names=names), newline="")))
    called = dict(zip(figure.names, names, strict=True))
    assert [row["name"] for row in rows] == names
    assert [row["parent"] for row in rows] == [called.get(j.parent, "") for j in figure]
    with pytest.raises(OutputError, match="both be called"):
        dump_joint_table(figure, names=["x"] * len(figure))


def test_notes_and_mark(figure, tmp_path):
    """Unit and up are not said by CSV; evidence is told as lost only where there is some."""
    path = tmp_path / "a.csv"
    assert len(write_joint_table(figure, path)) == 1
    assert is_ours(path)
    known = figure.with_joints(
        (replace(figure.joints[0], evidence=(Evidence("x", np.zeros(3), 0.1),)), *figure.joints[1:])
    )
    assert "evidence" in write_joint_table(known, path)[1]
    path.write_text("name,parent\r\n")
    assert not is_ours(path)
