"""Which of our joints each joint of a foreign skeleton is, and which way the figure stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.names import SIDES, family, is_tip
from autoplace.skeleton.roles.fingers import name_fingers, side_of_hand
from autoplace.skeleton.roles.ledger import Ledger, RoleGuess
from autoplace.skeleton.roles.limbs import Limb, find_limbs, finger_count
from autoplace.skeleton.roles.tree import JointTree, make_tree
from autoplace.skeleton.roles.trunk import name_eyes, name_trunk
from autoplace.skeleton.roles.words import read_names

__all__ = ["Roles", "guess_roles"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BALL = 0.41
"""Distance of a foot's last joint from the ankle, in shanks, under which it is the ball: the ball
lies 0.33 away and the tip of the toes 0.48 (foot length 0.152 and shank 0.246 of the height,
Winter 2009; ball at 0.69 of the foot from the heel, ANSUR II)."""
BALL_AT = 0.33
TOES = 3
"""So many chains below the ankle are toes; fewer may be a toe and a helper at the heel."""
ON_THE_BONE = 0.15
"""A helper that only turns with a bone lies within this share of its length beside it."""
FOOT_POINTS = 0.1
"""Share of the shank that the feet must reach forward to tell where forward is; the tip of the
toes is 0.48 ahead (see BALL)."""
KNEE_POINTS = 0.005
"""Likewise for a knee's apex: a bend of some two degrees."""


@dataclass(frozen=True)
class Roles:
    """What was found out about a skeleton."""

    guesses: tuple[RoleGuess, ...]
    """One for each joint, in order."""
    up: FloatArray | None
    """(3,) unit vector, where hips and head or shoulders show it."""
    forward: FloatArray | None
    """(3,) unit vector at right angles to up, where sides or feet show it."""
    notes: tuple[str, ...]


def guess_roles(
    names: Sequence[str],
    parents: IntArray,
    positions: FloatArray,
    *,
    tips: Sequence[bool] = (),
    up: FloatArray | None = None,
    forward: FloatArray | None = None,
    side: str | None = None,
) -> Roles:
    """Guesses roles from names, hierarchy and place.

    Joints are listed parents first; `positions` (n, 3) in any frame and unit. `tips` says which
    joints the file knows to be ends of chains. `up` and `forward` (3,) are what the file says of
    its frame, and `side` that of a hand alone. Names of ours are kept as they are.
    """
    readings = read_names(names)
    tree = make_tree(
        names,
        parents,
        positions,
        readings,
        tips if len(tips) == len(names) else [False] * len(names),
    )
    ledger = Ledger(tree)
    notes: list[str] = []
    if 2 * sum(family(name) is not None for name in names) >= len(names):
        for joint, name in enumerate(names):
            if family(name):
                ledger.give(joint, name, "name")
        own_up, own_forward = _directions_of_ours(ledger)
        return Roles(_rows(ledger), own_up, own_forward, ())
    limbs = find_limbs(tree, up)
    legs, arms = limbs["leg"], limbs["arm"]
    if not legs and not arms:
        _lone_hand(ledger, side, notes)
    name_trunk(ledger, legs, arms)
    upward = _upward(ledger, legs, arms)
    left, ahead = _sideways(tree, legs, arms, upward if upward is not None else up, forward)
    if left is None and any(limb.side is None for limb in (*legs, *arms)):
        notes.append(
            "Left and right could not be told: no name, foot or face shows where it faces."
        )
    for pair in (legs, arms):
        _name_pair(ledger, pair, left)
    for row in (*arms, *legs):  # whether fingers have tips tells what ends a foot
        limb_side = _given_side(ledger, row)
        if limb_side:
            _name_rest(ledger, row, limb_side)
    if left is not None and upward is not None and ahead is not None:
        name_eyes(ledger, left, upward, ahead)
    _name_by_words_alone(ledger)
    _name_twists(ledger)
    return Roles(_rows(ledger), upward, ahead, tuple(notes))


def _rows(ledger: Ledger) -> tuple[RoleGuess, ...]:
    return tuple(ledger.guess(joint) for joint in range(len(ledger.tree.names)))


def _unit(vector: FloatArray) -> FloatArray | None:
    size = float(np.linalg.norm(vector))
    return vector / size if size > 0 and np.isfinite(size) else None


def _upward(ledger: Ledger, legs: Sequence[Limb], arms: Sequence[Limb]) -> FloatArray | None:
    """From between the hips to the head, or to between the shoulders."""
    tree = ledger.tree
    low = ledger.joint_of("pelvis")
    if legs:
        start = np.mean([tree.at[limb.joints[0]] for limb in legs], axis=0)
    elif low is not None:
        start = tree.at[low]
    else:
        return None
    head = ledger.joint_of("head")
    if head is not None:
        return _unit(tree.at[head] - start)
    if arms:
        return _unit(np.mean([tree.at[limb.joints[0]] for limb in arms], axis=0) - start)
    feet = np.mean([tree.at[limb.joints[2]] for limb in legs], axis=0) if legs else start
    return _unit(start - feet)


