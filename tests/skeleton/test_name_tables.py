"""Tables of names: those of the standards by the standards, a user's own, and what is wrong."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import FileMissing, SettingsError
from autoplace.place.template import load_template
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.name_tables import load_names, named_by_table, table_names
from autoplace.skeleton.names import FINGERS, family
from tests.figures import standard_skeleton
from tests.files.hanim_figure import MIDDLE
from tests.skeleton.roles.test_standard_names import WEBXR_JOINTS


def skeleton_of(names) -> Skeleton:
    return Skeleton(tuple(Joint(name, None, np.zeros(3)) for name in names))


def called(names, table, own=None):
    given, notes = named_by_table(skeleton_of(names), own or names, table)
    return dict(zip(names, given, strict=True)), notes


def all_joints(spine=3):
    rows = load_template("adult").joint_list(spine, {s: FINGERS for s in ("left", "right")})
    return [name for name, _ in rows]


def test_the_tables_that_come_along():
    """Our own, HAnim and WebXR; each is read, and names joints of ours alone."""
    assert table_names() == ("own", "hanim", "webxr")
    for name in table_names():
        assert all(family(joint) for joint in load_names(name).joints)


def test_our_own_table_gives_our_names():
    """Whatever the joints are called in their file."""
    names = ["pelvis", "left_knee"]
    assert called(names, load_names("own"), ["Root", "LegOne"])[0] == {n: n for n in names}


def test_hanim_names_every_joint_of_a_whole_figure():
    """ISO/IEC 19774-1:2019: no joint is without a name, none has another's, and a few are checked
    against the standard's hierarchy."""
    names = all_joints()
    given, notes = called(names, load_names("hanim"))
    assert notes == ()
    assert len(set(given.values())) == len(names)
    assert given["pelvis"] == "humanoid_root"
    assert given["right_shoulder"] == "r_shoulder"
    assert given["left_ankle"] == "l_talocrural"
    assert given["left_pinky_2"] == "l_carpal_proximal_interphalangeal_5"
    assert given["right_thumb_2"] == "r_metacarpophalangeal_1"
    assert given["head_top"] == "skull_tip"


# heights of the standard's nominal figure (tests/files/hanim_figure.py and, for those that its
# level of articulation 2 leaves out, the same text): from vl5 to vt1
NOMINAL = {name: at[1] for name, (_, at) in MIDDLE.items() if name.startswith("v")}
NOMINAL |= {"vl4": 1.0925, "vl2": 1.1546, "vt12": 1.2278, "vt8": 1.3382}


@pytest.mark.parametrize("count", range(1, 7))
def test_vertebrae_are_those_whose_place_the_joints_have(count):
    """Each joint of the spine has the nominal joint nearest to its share of the way, by the rule in
    the table: the first at none of it and the chest at .62."""
    names = [n for n in all_joints(count) if n.startswith("spine") or n == "chest"]
    given = list(called(names, load_names("hanim"))[0].values())
    assert len(set(given)) == count
    low, high = NOMINAL["vl5"], NOMINAL["vt1"]
    for index, name in enumerate(given):
        share = 0.62 * (index / (count - 1) if count > 1 else 1.0)
        if name == "vt11":  # of which no nominal height was read: it lies between its neighbours
            assert NOMINAL["vt12"] < low + share * (high - low) < NOMINAL["vt10"]
            continue
        gaps = {n: abs((h - low) / (high - low) - share) for n, h in NOMINAL.items() if n[1] != "c"}
        assert gaps[name] == min(gaps.values()), (share, gaps)


def test_a_longer_spine_keeps_its_own_names():
    """A table that has no row for so many joints says so instead of guessing."""
    names = all_joints(9)
    given, notes = called(names, load_names("hanim"))
    assert given["spine_5"] == "spine_5"
    assert "'spine_1'" in notes[0]
    assert "and 5 more" in notes[0]


def test_webxr_names_the_25_joints_of_a_hand():
    """W3C WebXR Hand Input, Level 1: a hand with metacarpals has all of the standard's joints."""
    hand = [n for n in all_joints() if n.startswith("left_") and family(n) in ("hand", "finger")]
    hand += [f"left_{f}_metacarpal" for f in FINGERS[1:]]
    given, notes = called(hand, load_names("webxr"))
    assert sorted(given.values()) == sorted(WEBXR_JOINTS)
    assert notes == ()
    assert given["left_thumb_1"] == "thumb-metacarpal"
    assert given["left_index_3"] == "index-finger-phalanx-distal"


