"""One mistake at a time in a sound figure: each gives the findings it should, and no others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from autoplace.skeleton.checks import CHECKS, Eyeball, Survey, survey
from autoplace.skeleton.checks.run import TREE
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import finger_of, mirror_name
from autoplace.skeleton.orient import orient
from tests.figures import X, Y, Z, moved, standard_skeleton, turned

ENDS = ("1", "2", "3", "tip")


def sound() -> tuple[Skeleton, dict]:
    """A symmetric figure in an A-pose with all that a mesh would tell of it."""
    figure = orient(standard_skeleton("A"))
    balls = {n: Eyeball(figure[n].position, 0.0069, 1e-5) for n in ("left_eye", "right_eye")}
    facts = {
        "depth_at": lambda points: np.full(len(points), 0.01),
        "symmetry_residual": 1e-4,
        "whole_residual": 1e-3,
        "floor": 0.0,
        "middle": 0.0,
        "eyeballs": balls,
    }
    return figure, facts


def with_joint(figure: Skeleton, name: str, **changes) -> Skeleton:
    """The figure with some fields of one joint replaced."""
    return figure.with_joints(tuple(replace(j, **changes) if j.name == name else j for j in figure))


def shifted(figure: Skeleton, by: np.ndarray, *names: str) -> Skeleton:
    """Some joints moved, axes made anew."""
    return orient(moved(figure, {n: figure[n].position + by for n in names}))


def both(figure: Skeleton, by: np.ndarray, *stems: str) -> Skeleton:
    """The same on both sides, in mirror image."""
    left = {f"left_{s}": figure[f"left_{s}"].position + by for s in stems}
    right = {f"right_{s}": figure[f"right_{s}"].position + by * np.array([-1, 1, 1]) for s in stems}
    return orient(moved(figure, left | right))


def spun(figure: Skeleton, degrees: float, *names: str) -> Skeleton:
    """Axes turned about the joint's own bone."""
    for name in names:
        axes = figure[name].axes
        turned_axes = np.array([turned(row, axes[1], degrees) for row in axes])
        figure = with_joint(figure, name, axes=turned_axes)
    return figure


def exchanged(figure: Skeleton, *pairs: tuple[str, str]) -> Skeleton:
    """Places of joints exchanged, axes made anew."""
    places = {a: figure[b].position for a, b in pairs} | {b: figure[a].position for a, b in pairs}
    return orient(moved(figure, places))


def across(figure: Skeleton, *stems: str) -> Skeleton:
    """Left and right of some joints exchanged."""
    names = [j.name for j in figure if j.name.startswith(tuple(f"left_{s}" for s in stems))]
    return exchanged(figure, *((n, mirror_name(n)) for n in names))


def without(figure: Skeleton, *names: str) -> Skeleton:
    return orient(figure.with_joints(tuple(j for j in figure if j.name not in names)))


def reordered(figure: Skeleton) -> Skeleton:
    """The left knee listed last."""
    knee = figure["left_knee"]
    return figure.with_joints((*(j for j in figure if j.name != "left_knee"), knee))


def finger(side: str, name: str, ends: tuple[str, ...] = ENDS) -> tuple[str, ...]:
    return tuple(f"{side}_{name}_{end}" for end in ends)


def hand(side: str, figure: Skeleton) -> tuple[str, ...]:
    return tuple(n for n in figure.names if n.startswith(f"{side}_") and finger_of(n))


def over_middle(figure: Skeleton) -> Skeleton:
    """The left index laid straight across the middle finger, its bones as long as before."""
    names = finger("left", "index")
    at = np.array([figure[n].position for n in names])
    target = 0.5 * (figure["left_middle_2"].position + figure["left_middle_3"].position)
    along = (target - at[0]) / np.linalg.norm(target - at[0])
    lengths = np.cumsum(np.linalg.norm(np.diff(at, axis=0), axis=1))
    return orient(
        moved(figure, {n: at[0] + x * along for n, x in zip(names[1:], lengths, strict=True)})
    )


def beside_middle(figure: Skeleton) -> Skeleton:
    """The left index shifted to a third of its distance from the middle finger."""
    gap = figure["left_middle_1"].position - figure["left_index_1"].position
    return shifted(figure, 0.66 * gap, *finger("left", "index"))