def _sideways(
    tree: JointTree,
    legs: Sequence[Limb],
    arms: Sequence[Limb],
    up: FloatArray | None,
    forward: FloatArray | None,
) -> tuple[FloatArray | None, FloatArray | None]:
    """Unit vectors (3,) to the figure's left and forward; by names, feet, the file, or not."""
    if up is None:
        return None, None
    named = np.zeros(3)
    across = None
    for pair in (legs, arms):
        if len(pair) == 2:
            one, two = pair
            apart = _unit(tree.at[one.joints[0]] - tree.at[two.joints[0]])
            if apart is None:
                continue
            across = apart if across is None else across
            if {one.side, two.side} == set(SIDES):
                named += apart if one.side == "left" else -apart
    left = _unit(named - (named @ up) * up)
    if left is None and across is not None:
        across = _unit(across - (across @ up) * up)
        ahead = _feet_forward(tree, legs, up)
        ahead = forward if ahead is None else ahead
        ahead = _knees_forward(tree, legs, up) if ahead is None else ahead
        if ahead is None or across is None:
            return None, None
        sign = float(np.cross(up, ahead) @ across)
        if abs(sign) < 0.2:  # the figure faces along the line between its limbs, which cannot be
            return None, None
        left = across if sign > 0 else -across
    if left is None:
        return None, None
    return left, _unit(np.cross(left, up))


def _feet_forward(tree: JointTree, legs: Sequence[Limb], up: FloatArray) -> FloatArray | None:
    """Level from the ankles to the ends of the feet, both together; None if that is little."""
    level, length = np.zeros(3), 0.0
    for limb in legs:
        _, knee, ankle = (tree.at[j] for j in limb.joints)
        step = tree.at[limb.path[-1]] - ankle
        level += step - (step @ up) * up
        length += float(np.linalg.norm(ankle - knee))
    return _unit(level) if np.linalg.norm(level) > FOOT_POINTS * length else None


def _knees_forward(tree: JointTree, legs: Sequence[Limb], up: FloatArray) -> FloatArray | None:
    """Level to where the knees are bent; None if they are straight."""
    level, length = np.zeros(3), 0.0
    for limb in legs:
        hip, knee, ankle = (tree.at[j] for j in limb.joints)
        along = _unit(ankle - hip)
        if along is not None:
            apex = (knee - hip) - ((knee - hip) @ along) * along
            level += apex - (apex @ up) * up
            length += float(np.linalg.norm(ankle - hip))
    return _unit(level) if np.linalg.norm(level) > KNEE_POINTS * length else None


def _name_pair(ledger: Ledger, pair: Sequence[Limb], left: FloatArray | None) -> None:
    """Names the joints that bend a pair of limbs, left and right by name or place."""
    tree = ledger.tree
    middle = np.mean([tree.at[limb.joints[0]] for limb in pair], axis=0) if len(pair) == 2 else None
    for limb in pair:
        side = limb.side
        if middle is not None and left is not None and {p.side for p in pair} != set(SIDES):
            side = "left" if (tree.at[limb.joints[0]] - middle) @ left > 0 else "right"
        if side is None:
            continue
        exact = len(limb.path) == limb.middle[2] + 1 or limb.middle == (0, 1, 2)
        how = "hierarchy" if exact or limb.middle == (1, 2, 3) else "place"
        ledger.give_all(limb.joints, [f"{side}_{part}" for part in limb.kind.parts], how)


def _given_side(ledger: Ledger, limb: Limb) -> str | None:
    name = ledger.names.get(limb.joints[1])
    return name.split("_")[0] if name else None


def _name_rest(ledger: Ledger, limb: Limb, side: str) -> None:
    """Clavicle and fingers, or ball and toes, of a limb whose side is known."""
    tree = ledger.tree
    if limb.kind.name == "arm":
        before = limb.path[: limb.middle[0]]
        said = [j for j in before if tree.readings[j].says("clavicle")]
        silent = [j for j in before if not tree.readings[j].sure]
        if said or silent:
            ledger.give((said or silent)[0], f"{side}_clavicle", "hierarchy")
        name_fingers(ledger, limb.joints[2], side)
        return
    ankle, shank = limb.joints[2], tree.length(limb.joints[1], limb.joints[2])
    foot = _foot(tree, list(limb.path[limb.middle[2] :]))
    plain = [j for j in foot if not tree.readings[j].says("other")]
    balls = [j for j in plain if tree.readings[j].says("ball")]
    tip = plain[-1] if plain and _is_toe_tip(ledger, plain, balls, ankle, shank) else None
    rest = [j for j in plain if j != tip]
    ball = next((j for j in balls if j != tip), None)
    if ball is None and rest:
        ball = min(rest, key=lambda j: abs(tree.length(ankle, j) - BALL_AT * shank))
    if ball is not None:
        ledger.give(ball, f"{side}_ball", "hierarchy" if len(plain) == 2 else "place")
    if tip is not None:
        ledger.give(tip, f"{side}_toe_tip", "hierarchy" if len(plain) == 2 else "place")


