"""Fit the finger chains of an existing skeleton to the hands in its mesh; touch nothing else."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SettingsError, SkeletonError
from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.frame_record import Frame
from autoplace.measure.hand_shape import (
    HAND_GUESSES,
    HAND_TO_FOREARM,
    HandAtWrist,
    HandShape,
)
from autoplace.measure.not_found import NotFound
from autoplace.measure.point_depth import depth_of_points
from autoplace.mesh.triangles import surface_of, without_doubles
from autoplace.place.assembly import Hands, hand_points, in_input
from autoplace.place.both_hands import agreeing_hands
from autoplace.place.evidence import Placed
from autoplace.place.hands import HandPlacement, hands_mirrored, place_hand
from autoplace.place.metacarpals import with_metacarpals
from autoplace.place.mirror import FLIP, mirror_limbs
from autoplace.refit.chains import Fitted, hand_findings, with_chains
from autoplace.refit.recorded import OTHER_SIZE, RefitResult, recorded_frame, roles_in, settings_for
from autoplace.reports.place import hand_report
from autoplace.result import Settings
from autoplace.settings import checked
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import LONG_FINGERS, SIDES, finger_of, metacarpal_of, side_of

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles

__all__ = ["refit_hands"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEP, MOST_STEPS = 1.15, 4
"""Ratio of the steps in which the hand that was there before corrects the guess, and how many of
them are believed: joints that were moved about tell nothing."""
TRUSTED_GUESS = 1.25
"""A hand found longer or shorter than guessed by more than this factor is measured again."""
OUTSIDE = 0.03
"""A wrist this far outside of the mesh is none of it, fraction of height: twice what is under the
skin of a wrist (common practice, no source)."""
SAME_WRISTS = 1e-6
"""Wrists this near to mirror images were made so, fraction of height."""


def refit_hands(
    character: Character,
    skeleton: Skeleton,
    settings: Settings | None = None,
    *,
    sides: Sequence[str] = SIDES,
    progress: Callable[[str], None] | None = None,
) -> RefitResult:
    """Fit the finger joints of a skeleton to the hands measured in its mesh.

    Wrists and elbows are believed where they stand. Finger joints get positions, axes, spread and
    evidence anew; a finger that is missing is added under the wrist. A locked joint keeps its
    place, and a finger that is not found keeps all joints; findings and report say so. Every joint
    of no finger is the same record as before. Axes follow the convention the skeleton was oriented
    by.

    Args:
        character: the mesh, in the skeleton's frame and units; it may have changed since.
        skeleton: has at least one wrist; where it stands (`source`) is believed.
        settings: parts to leave out, roles that are told, names of fingers and metacarpals count;
            None takes those that the skeleton records.
        sides: 'left', 'right' or both.
        progress: called with each stage's name as it begins.

    Raises:
        SkeletonError: there is no wrist, or none that lies in the mesh; or the tree is broken.
        AutoplaceError: a setting is impossible.
    """
    begin = time.perf_counter()
    marks: dict[str, float] = {}
    stage = progress or (lambda name: None)
    _check_sides(sides, skeleton)
    stage("parts")
    settings = settings_for(character, skeleton) if settings is None else checked(settings)
    frame = recorded_frame(character, skeleton)
    roles, vertices, faces, pieces = _body(character, frame, settings)
    wrong = _wrists_outside(character, skeleton, sides, frame, (vertices, faces))
    marks["parts"] = time.perf_counter()
    stage("hands")
    palms = settings.metacarpals or any(metacarpal_of(name) for name in skeleton.names)
    wanted = [side for side in SIDES if side in sides and f"{side}_wrist" in skeleton]
    surfaces = dict.fromkeys(wanted, (vertices, faces))
    if "pelvis" in skeleton:
        surfaces |= _resting_arms(vertices, faces, pieces)

    def read(side: str, length: float | None, count: int | None) -> HandShape | NotFound:
        if side not in wanted or side in wrong:
            return NotFound(f"{side} hand", wrong.get(side, "it is not asked for"))
        names = settings.fingers_on(side)
        return _measured(skeleton, side, frame, surfaces[side], names, length, count)

    named = {side: settings.fingers_on(side) is not None for side in SIDES}
    shapes = agreeing_hands(read, named)
    hands = {side: _placed(skeleton, side, frame, shapes[side], palms) for side in wanted}
    marks["hands"] = time.perf_counter()
    stage("orientation")
    fitted = _fitted(hands, skeleton, frame)
    result = with_chains(skeleton, fitted)
    marks["orientation"] = time.perf_counter()
    stage("checks")
    findings = hand_findings(
        skeleton,
        result,
        fitted,
        lambda p: depth_of_points(vertices, faces, frame.to_working(p)),
    )
    final = replace(
        result.skeleton, findings=findings.all, settings=_recorded(skeleton, settings, character)
    )
    marks["checks"] = time.perf_counter()
    report: dict[str, Any] = {
        "hands": {side: hand_report(hand) for side, hand in hands.items()},
        "changed": list(result.changed),
        "kept": dict(result.kept),
        "frame": {"up": frame.up, "forward": frame.forward, "height": frame.height},
        "notes": list(_notes(skeleton, character)),
        "findings": [vars(finding) for finding in findings.new],
    }
    seconds: dict[str, float] = {}
    before = begin
    for name, at in marks.items():
        seconds[name], before = at - before, at
    return RefitResult(final, report, seconds, result.changed, frame, roles)


def _check_sides(sides: Sequence[str], skeleton: Skeleton) -> None:
    for side in sides:
        if side not in SIDES:
            raise SettingsError(f"{side!r} is no side of the character; give left or right.")
    if not any(f"{side}_wrist" in skeleton for side in sides):
        wanted = " or ".join(f"'{side}_wrist'" for side in sides)
        raise SkeletonError(
            f"The skeleton has no joint {wanted} to hang fingers from; name the wrist's joint so, "
            "or place a skeleton anew."
        )


def _body(
    character: Character, frame: Frame, settings: Settings
) -> tuple[Roles, FloatArray, IntArray, list[FloatArray]]:
    """Roles of all pieces, and the body's surface and its pieces in the working frame."""
    prepared, roles = roles_in(frame, character, settings)
    vertices, faces = roles.surface(prepared.character, ("body",))
    if not len(faces):
        raise SkeletonError(
            "No part of the mesh was taken for the body where the skeleton stands; name it with "
            "--role PART=body, or place a skeleton anew."
        )
    measured = prepared.character
    working = [frame.to_working(part.vertices) for part in measured.parts]
    pieces = roles.corners(measured, working, "body")
    vertices = frame.to_working(vertices)
    return prepared.original_roles(roles), vertices, without_doubles(vertices, faces), pieces