CASES: dict[str, tuple[Callable[[Skeleton, dict], object], set[tuple[str, str | None, str]]]] = {
    "two roots": (
        lambda s, m: s.with_joints((*s, Joint("stray", None, np.array([0, 0.5, 0])))),
        {("one_root", "stray", "error")},
    ),
    "one name twice": (
        lambda s, m: s.with_joints((*s, s["left_ring_tip"])),
        {("unique_names", "left_ring_tip", "error")},
    ),
    "no such parent": (
        lambda s, m: with_joint(s, "left_hip", parent="hips"),
        {("parent_exists", "left_hip", "error")},
    ),
    "a circle": (
        lambda s, m: with_joint(s, "left_hip", parent="left_knee"),
        {("no_cycles", "left_hip", "error"), ("no_cycles", "left_knee", "error")},
    ),
    "a child first": (
        lambda s, m: reordered(s),
        {("parents_first", "left_ankle", "error")},
    ),
    "a place that is no number": (
        lambda s, m: with_joint(s, "left_hip", position=np.array([0.0, np.inf, 0.0])),
        {("finite_position", "left_hip", "error")},
    ),
    "an aim at no child": (
        lambda s, m: with_joint(s, "left_hip", aim="left_ankle"),
        {("aim_target", "left_hip", "error")},
    ),
    "a missing hand": (
        lambda s, m: without(s, "left_wrist", *hand("left", s)),
        {("paired_sides", "right_wrist", "warning")},
    ),
    "a knee on the pelvis": (
        lambda s, m: orient(with_joint(s, "left_knee", parent="pelvis")),
        {("parentage", "left_knee", "error")},
    ),
    "a spine that skips a joint": (
        lambda s, m: orient(with_joint(s, "chest", parent="spine_1")),
        {("parentage", "chest", "error")},
    ),
    "a bone of no length": (
        lambda s, m: both(s, s["left_ball"].position - s["left_toe_tip"].position, "toe_tip"),
        {("bone_length", "left_toe_tip", "error"), ("bone_length", "right_toe_tip", "error")},
    ),
    "legs with swapped names": (
        lambda s, m: across(s, "hip", "knee", "ankle", "ball", "toe"),
        {("sides_swapped", "left_hip", "error")},
    ),
    "knees with swapped places": (
        lambda s, m: across(s, "knee"),
        {
            ("sides_crossed", "left_knee", "warning"),
            ("bend_direction", "left_knee", "warning"),
            ("bend_direction", "right_knee", "warning"),
        },
    ),
    "facing backward": (
        lambda s, m: orient(s, forward="-Z"),
        {("facing", None, "error")},
    ),
    "upside down": (
        lambda s, m: m.update(floor=None, middle=None) or orient(s, up="-Y"),
        {("facing", None, "warning")},
    ),
    "lying": (
        lambda s, m: m.update(floor=None, middle=None) or orient(s, up="+Z", forward="-Y"),
        {("facing", None, "warning")},
    ),
    "a shifted wrist": (
        lambda s, m: shifted(s, 0.02 * Z, "left_wrist", *hand("left", s)),
        {("mirrored_places", "left_wrist", "warning")},
    ),
    "a rounded wrist": (
        lambda s, m: shifted(s, 4e-5 * Z, "left_wrist"),
        {("mirrored_exactly", "left_wrist", "note")},
    ),
    "a spine off the middle": (
        lambda s, m: shifted(s, 0.008 * X, "spine_2"),
        {("on_middle", "spine_2", "warning")},
    ),
    "a knee outside": (
        lambda s, m: m.update(depth_at=depths(s, left_knee=-0.01)) or s,
        {("inside_body", "left_knee", "error")},
    ),
    "a shallow ankle": (
        lambda s, m: m.update(depth_at=depths(s, left_ankle=0.001)) or s,
        {("inside_body", "left_ankle", "note")},
    ),
    "an ankle by a surface inside": (
        lambda s, m: (
            m.update(
                depth_at=lambda p: np.where(
                    np.linalg.norm(p - s["left_ankle"].position, axis=1) < 0.01, 0.001, 0.01
                )
            )
            or s
        ),
        set(),
    ),
    "an ankle in a leg as thin": (
        lambda s, m: m.update(depth_at=lambda points: np.full(len(points), 0.004)) or s,
        set(),
    ),
    "an eye half a radius off": (
        lambda s, m: both(s, 0.0040 * Z, "eye"),
        {("eye_centre", "left_eye", "error"), ("eye_centre", "right_eye", "error")},
    ),
    "an eye a fifth of a radius off": (
        lambda s, m: both(s, 0.0014 * Z, "eye"),
        {("eye_centre", "left_eye", "warning"), ("eye_centre", "right_eye", "warning")},
    ),
    "an eye off within its doubt": (
        lambda s, m: (
            m.update(eyeballs={n: replace(b, spread=0.0006) for n, b in m["eyeballs"].items()})
            or both(s, 0.0014 * Z, "eye")
        ),
        set(),
    ),
    "an eye that looks aside": (
        lambda s, m: orient(with_joint(s, "left_eye", look=turned(Z, Y, 60))),
        {("eye_direction", "left_eye", "warning")},
    ),
    "high toes": (
        lambda s, m: both(s, 0.06 * Y, "toe_tip"),
        {("on_floor", "left_toe_tip", "note"), ("on_floor", "right_toe_tip", "note")},
    ),
    "sunken toes": (
        lambda s, m: both(s, -0.02 * Y, "toe_tip"),
        {("on_floor", "left_toe_tip", "error"), ("on_floor", "right_toe_tip", "error")},
    ),
    "straight knees": (
        lambda s, m: orient(standard_skeleton("A", knee=0)),
        {("bend_present", "left_knee", "warning"), ("bend_present", "right_knee", "warning")},
    ),
    "knees that bend forward": (
        lambda s, m: orient(standard_skeleton("A", knee=-9)),
        {("bend_direction", "left_knee", "error"), ("bend_direction", "right_knee", "error")},
    ),
    "elbows folded too far": (
        lambda s, m: orient(standard_skeleton("A", elbow=160)),
        {("bend_range", "left_elbow", "warning"), ("bend_range", "right_elbow", "warning")},
    ),
    "two joints of a finger exchanged": (
        lambda s, m: orient(
            exchanged(
                s,
                ("left_ring_2", "left_ring_3"),
                ("right_ring_2", "right_ring_3"),
            )
        ),
        {
            ("finger_bend", "left_ring_2", "error"),
            ("finger_bend", "left_ring_3", "error"),
            ("finger_bend", "right_ring_2", "error"),
            ("finger_bend", "right_ring_3", "error"),
            ("proportions", "left_ring_3", "note"),
            ("proportions", "right_ring_3", "note"),
        },
    ),
    "two fingers exchanged": (
        lambda s, m: exchanged(
            s,
            *zip(finger("left", "index"), finger("left", "middle"), strict=True),
            *zip(finger("right", "index"), finger("right", "middle"), strict=True),
        ),
        {("finger_order", "left_middle_1", "error"), ("finger_order", "right_middle_1", "error")},
    ),
    "a finger through the next": (
        lambda s, m: over_middle(s),
        {
            ("fingers_cross", "left_middle_2", "error"),
            ("mirrored_places", "left_index_2", "warning"),
        },
    ),
    "a finger too near the next": (
        lambda s, m: beside_middle(s),
        {
            ("fingers_apart", "left_middle_1", "warning"),
            ("mirrored_places", "left_index_1", "warning"),
        },
    ),
    "a turned joint": (
        lambda s, m: m.update(turned={"left_elbow": 12.0}) or s,
        {("rest_rotation", "left_elbow", "error")},
    ),
    "a scaled joint": (
        lambda s, m: m.update(scaled={"left_elbow": (1.0, 2.0, 1.0)}) or s,
        {("rest_scale", "left_elbow", "error")},
    ),
    "axes of other lengths": (
        lambda s, m: with_joint(s, "left_elbow", axes=1.5 * s["left_elbow"].axes),
        {("rest_scale", "left_elbow", "error")},
    ),
    "axes askew": (
        lambda s, m: with_joint(s, "head_top", axes=s["head_top"].axes + 0.00001 * np.ones((3, 3))),
        {("axes_orthonormal", "head_top", "error"), ("rest_scale", "head_top", "error")},
    ),
    "no convention": (
        lambda s, m: replace(s, settings={}),
        {("oriented", None, "note")},
    ),
    "axes by no convention": (
        lambda s, m: replace(
            s.with_joints(tuple(replace(j, axes=np.eye(3)) for j in s)), settings={}
        ),
        {("oriented", None, "warning")},
    ),
    "a stale aim": (
        lambda s, m: with_joint(
            s, "head", axes=np.array([turned(row, X, 0.5) for row in s["head"].axes])
        ),
        {("aim", "head", "warning"), ("tip_aligned", "head_top", "warning")},
    ),
    "a turned tip": (
        lambda s, m: spun(s, 20, "left_ring_tip", "right_ring_tip"),
        {("tip_aligned", "left_ring_tip", "warning"), ("tip_aligned", "right_ring_tip", "warning")},
    ),
    "a spun knee": (
        lambda s, m: spun(s, 3, "left_knee"),
        {("mirrored_axes", "left_knee", "warning")},
    ),
    "a spun spine joint": (
        lambda s, m: spun(s, 4, "spine_2"),
        {("bend_axes_agree", "spine_2", "warning"), ("bend_axes_agree", "chest", "warning")},
    ),
    "arms that flex the other way": (
        lambda s, m: spun(s, 180, "left_shoulder", "left_elbow", "right_shoulder", "right_elbow"),
        {
            ("bend_sign", "left_shoulder", "warning"),
            ("bend_sign", "left_elbow", "warning"),
            ("bend_sign", "right_shoulder", "warning"),
            ("bend_sign", "right_elbow", "warning"),
        },
    ),
    "shins longer than legs are": (
        lambda s, m: both(s, 0.14 * Y, "knee"),
        {("proportions", "left_knee", "warning"), ("proportions", "right_knee", "warning")},
    ),
}


