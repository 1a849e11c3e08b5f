"""The file of motions: sound as it is, and refused where it says what no test can do."""

from __future__ import annotations

import pytest

from autoplace.data import data_folder, template_names
from autoplace.errors import FileMissing, TemplateError
from autoplace.files.bend_tests import read_bend_tests

OWN = data_folder("templates") / "bending" / "motions.toml"


def test_every_number_has_its_source():
    """Each turn stays in a range with a source, and each limit says where it is from."""
    tests = read_bend_tests()
    assert len(tests) >= 16
    for test in tests:
        for turn in test.turns:
            assert turn.source, test.name
            assert 0 < max(turn.to or 0, turn.by or 0) <= turn.range
        for limit in test.limits:
            assert limit.source, (test.name, limit.of)
            told_only = limit.most is None and limit.least is None
            assert told_only or limit.look, (test.name, limit.of)


def test_ranges_are_those_published():
    """Ranges of motion of the AAOS (elbow 150, wrist 80, knuckle 90, middle joint 100, shoulder
    180) as the goniometry tables quote them."""
    tests = {test.name: test for test in read_bend_tests()}
    assert tests["elbow"].turns[0].range == 150
    assert tests["wrist"].turns[0].range == 80
    assert tests["shoulder"].turns[0].range == 180
    fist = {turn.joints[0]: turn.range for turn in tests["fist"].turns}
    assert fist == {"index_1": 90, "index_2": 100, "index_3": 80, "thumb_1": 15, "thumb_2": 50} | {
        "thumb_3": 80
    }


def test_motions_are_no_body_template():
    """The file is not offered as proportions to place a skeleton by."""
    assert not {"motions", "bending"} & set(template_names())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("to = 140", "to = 170", "goes beyond its range of 150 degrees"),
        ('axis = "bend"', 'axis = "sideways"', "'sideways'"),
        ('sense = "flex"', 'sense = "jump"', "'jump'"),
        ("to = 140\n", "", "has neither 'to' nor 'by'"),
        ('name = "knee"', 'name = "elbow"', "two tests named 'elbow'"),
        ('title = "Elbows bent"', "", "'title' is missing"),
        ('[[test]]\nname = "knee"', '[[test\nname = "knee"', "cannot be read as TOML"),
        ("to = 140", 'to = "far"', "could not convert"),
    ],
)
def test_unsound_files_are_refused_in_one_sentence(tmp_path, old, new, said):
    """What cannot be run is told with the file's name."""
    text = OWN.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(TemplateError) as told:
        read_bend_tests(path)
    assert said in str(told.value)
    assert "mine.toml" in str(told.value)
    assert read_bend_tests(OWN) == read_bend_tests()


def test_a_missing_file_is_told(tmp_path):
    """A path with nothing there is refused with the reason."""
    with pytest.raises(FileMissing, match="Cannot read"):
        read_bend_tests(tmp_path / "none.toml")