def _foot(tree: JointTree, path: list[int]) -> list[int]:
    """The joints below the ankle, which `path` begins with; of several toes the foremost."""
    for place, joint in enumerate(path):
        toes = [tree.main_path(child) for child in tree.children[joint]]
        toes = [toe for toe in toes if not tree.readings[toe[0]].says("other")]
        if len(toes) >= TOES:
            foremost = max(toes, key=lambda toe: tree.length(path[0], toe[-1]))
            return path[1 : place + 1] + foremost
    return path[1:]


def _is_toe_tip(
    ledger: Ledger, foot: Sequence[int], balls: Sequence[int], ankle: int, shank: float
) -> bool:
    """Whether the last joint of a foot is the tip of the toes and not their ball.

    A foot of one joint ends in the ball if no other chain has a tip.
    """
    tree, last = ledger.tree, foot[-1]
    if tree.tips[last]:
        return True
    if len(foot) == 1:
        tips = any(is_tip(name) for name in ledger.names.values())
        return tips and not balls and tree.length(ankle, last) > BALL * shank
    return last not in balls or balls[0] != last


def _name_by_words_alone(ledger: Ledger) -> None:
    """Names joints of limbs that nothing but their own names shows, such as a leg of two joints."""
    tree = ledger.tree
    for side in SIDES:
        for chain in (("hip", "knee", "ankle"), ("clavicle", "shoulder", "elbow", "wrist")):
            above: int | None = None
            for part in chain:
                given = ledger.joint_of(f"{side}_{part}")
                said = [
                    joint
                    for joint, reading in enumerate(tree.readings)
                    if reading.parts == (part,)
                    and reading.side == side
                    and joint not in ledger.names
                    and (above is None or tree.under(above, joint))
                ]
                if given is None and len(said) == 1 and (above is not None or part != "knee"):
                    ledger.give(said[0], f"{side}_{part}", "name")
                    given = said[0]
                above = given if given is not None else above


def _lone_hand(ledger: Ledger, side: str | None, notes: list[str]) -> None:
    """Names a hand that stands alone, which its names or its many fingers show."""
    tree = ledger.tree
    wrists = [j for j, r in enumerate(tree.readings) if r.says("wrist")]
    wrists = [j for j in wrists if finger_count(tree, j) >= 2]
    wrists = wrists or [j for j in range(len(tree.names)) if finger_count(tree, j) >= 4][:1]
    for wrist in wrists:
        said = tree.readings[wrist].side or side
        told = said or side_of_hand(tree, wrist)
        if told is None:
            notes.append(
                "Whether the hand is a left or a right one could not be told; left is taken."
            )
        elif said is None:
            notes.append(f"By the thumb and the bend of the fingers the hand is a {told} one.")
        ledger.give(wrist, f"{told or 'left'}_wrist", "hierarchy")
        name_fingers(ledger, wrist, told or "left")


def _name_twists(ledger: Ledger) -> None:
    """Names helpers on the bones of arms and legs: named so, or lying on the bone."""
    tree = ledger.tree
    for side in SIDES:
        for start, end in (
            ("hip", "knee"),
            ("knee", "ankle"),
            ("shoulder", "elbow"),
            ("elbow", "wrist"),
        ):
            top, bottom = ledger.joint_of(f"{side}_{start}"), ledger.joint_of(f"{side}_{end}")
            if top is None or bottom is None:
                continue
            bone = tree.at[bottom] - tree.at[top]
            length = float(np.linalg.norm(bone))
            if length == 0:
                continue
            found = []
            inline = tree.down(top, bottom)[1:-1]
            loose = [c for j in (top, *inline) for c in tree.children[j] if not tree.children[c]]
            for joint in {*inline, *loose}:
                along = float((tree.at[joint] - tree.at[top]) @ bone) / length
                beside = float(
                    np.linalg.norm(tree.at[joint] - tree.at[top] - along * bone / length)
                )
                near = beside < ON_THE_BONE * length and -0.01 * length <= along <= 1.01 * length
                reading = tree.readings[joint]
                if joint not in ledger.names and near and reading.parts in ((), ("twist",)):
                    found.append((along, joint))
            for number, (_, joint) in enumerate(sorted(found), start=1):
                ledger.give(joint, f"{side}_{start}_twist_{number}", "place")


def _directions_of_ours(ledger: Ledger) -> tuple[FloatArray | None, FloatArray | None]:
    """Up and forward of a skeleton under our names, from hips, head and sides."""
    tree = ledger.tree
    places = {name: tree.at[joint] for joint, name in ledger.names.items()}
    low, high = places.get("pelvis"), places.get("head", places.get("neck"))
    up = _unit(high - low) if low is not None and high is not None else None
    across = np.zeros(3)
    for part in ("hip", "shoulder"):
        if f"left_{part}" in places and f"right_{part}" in places:
            across = across + places[f"left_{part}"] - places[f"right_{part}"]
    if up is None:
        return None, None
    left = _unit(across - (across @ up) * up)
    return up, None if left is None else _unit(np.cross(left, up))