def depths(figure: Skeleton, **under: float):
    """A depth function that gives a hundredth, but close to some joints the depth under a plane."""
    known = [(figure[name].position, depth) for name, depth in under.items()]

    def depth_at(points: np.ndarray) -> np.ndarray:
        found = np.full(len(points), 0.01)
        for at, depth in known:
            near = np.linalg.norm(points - at, axis=1) < 0.01
            found[near] = depth + (points[near] - at) @ X
        return found

    return depth_at


def told(figure: Skeleton, facts: dict) -> set[tuple[str, str | None, str]]:
    return told_of(survey(figure, **facts))


def told_of(result: Survey) -> set[tuple[str, str | None, str]]:
    return {(f.check, f.joint, f.level) for f in result.findings}


@cache
def surveyed(name: str) -> Survey:
    """What is found in a figure with one of the mistakes."""
    figure, facts = sound()
    broken = CASES[name][0](figure, facts)
    return survey(broken, **facts)


def test_a_sound_figure_gives_no_finding():
    """With everything that a mesh tells, every check runs and none has anything to say."""
    figure, facts = sound()
    result = survey(figure, **facts)
    assert result.findings == ()
    assert result.not_run == {}
    assert set(result.ran) == {*TREE, *(name for check in CHECKS for name in check.findings)}


