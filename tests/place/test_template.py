"""`place.template`: the shipped templates, the joint lists they make, and files that are wrong."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy.stats import norm

from autoplace.data import data_folder, template_names
from autoplace.errors import TemplateError
from autoplace.place import template as module
from autoplace.place.template import SCALES, choose_template, load_template

FIVE = ("thumb", "index", "middle", "ring", "pinky")
SHIPPED = template_names()
ENDS = ("1", "2", "3", "tip")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder in the place of the shipped templates."""
    monkeypatch.setattr(module, "data_folder", lambda name: tmp_path)
    monkeypatch.setattr(
        module, "template_names", lambda: tuple(sorted(p.stem for p in tmp_path.glob("*.toml")))
    )
    return tmp_path


RULE = '{ value = 0.5, spread = 0.1, source = "a book, page 3" }'
JOINTS = '[[joints]]\nname = "pelvis"\n'


def write(folder, name, text):
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")


# ---- what is shipped


def test_the_templates_of_the_readers_are_there():
    """The shipped set has an adult, a child and a big-headed figure at least."""
    assert {"adult", "child", "toddler", "big_head", "heroic"} <= set(SHIPPED)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_proportion_has_a_source_and_a_spread(name):
    """No number stands without its source, a positive spread, and the length it is a share of."""
    template = load_template(name)
    for rule in (*template.proportions.values(), *template.choice.values()):
        assert len(rule.source.split()) >= 3, rule
        assert rule.spread > 0.0
        assert rule.of in (*SCALES, "height")
    assert set(template.choice) == {"heads_tall", "crotch_height"}
    assert template.description.endswith(".")


@pytest.mark.parametrize("name", SHIPPED)
def test_sources_name_a_work_or_say_that_there_is_none(name):
    """A source has a year, a standard's number, an author known without year, or it says how the
    number is known."""
    known = re.compile(
        r"(19|20)\d\d|\d{5}|Winter|Loomis|NAVEDTRA|no (measured )?source|from memory|references|"
        r"as the (adult|toddler|child)'s"
    )
    template = load_template(name)
    for rule in (*template.proportions.values(), *template.choice.values()):
        assert known.search(rule.source), rule.source


@pytest.mark.parametrize("name", SHIPPED)
def test_every_template_has_what_the_adult_s_has(name):
    """What extends the adult's lacks none of its proportions and has all its joints."""
    adult, other = load_template("adult"), load_template(name)
    assert set(adult.proportions) <= set(other.proportions)
    assert other.joints


def test_extending_changes_only_what_is_named():
    """The child's template has the adult's shares except those it names itself."""
    adult, child = load_template("adult"), load_template("child")
    text = (data_folder("templates") / "child.toml").read_text(encoding="utf-8")
    own = set(re.findall(r"^(\w+) = \{", text, flags=re.MULTILINE))
    for key, rule in adult.proportions.items():
        assert (child.proportions[key] == rule) == (key not in own)
    assert child.name == "child"
    assert child.joints == adult.joints


def test_a_template_is_read_once():
    """Asking twice gives the same record."""
    assert load_template("adult") is load_template("adult")


# ---- joint lists


def whole_list(spine=3, fingers=FIVE, other=FIVE):
    return load_template("adult").joint_list(spine, {"left": fingers, "right": other})