def _resting_arms(
    vertices: FloatArray, faces: IntArray, pieces: Sequence[FloatArray]
) -> dict[str, tuple[FloatArray, IntArray]]:
    """By side the surface of an arm that only its skin tells from what it rests on, as placing has
    it: vertices (n, 3), working frame, and triangles (m, 3)."""
    _, limbs = find_body_limbs(fill_body(vertices, faces), pieces)
    skins = {limb.side: limb.skin for limb in limbs.pair("arm")}
    return {side: surface_of(skin) for side, skin in skins.items() if side and skin is not None}


def _wrists_outside(
    character: Character,
    skeleton: Skeleton,
    sides: Sequence[str],
    frame: Frame,
    surface: tuple[FloatArray, IntArray],
) -> dict[str, str]:
    """Why a side's hand cannot be fitted; raises SkeletonError when that is so of all wrists."""
    names = [f"{side}_wrist" for side in sides if f"{side}_wrist" in skeleton]
    places = frame.to_working(np.array([skeleton[name].position for name in names]))
    depth = depth_of_points(*surface, places)
    used = surface[0][surface[1]].reshape(-1, 3)
    size = float(np.ptp(used[:, 1]))
    far = {name: -float(d) for name, d in zip(names, depth, strict=True) if d < -OUTSIDE}
    if size < 1 / OTHER_SIZE and len(far) == len(names):
        raise SkeletonError(
            f"The mesh is {size * frame.height:.4g} units tall and the skeleton's character "
            f"{frame.height:.4g}; bring both to the same units, or place a skeleton anew."
        )
    if len(far) == len(names):
        name = min(far, key=lambda n: far[n])
        raise SkeletonError(
            f"The skeleton does not stand in this mesh: '{name}' lies {100 * far[name]:.0f} % of "
            "the height outside of it; give the mesh it was made for, in the same pose and place, "
            "or place a skeleton anew."
        )
    return {name.split("_")[0]: "its wrist lies outside of the mesh" for name in far}


def _measured(
    skeleton: Skeleton,
    side: str,
    frame: Frame,
    surface: tuple[FloatArray, IntArray],
    names: Sequence[str] | None,
    length: float | None,
    count: int | None,
) -> HandShape | NotFound:
    """The hand at a wrist, of the given length, or of the one that shows a hand."""
    wrist = frame.to_working(skeleton[f"{side}_wrist"].position)
    forearm = _forearm(skeleton, side, frame, wrist)
    if isinstance(forearm, NotFound):
        return forearm

    def measured(guess: float) -> HandShape | NotFound:
        return HandAtWrist(*surface, wrist, forearm, guess, side, names).measure(count)

    if length is not None:
        return measured(length)
    expected = HAND_TO_FOREARM * float(np.linalg.norm(forearm))
    for factor in (_factor_before(skeleton, side, expected * frame.height), *HAND_GUESSES):
        shape = measured(factor * expected)
        if isinstance(shape, NotFound):
            if names is not None and shape.count > len(names):
                break  # fingers that are seen once do not go away for another length of the hand
            continue
        ratio = shape.length / (factor * expected)
        if max(ratio, 1 / ratio) > TRUSTED_GUESS:
            again = measured(shape.length)
            shape = shape if isinstance(again, NotFound) else again
        return shape
    return shape