@pytest.mark.parametrize("name", CASES)
def test_one_mistake_gives_its_findings_and_no_others(name):
    """The expected findings at the expected joints, and nothing besides."""
    assert told_of(surveyed(name)) == CASES[name][1]


@pytest.mark.parametrize("mirror", ["motion", "axes"])
@pytest.mark.parametrize(
    "facing", [{}, {"all": "extend"}, {"all": "+Z"}, {"finger": "back_of_hand"}]
)
def test_bends_are_judged_by_the_convention(mirror, facing):
    """Axes made by any convention are right by it, and no sign is asked for where none is given."""
    _, facts = sound()
    convention = Convention(mirror=mirror, facing=facing)
    figure = orient(standard_skeleton("A"), convention)
    assert told(figure, facts) == set()


def test_joints_that_are_none_of_ours_are_left_in_peace():
    """A joint over the pelvis, twist helpers anywhere on their bones, a jaw, hair: no mistakes. A
    pouch on one side is a note."""
    figure, facts = sound()
    facts = {key: value for key, value in facts.items() if key != "depth_at"}
    elbow, wrist = (figure[f"left_{n}"].position for n in ("elbow", "wrist"))
    twists = [
        Joint(f"{side}_elbow_twist_{k}", f"{side}_elbow", (elbow + t * (wrist - elbow)) * sign)
        for k, t in ((1, 0.0), (2, 0.5))
        for side, sign in (("left", [1, 1, 1]), ("right", [-1, 1, 1]))
    ]
    face = [Joint("jaw", "head", np.array([0, 0.9, 0.04])), Joint("hair", "head", 1.01 * Y)]
    root = Joint("root", None, np.zeros(3))
    under = tuple(replace(j, parent="root") if j.parent is None else j for j in figure)
    whole = orient(figure.with_joints((root, *under, *twists, *face)))
    assert told(whole, facts) == set()
    pouch = Joint("left_pouch", "pelvis", np.array([0.08, 0.55, 0.05]))
    found = told(orient(whole.with_joints((*whole, pouch))), facts)
    assert found == {("paired_sides", "left_pouch", "note")}