def test_the_default_list_is_that_of_the_project():
    """A whole figure has the joints the project promises: 7 in the middle, 30 on each side."""
    rows = whole_list()
    middle = ["pelvis", "spine_1", "spine_2", "chest", "neck", "head", "head_top"]
    side = ["eye", "clavicle", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball"]
    side += ["toe_tip", *(f"{finger}_{end}" for finger in FIVE for end in ENDS)]
    expected = {*middle, *(f"{s}_{name}" for s in ("left", "right") for name in side)}
    assert {name for name, _ in rows} == expected
    assert len(rows) == len(expected)


@pytest.mark.parametrize("spine", range(1, 7))
def test_the_spine_has_as_many_joints_as_asked(spine):
    """From pelvis to chest runs one chain of the number asked for, the chest counted and last."""
    parent = dict(whole_list(spine))
    chain = ["chest"]
    while parent[chain[-1]] is not None:
        chain.append(parent[chain[-1]])
    numbered = [f"spine_{i}" for i in range(1, spine)]
    assert chain[::-1] == ["pelvis", *numbered, "chest"]
    assert [n for n, _ in whole_list(spine) if n.startswith("spine")] == numbered


@pytest.mark.parametrize("spine", range(1, 7))
@pytest.mark.parametrize("fingers", [FIVE, ("thumb", "index", "middle", "pinky"), ()], ids=len)
def test_parents_come_before_children_and_names_are_unique(spine, fingers):
    """Every parent is listed before its children, the pelvis first and alone without one."""
    rows = whole_list(spine, fingers, fingers)
    names = [name for name, _ in rows]
    assert len(set(names)) == len(names)
    assert rows[0] == ("pelvis", None)
    for index, (_, parent) in enumerate(rows[1:], start=1):
        assert parent in names[:index]


@pytest.mark.parametrize(
    "fingers",
    [("thumb", "middle"), ("thumb", "index", "middle", "pinky"), ("middle",), ()],
    ids=len,
)
def test_a_hand_with_fewer_fingers_lacks_those_names(fingers):
    """Each finger there is has three joints and a tip in a chain from the wrist, no other has."""
    rows = whole_list(3, fingers, FIVE)
    parent = dict(rows)
    for finger in FIVE:
        names = [f"left_{finger}_{end}" for end in ENDS]
        if finger not in fingers:
            assert not set(names) & set(parent)
            continue
        assert [parent[n] for n in names] == ["left_wrist", *names[:-1]]
    assert sum(name.startswith("right_") for name, _ in rows) == 30


def test_left_and_right_have_mirrored_parents():
    """The right side's parents are the left's with the side's name exchanged."""
    parent = dict(whole_list())
    for name, above in parent.items():
        if name.startswith("left_"):
            twin = parent[name.replace("left_", "right_")]
            assert twin == above.replace("left_", "right_")


def test_parents_of_the_first_joints_of_the_limbs():
    """Clavicles and neck hang from the chest, hips from the pelvis, eyes from the head."""
    parent = dict(whole_list())
    assert parent["left_clavicle"] == parent["neck"] == "chest"
    assert parent["left_hip"] == "pelvis"
    assert parent["left_eye"] == parent["head_top"] == "head"
    assert parent["left_thumb_1"] == parent["left_pinky_1"] == "left_wrist"


# ---- the choice


@pytest.mark.parametrize(
    ("heads", "crotch", "name"),
    [
        # stature over vertex-menton of adults, and crotch height (US Army 2012 survey)
        (7.5, 0.481, "adult"),
        # 6.25 heads at 8 years (NAVEDTRA 14262), leg share .46 (sitting-height tables, from memory)
        (6.25, 0.46, "child"),
        # 4 to 4.5 heads at 1 year (Loomis; NAVEDTRA 14262), leg share .37
        (4.2, 0.37, "toddler"),
        # drawing convention of a cartoon figure
        (2.6, 0.25, "big_head"),
    ],
)
def test_published_proportions_choose_their_own_template(heads, crotch, name):
    """Proportions of people of an age, as published, choose the template of that age."""
    assert choose_template(heads, crotch).template.name == name


def test_confidence_is_the_share_of_the_likelihood():
    """The confidence is the chosen template's share of the Gaussian likelihoods of all."""
    measured = {"heads_tall": 6.9, "crotch_height": 0.47}
    likelihood = {}
    for name in SHIPPED:
        choice = load_template(name).choice
        likelihood[name] = np.prod(
            [norm.pdf(v, choice[k].value, choice[k].spread) for k, v in measured.items()]
        )
    chosen = choose_template(**measured)
    best = max(likelihood, key=likelihood.get)
    assert chosen.template.name == best
    assert chosen.confidence == pytest.approx(likelihood[best] / sum(likelihood.values()))
    assert "6.9 heads tall" in chosen.why
    assert "47 percent" in chosen.why


@pytest.mark.parametrize(("heads", "crotch"), [(50.0, 0.48), (1.0, 0.0), (7.5, 1.0)])
def test_a_figure_unlike_any_still_gets_a_template(heads, crotch):
    """Proportions far from every template choose the nearest, with a confidence that is a share."""
    chosen = choose_template(heads, crotch)
    assert chosen.template.name in SHIPPED
    assert 0.0 < chosen.confidence <= 1.0


# ---- files that are wrong


def test_no_such_template():
    """An unknown name is refused with the names there are."""
    with pytest.raises(TemplateError, match=r"no template 'ogre'.*adult"):
        load_template("ogre")


def test_a_template_that_extends_itself(folder):
    """A ring of templates is refused, and the message names the ring."""
    write(folder, "a", 'extends = "b"\n' + JOINTS)
    write(folder, "b", 'extends = "c"\n' + JOINTS)
    write(folder, "c", 'extends = "a"\n' + JOINTS)
    with pytest.raises(TemplateError, match=r"a\.toml extends itself through a -> b -> c"):
        load_template("a")


def test_a_template_that_extends_nothing_there(folder):
    """A missing base is refused with the name of the file looked for."""
    write(folder, "elf", 'extends = "adult"\n' + JOINTS)
    with pytest.raises(TemplateError, match=r"elf\.toml extends 'adult', and there is no adult"):
        load_template("elf")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("{ value = 0.5, spread = 0.1 }", "source"),
        ('{ spread = 0.1, source = "x" }', "value"),
        ('{ value = 0.5, source = "x" }', "spread"),
        ('{ value = "wide", spread = 0.1, source = "x" }', "wide"),
        ('{ value = 0.5, spread = 0.0, source = "x" }', "spread above zero"),
        ('{ value = 0.5, spread = -1, source = "x" }', "spread above zero"),
        ('{ value = nan, spread = 0.1, source = "x" }', "finite value"),
        ('{ value = 0.5, spread = inf, source = "x" }', "finite value"),
        ('{ of = "tail", value = 0.5, spread = 0.1, source = "x" }', "share of 'tail'"),
        ("0.5", "needs numbers"),
    ],
)
@pytest.mark.parametrize("table", ["proportions", "choice"])
def test_a_wrong_proportion_is_told(folder, table, row, words):
    """A row without value, spread or source, or with impossible ones, is refused with the file's
    and the proportion's name."""
    write(folder, "elf", f"[{table}]\near_length = {row}\n" + JOINTS)
    with pytest.raises(TemplateError) as caught:
        load_template("elf")
    message = str(caught.value)
    assert "elf.toml" in message
    assert "'ear_length'" in message
    assert words in message
    assert "\n" not in message