def _placed(
    skeleton: Skeleton, side: str, frame: Frame, shape: HandShape | NotFound, palms: bool
) -> HandPlacement | NotFound:
    if isinstance(shape, NotFound):
        return shape
    wrist = frame.to_working(skeleton[f"{side}_wrist"].position)
    hand = place_hand(shape, wrist, side)
    return with_metacarpals(hand, shape, wrist) if palms else hand


def _factor_before(skeleton: Skeleton, side: str, expected: float) -> float:
    """How many times as long as expected the hand was whose joints are there already.

    In coarse steps, so that fitting a second time measures the same and finds the same.
    """
    reach = []
    for finger in LONG_FINGERS:
        names = [f"{side}_wrist", *(f"{side}_{finger}_{end}" for end in ("1", "2", "3", "tip"))]
        if all(name in skeleton for name in names):
            places = [skeleton[name].position for name in names]
            reach.append(sum(float(np.linalg.norm(b - a)) for a, b in pairwise(places)))
    if not reach:
        return 1.0
    steps = np.log(max(float(np.median(reach)) / expected, 1e-3)) / np.log(STEP)
    return float(STEP ** np.clip(np.round(steps), -MOST_STEPS, MOST_STEPS))


def _forearm(
    skeleton: Skeleton, side: str, frame: Frame, wrist: FloatArray
) -> FloatArray | NotFound:
    """(3,) from the elbow to the wrist, or as long a way along the hand that was there before."""
    joint = skeleton[f"{side}_wrist"]
    above = f"{side}_elbow" if f"{side}_elbow" in skeleton else joint.parent
    if above is not None:
        way = wrist - frame.to_working(skeleton[above].position)
        if np.linalg.norm(way) > 0.01:
            return way
    before = [
        frame.to_working(j.position)
        for j in skeleton
        if side_of(j.name) == side and finger_of(j.name)
    ]
    ways = np.array(before).reshape(-1, 3) - wrist
    if not len(ways) or np.linalg.norm(ways.mean(axis=0)) < 1e-6:
        return NotFound(f"{side} hand", "there is no elbow, so the hand's direction is not known")
    reach = float(np.linalg.norm(ways, axis=1).max())
    along = ways.mean(axis=0)
    return np.asarray(along / np.linalg.norm(along) * reach / HAND_TO_FOREARM)


def _fitted(hands: Hands, skeleton: Skeleton, frame: Frame) -> dict[str, Fitted]:
    """By side what was found, in the input frame; exact mirror images where the hands are."""
    joints: dict[str, Placed] = {}
    stems: dict[str, bool] = {}
    alike = _alike(hands, skeleton, frame)
    for side, hand in hands.items():
        if isinstance(hand, HandPlacement):
            for stem, point in hand_points(hand).items():
                joints[f"{side}_{stem}"] = point
                stems[stem] = alike
    joints = mirror_limbs(joints, stems)
    found: dict[str, Fitted] = {}
    for side, hand in hands.items():
        own = {name: point for name, point in joints.items() if side_of(name) == side}
        found[side] = Fitted(
            points={name: in_input(point, frame) for name, point in own.items()},
            fingers=tuple(hand.chains) if isinstance(hand, HandPlacement) else (),
            missing=hand.why if isinstance(hand, NotFound) else "",
        )
    return found


def _alike(hands: Hands, skeleton: Skeleton, frame: Frame) -> bool:
    """Whether both hands are mirror images, wrists and fingers."""
    both = [hand for hand in hands.values() if isinstance(hand, HandPlacement)]
    if len(both) < 2:
        return False
    left, right = (frame.to_working(skeleton[f"{side}_wrist"].position) for side in SIDES)
    return bool(np.linalg.norm(left - right * FLIP) < SAME_WRISTS) and hands_mirrored(*both)


def _recorded(skeleton: Skeleton, settings: Settings, character: Character) -> dict[str, Any]:
    """The skeleton's settings with those of its hands, and the mesh the hands were fitted to where
    that is another one than the rest was placed in."""
    own = settings.as_dict()
    record: dict[str, Any] = dict(skeleton.settings)
    record |= {key: own[key] for key in ("fingers", "metacarpals") if key in own}
    record.pop("hands", None)
    if _other_mesh(skeleton, character):
        name = character.path.name if character.path else character.name
        record["hands"] = {"mesh": name, "sha256": character.sha256}
    return record


def _other_mesh(skeleton: Skeleton, character: Character) -> bool:
    return None not in (character.sha256, skeleton.source.sha256) and (
        character.sha256 != skeleton.source.sha256
    )


def _notes(skeleton: Skeleton, character: Character) -> tuple[str, ...]:
    if not _other_mesh(skeleton, character):
        return ()
    return (
        f"The mesh has changed since the skeleton was placed (in '{skeleton.source.mesh}'): the "
        "fingers were fitted to it as it is now, all other joints stand where they stood.",
    )