def test_two_neighbouring_fingers_with_bones_of_no_length_are_told():
    """Neither crosses the other where both have no length; that they have none is found."""
    figure, facts = sound()
    upon = {f"left_{f}_3": figure[f"left_{f}_2"].position for f in ("index", "middle")}
    found = told(orient(moved(figure, upon)), facts)
    assert {joint for check, joint, _ in found if check == "bone_length"} == set(upon)
    assert not {check for check, _, _ in found} & {"fingers_cross", "fingers_apart"}


def test_aims_are_those_of_the_convention():
    """A wrist that a convention aims at the index is not said to aim past the middle finger."""
    _, facts = sound()
    figure = orient(standard_skeleton("A"), Convention(aims={"wrist": ("index_1",)}))
    assert told(figure, facts) == set()


def test_a_hand_alone_is_checked_as_far_as_it_goes():
    """Fingers, axes and depths are looked at; what needs a body is named as not run."""
    figure, facts = sound()
    kept = ("left_wrist", *hand("left", figure))
    joints = tuple(
        replace(figure[n], parent=None if n == "left_wrist" else figure[n].parent) for n in kept
    )
    alone = replace(
        figure.with_joints(joints), source=replace(figure.source, part="hand"), template=""
    )
    facts |= {"eyeballs": {}, "floor": None, "depth_at": depths(figure, left_wrist=0.001)}
    result = survey(alone, **facts)
    assert result.findings == ()
    assert {"inside_body", "finger_order", "fingers_cross", "proportions"} <= set(result.ran)
    assert {"paired_sides", "on_floor", "bend_present", "eye_centre"} - set(result.ran) == {
        "on_floor",
        "bend_present",
        "eye_centre",
    }


def test_every_check_has_its_case():
    """No finding can be given that the cases above, or the tests beside them, never see."""
    seen = {check for _, expected in CASES.values() for check, _, _ in expected}
    elsewhere = {"axes_right_handed", "tree"}
    assert {*TREE, *(n for check in CHECKS for n in check.findings)} - seen == elsewhere


@pytest.mark.parametrize("name", CASES)
def test_findings_carry_their_figures(name):
    """A limit comes with what was measured, beyond it on one side, with a unit and a source."""
    for found in surveyed(name).findings:
        assert found.fix
        if found.limit is not None:
            assert found.measured is not None
            assert found.unit in ("deg", "height", "radius", "")
            assert found.source
            assert found.source in found.message or found.source.startswith("by the meaning")


TURNS = {"z up": np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]), "x up": np.eye(3)[[1, 2, 0]]}


@pytest.mark.parametrize(
    "turn", [pytest.param(n, marks=[pytest.mark.wide] * (n != "x up")) for n in TURNS]
)
@pytest.mark.parametrize("name", [n for n in CASES if n != "a place that is no number"])
def test_findings_do_not_depend_on_frame_units_and_place(name, turn):
    """The same mistakes in a figure turned onto other axes, 174 times as large and far away."""
    change, _ = CASES[name]
    figure, facts = sound()
    broken, matrix = change(figure, facts), TURNS[turn]
    joints = tuple(
        replace(
            j,
            position=174.0 * matrix @ j.position + np.array([300.0, -20.0, 5.0]),
            axes=j.axes @ matrix.T,
            look=None if j.look is None else matrix @ j.look,
        )
        for j in broken
    )
    up, ahead = (axis_name(matrix @ axis) for axis in (Y, Z))
    settings = dict(broken.settings)
    if "orientation" in settings:
        record = settings["orientation"]
        turned_record = {key: list(matrix @ np.array(record[key])) for key in ("up", "forward")}
        settings["orientation"] = {**record, **turned_record}
    source = replace(broken.source, up=up, forward=ahead, height=174.0)
    there = replace(broken.with_joints(joints), source=source, settings=settings)
    assert told(there, {}) == told(broken, {})


def axis_name(direction: np.ndarray) -> str:
    axis = int(np.argmax(np.abs(direction)))
    return ("+" if direction[axis] > 0 else "-") + "XYZ"[axis]
