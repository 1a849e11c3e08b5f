"""Invented skeletons under other names, posed, or with joints that we do not have."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.names import FINGERS, side_of, stem
from autoplace.skeleton.roles import Roles, guess_roles
from autoplace.skeleton.structure import parent_indices
from tests.figures import X, Y, Z

Style = Callable[[str, int], str]


def numbers(name: str, place: int) -> str:
    """Names that tell nothing."""
    return f"joint_{place}"


def bones(name: str, place: int) -> str:
    """Named after bones, the side as a letter in front."""
    words = {"pelvis": "Pelvis", "hip": "Thigh", "knee": "Shin", "ankle": "Foot", "ball": "Toe"}
    words |= {"clavicle": "Clavicle", "shoulder": "UpperArm", "elbow": "Forearm", "wrist": "Hand"}
    words |= {"toe_tip": "Toe_End", "head_top": "Head_End", "chest": "Thorax"}
    base = stem(name)
    word = words.get(base) or re.sub("_tip$", "_End", base).title()
    side = side_of(name)
    return f"{side[0].upper()}_{word}" if side else word


def run_together(name: str, place: int) -> str:
    """Lower case without signs, the side as a letter behind: 'lowerlegl'."""
    words = {"hip": "upperleg", "knee": "lowerleg", "ankle": "foot", "ball": "toes"}
    words |= {"clavicle": "collar", "shoulder": "upperarm", "elbow": "forearm", "wrist": "hand"}
    base = stem(name)
    word = words.get(base, base.replace("_", ""))
    side = side_of(name)
    return f"{word}{side[0]}" if side else word


def doubtful(name: str, place: int) -> str:
    """Words that mean one joint here and another there: 'ShoulderLeft' and 'LegLeft'."""
    words = {"pelvis": "Basin", "clavicle": "Shoulder", "shoulder": "Arm", "elbow": "LowArm"}
    words |= {"wrist": "Hand", "hip": "Thigh", "knee": "Leg", "ankle": "Foot", "ball": "Toes"}
    base = stem(name)
    word = words.get(base) or base.title().replace("_", "")
    return f"rig:{word}{(side_of(name) or '').title()}"


def joints_of_limbs(name: str, place: int) -> str:
    """Named after joints, where 'shoulder' is where the arm begins."""
    words = {"clavicle": "collar", "hip": "leg", "spine_1": "waist", "spine_2": "torso"}
    base = stem(name)
    side = side_of(name)
    return f"{words.get(base, base)}.{side[0].upper()}" if side else words.get(base, base)


def counted(name: str, place: int) -> str:
    """Limbs and fingers counted through: 'l_arm_2', 'l_finger0_1'."""
    base, side = stem(name), side_of(name)
    if side is None:
        return f"mid{place}"
    for row, word in (
        (("clavicle", "shoulder", "elbow", "wrist"), "arm"),
        (("hip", "knee", "ankle", "ball", "toe_tip"), "leg"),
    ):
        if base in row:
            return f"{side[0]}_{word}_{row.index(base) + 1}"
    finger, _, part = base.partition("_")
    if finger in FINGERS:
        return f"{side[0]}_finger{FINGERS.index(finger)}_{part}"
    return f"{side[0]}_{base}"


STYLES = [numbers, bones, run_together, doubtful, joints_of_limbs, counted]


def roles_of(skeleton: Skeleton, style: Style, **given) -> Roles:
    """What is guessed of the skeleton under names of a style."""
    names = [style(name, place) for place, name in enumerate(skeleton.names)]
    return guess_roles(names, parent_indices(skeleton), skeleton.positions(), **given)


def mistakes(skeleton: Skeleton, style: Style, **given) -> dict[str, str | None]:
    """Our name -> what was guessed instead; names that begin with 'x_' should stay unknown."""
    roles = roles_of(skeleton, style, **given)
    wanted = [None if n.startswith("x_") else n for n in skeleton.names]
    return {
        name: guess.name
        for name, want, guess in zip(skeleton.names, wanted, roles.guesses, strict=True)
        if guess.name != want
    }


def lacking(skeleton: Skeleton, *beginnings: str) -> Skeleton:
    """Without joints whose name after the side begins so; what hung from them hangs above."""
    kept = [j for j in skeleton if not any(stem(j.name).startswith(b) for b in beginnings)]
    names = {j.name for j in kept}

    def above(parent):
        while parent is not None and parent not in names:
            parent = skeleton[parent].parent
        return parent

    return skeleton.with_joints(tuple(replace(j, parent=above(j.parent)) for j in kept))


def posed(skeleton: Skeleton, degrees: float, seed: int) -> Skeleton:
    """Every joint but the root turned at random, by about so many degrees."""
    rng = np.random.default_rng(seed)
    parents, at = parent_indices(skeleton), skeleton.positions()
    new, turns = at.copy(), [np.eye(3)] * len(skeleton)
    for i, above in enumerate(parents):
        turn = Rotation.from_rotvec(np.radians(degrees / np.sqrt(3)) * rng.normal(size=3))
        if above >= 0:
            new[i] = new[above] + turns[above] @ (at[i] - at[above])
            turns[i] = turns[above] @ turn.as_matrix()
    return skeleton.with_joints(
        tuple(replace(j, position=p) for j, p in zip(skeleton, new, strict=True))
    )


def with_more(skeleton: Skeleton) -> Skeleton:
    """With a root on the floor, twist helpers, skirt, hair, jaw and a sword."""
    rows = [Joint("x_root", None, np.zeros(3))]
    rows += [replace(j, parent=j.parent or "x_root") for j in skeleton]
    head = skeleton["head"].position

    def chain(name, parent, *places):
        for number, place in enumerate(places):
            rows.append(Joint(f"x_{name}_{number}", parent, np.array(place, dtype=float)))
            parent = f"x_{name}_{number}"

    for side, x in (("left", 1.0), ("right", -1.0)):
        top, end = (skeleton[f"{side}_{part}"].position for part in ("shoulder", "elbow"))
        for number, share in enumerate((1 / 3, 2 / 3), start=1):
            place = top + share * (end - top)
            rows.append(Joint(f"{side}_shoulder_twist_{number}", f"{side}_shoulder", place))
        for row in range(3):
            down = np.array([x * 0.03 * (row + 1), 0.5, 0.05 * (1 - row)])
            steps = [down - 0.1 * step * Y for step in range(3)]
            chain(f"{side}_skirt{row}", "pelvis", *steps)
        hair = ((x * 0.03, 0.06, -0.05), (x * 0.05, -0.06, -0.08), (x * 0.05, -0.2, -0.08))
        chain(f"{side}_hair", "head", *[head + step for step in hair])
    chain("jaw", "head", head + 0.01 * Y + 0.03 * Z, head - 0.02 * Y + 0.06 * Z)
    grip = skeleton["right_wrist"].position - 0.03 * X
    chain("sword", "right_wrist", grip, grip + 0.4 * Y)
    return skeleton.with_joints(tuple(rows))


def with_toes(skeleton: Skeleton) -> Skeleton:
    """Five toes of three joints below each ball, of which the second ends in the tip."""
    rows = [j for j in skeleton if not j.name.endswith("toe_tip")]
    for side, x in (("left", 1.0), ("right", -1.0)):
        ball, tip = (skeleton[f"{side}_{part}"].position for part in ("ball", "toe_tip"))
        for toe in range(1, 6):
            aside = 0.012 * x * (toe - 2) * X - 0.006 * abs(toe - 2) * Z
            parent = f"{side}_ball"
            for joint, share in enumerate((0.1, 0.6, 1.0), start=1):
                last = toe == 2 and joint == 3
                name = f"{side}_toe_tip" if last else f"x_{side}_toe_{toe}_{joint}"
                rows.append(Joint(name, parent, ball + share * (tip - ball) + aside))
                parent = name
    return skeleton.with_joints(tuple(rows))


def with_wings(skeleton: Skeleton) -> Skeleton:
    """With wings that are longer than the arms, and a tail."""
    rows = list(skeleton.joints)
    for side, x in (("left", 1.0), ("right", -1.0)):
        parent = "chest"
        for number, place in enumerate([(0.05, 0.78), (0.3, 0.95), (0.6, 1.0), (0.8, 0.6)]):
            at = np.array([x * place[0], place[1], -0.08 - 0.04 * number])
            rows.append(Joint(f"x_{side}_wing_{number}", parent, at))
            parent = rows[-1].name
    parent = "pelvis"
    for number in range(6):
        at = np.array([0.0, 0.5 - 0.05 * number, -0.05 - 0.08 * number])
        rows.append(Joint(f"x_tail_{number}", parent, at))
        parent = rows[-1].name
    return skeleton.with_joints(tuple(rows))