def test_a_template_without_joints(folder):
    """A file without joints, its own or extended ones, is refused."""
    write(folder, "elf", f"[proportions]\near_length = {RULE}\n")
    with pytest.raises(TemplateError, match=r"elf\.toml has no joints"):
        load_template("elf")


@pytest.mark.parametrize("content", [b"[proportions\n", b"\xff\xfe\x00", b"a = 1\na = 2\n"])
def test_a_file_that_is_no_toml(folder, content):
    """What cannot be parsed is refused with the file's name."""
    (folder / "elf.toml").write_bytes(content)
    with pytest.raises(TemplateError, match=r"elf\.toml cannot be read as a template"):
        load_template("elf")


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('[[joints]]\nparent = "pelvis"\n', r"2 needs a 'name'"),
        ("[[joints]]\nname = 7\n", r"2 needs a 'name'"),
        ('[[joints]]\nname = "ear"\nparent = "head"\n', r"'ear' hangs from 'head'"),
        ('[[joints]]\nname = "ear"\nparent = "ear"\n', r"'ear' hangs from 'ear'"),
    ],
)
def test_a_joint_without_a_name_or_with_an_unknown_parent(folder, entry, words):
    """A joint that lacks its name, or hangs from one not listed before it, is refused."""
    write(folder, "elf", JOINTS + entry)
    with pytest.raises(TemplateError, match=rf"^elf\.toml: joint .*{words}"):
        load_template("elf")


def test_asking_for_a_proportion_that_is_not_there(folder):
    """A missing proportion is told with the file to add it to and what it needs."""
    write(folder, "elf", f"[proportions]\near_length = {RULE}\n" + JOINTS)
    template = load_template("elf")
    assert template["ear_length"].value == 0.5
    assert template["ear_length"].of == "height"
    with pytest.raises(TemplateError, match=r"'elf' lacks the proportion 'tail'.*elf\.toml"):
        template["tail"]


def test_a_new_template_needs_no_code(folder):
    """A file with its own joints and shares is read, listed and offered for choosing."""
    write(folder, "base", f"[proportions]\nleg = {RULE}\narm = {RULE}\n" + JOINTS)
    write(
        folder,
        "elf",
        'extends = "base"\n[choice]\nheads_tall = { value = 9, spread = 1, source = "a tale" }\n'
        '[proportions]\narm = { value = 0.7, spread = 0.1, source = "a tale" }\n',
    )
    elf = load_template("elf")
    assert (elf["arm"].value, elf["leg"].value) == (0.7, 0.5)
    assert elf.joint_list(3, {}) == [("pelvis", None)]
    assert elf.name == "elf"


def test_proportions_pass_over_from_one_template_to_the_next():
    """From figure to figure between two templates no proportion jumps: a hundredth of a head more
    changes none by more than a fiftieth of its spread."""
    before = choose_template(5.0, 0.45).template
    names = {before.name}
    for heads in np.arange(5.01, 8.0, 0.01):
        now = choose_template(float(heads), 0.45).template
        for key, rule in now.proportions.items():
            step = abs(rule.value - before.proportions[key].value)
            assert step <= 0.02 * rule.spread, (key, heads)
        names.add(now.name)
        before = now
    assert len(names) > 1


def test_a_template_that_is_clearly_the_best_keeps_its_proportions():
    """Where one template has all the probability, its numbers are its own."""
    choice = choose_template(2.2, 0.2)
    own = load_template(choice.template.name)
    assert choice.confidence > 0.999
    for key, rule in own.proportions.items():
        assert choice.template[key].value == pytest.approx(rule.value, abs=0.05 * rule.spread)