def test_webxr_tells_two_hands_apart():
    """The standard tells the side elsewhere; where one file has both, it stands before the name."""
    given, notes = called(["left_wrist", "right_wrist", "pelvis"], load_names("webxr"))
    assert given == {"left_wrist": "left-wrist", "right_wrist": "right-wrist", "pelvis": "pelvis"}
    assert "'left-wrist'" in notes[0]
    assert "'pelvis'" in notes[1]


@pytest.fixture
def table(tmp_path):
    def write(text):
        path = tmp_path / "mine.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_table_of_a_users_own(table):
    """Rows for one joint, for both sides, for a chain, and for a joint that is not one of ours."""
    path = table(
        'description = "mine"\npelvis = "Hüfte"\nside_knee = "knee.{side}"\nright_hip = "RH"\n'
        'tail_base = "Tail"\n[side]\nleft = "L"\nright = "R"\n[chains.spine]\n2 = ["low", "high"]\n'
    )
    names = ["pelvis", "spine_1", "chest", "left_knee", "right_knee", "left_hip", "right_hip", "x"]
    own = [*names[:-1], "tail_base"]
    given, notes = called(names, load_names(path), own)
    assert list(given.values()) == [
        *("Hüfte", "low", "high", "knee.L", "knee.R", "left_hip", "RH", "Tail"),
    ]
    assert notes == ("The names 'mine' have none for 'left_hip'; they keep their own.",)


def test_names_that_change_places(table):
    """A table may give a joint the name that another had."""
    path = table('head = "neck"\nneck = "head"\n')
    assert called(["head", "neck"], load_names(path))[0] == {"head": "neck", "neck": "head"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("pelvis = 3\n", "'pelvis' should be a name"),
        ('pelvis = " "\n', "'pelvis' should be a name"),
        ("pelvis = \n", "cannot be read as TOML"),
        ('[side]\nup = "U"\n', "only left and right"),
        ('side = "L"\n', r"\[side\] should be a table"),
        ('[chains.spine]\n2 = ["a"]\n', "a list of so many names"),
        ('[chains.spine]\nmany = ["a"]\n', "a list of so many names"),
        ('chains = "a"\n', r"\[chains.spine\] and"),
        ('[chains.tail]\n1 = ["a"]\n', r"\[chains.tail\] is none"),
        ('[chains]\nspine = "a"\n', "should be tables"),
        ('both_sides = "{side}"\n', "both_sides should hold"),
        ('both_sides = "{side}{name}{x}"\n', "both_sides should hold"),
        ('[legs]\nleft_knee = "K"\n', "'legs' should be a name"),
    ],
)
def test_what_is_no_table_is_told(table, text, said):
    """One sentence that names the file and what in it is wrong."""
    with pytest.raises(SettingsError, match=said) as caught:
        load_names(table(text))
    assert "mine.toml" in str(caught.value)


def test_a_joint_that_is_not_there_is_told(table):
    """A slip in a name would otherwise go unnoticed; a joint that this figure lacks is no slip."""
    path = table('left_nee = "K"\n')
    with pytest.raises(SettingsError, match=r"'left_nee', which is no joint .*'left_knee'"):
        called(["left_knee"], load_names(path))
    assert called(["pelvis"], load_names(table('left_knee = "K"\n')))[0] == {"pelvis": "pelvis"}


def test_tables_that_are_not_there(tmp_path):
    """A near name is offered; a missing file is told as one; a huge one is not read."""
    with pytest.raises(SettingsError, match="did you mean 'webxr'"):
        load_names("webrx")
    with pytest.raises(FileMissing):
        load_names(tmp_path / "none.toml")
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (1 << 21))
    with pytest.raises(SettingsError, match="far too large"):
        load_names(large)


def test_every_default_joint_is_one_that_the_tables_know_or_tell():
    """No joint is lost: what a table does not name keeps its name."""
    names = standard_skeleton().names
    for table in table_names():
        given, _ = called(names, load_names(table))
        assert len(set(given.values())) == len(names)
        assert all(given[n] for n in names)
