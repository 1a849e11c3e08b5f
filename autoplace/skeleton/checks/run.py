"""Runs all checks on a skeleton and gives their findings in one order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.checks.axes import (
    check_aims,
    check_oriented,
    check_rest,
    check_rotations,
    check_tips,
)
from autoplace.skeleton.checks.bends import (
    check_bend_axes_agree,
    check_bend_signs,
    check_finger_bends,
    check_knees_and_elbows,
)
from autoplace.skeleton.checks.eyes import check_eye_centres, check_eye_directions
from autoplace.skeleton.checks.figure import Eyeball, Figure, prepare
from autoplace.skeleton.checks.fingers import check_finger_distances, check_fingers_in_order
from autoplace.skeleton.checks.inside import check_floor, check_inside
from autoplace.skeleton.checks.mirrored import (
    check_middle,
    check_mirrored_axes,
    check_mirrored_places,
)
from autoplace.skeleton.checks.proportions import check_proportions
from autoplace.skeleton.checks.sides import check_facing, check_sides, faces_otherwise
from autoplace.skeleton.checks.tree import (
    FATAL,
    check_bone_lengths,
    check_parentage,
    check_tree,
    parents_first,
)
from autoplace.skeleton.convention import Convention, recorded
from autoplace.skeleton.model import Finding, Skeleton
from autoplace.skeleton.names import family, finger_of, stem
from autoplace.skeleton.orient import Direction

__all__ = ["CHECKS", "Check", "Survey", "check", "survey"]

FloatArray = NDArray[np.float64]

LEVELS = ("error", "warning", "note")


@dataclass(frozen=True)
class Check:
    """One check, with the findings it may give and what it cannot do without."""

    run: Callable[[Figure], list[Finding]]
    findings: tuple[str, ...]
    """Names under which it reports."""
    needs: tuple[str, ...] = ()
    """Keys of `NEEDS`."""


def _has(*stems: str) -> Callable[[Figure], bool]:
    return lambda figure: any(stem(name) in stems for name in figure.index)


NEEDS: dict[str, tuple[str, Callable[[Figure], bool]]] = {
    "mesh": ("no mesh with a body was given", lambda f: f.depth_at is not None),
    "floor": ("no mesh with a body was given", lambda f: f.floor is not None),
    "eyeballs": ("no mesh was given", lambda f: f.eyeballs is not None),
    "balls": ("no eyeball is in the mesh", lambda f: f.eyeballs is None or bool(f.eyeballs)),
    "convention": (
        "no convention is recorded, and the axes follow none",
        lambda f: f.convention is not None,
    ),
    "bends": (
        "no one local axis bends most joints",
        lambda f: f.guessed is None or f.guessed.bends,
    ),
    "pairs": ("no joint has a counterpart", lambda f: bool(f.pairs())),
    "limbs": ("there are no knees and elbows", _has("knee", "elbow")),
    "bones": (
        "there are neither limbs nor fingers",
        lambda f: any(family(name) in ("arm", "leg", "finger") for name in f.index),
    ),
    "feet": ("there are no balls of the foot and toes", _has("ball", "toe_tip")),
    "fingers": ("there are no fingers", lambda f: any(finger_of(n) for n in f.index)),
    "eyes": ("there are no eye joints", lambda f: any(family(n) == "eye" for n in f.index)),
    "facing": (
        "the character stands or faces otherwise than is said",
        lambda f: not faces_otherwise(f),
    ),
}
"""What a check may need: what to say without it, and whether a figure has it."""

TREE = (
    *("tree", "one_root", "unique_names", "parent_exists", "no_cycles", "parents_first"),
    *("finite_position", "aim_target"),
)
"""What is found in the hierarchy alone, by `check_tree`."""

CHECKS: tuple[Check, ...] = (
    Check(check_rest, ("rest_rotation", "rest_scale")),
    Check(check_parentage, ("paired_sides", "parentage")),
    Check(check_bone_lengths, ("bone_length",)),
    Check(check_facing, ("facing",)),
    Check(check_sides, ("sides_swapped", "sides_crossed"), ("facing", "pairs")),
    Check(check_mirrored_places, ("mirrored_places", "mirrored_exactly"), ("pairs",)),
    Check(check_middle, ("on_middle",)),
    Check(check_inside, ("inside_body",), ("mesh",)),
    Check(check_floor, ("on_floor",), ("floor", "feet")),
    Check(check_eye_centres, ("eye_centre",), ("eyes", "eyeballs", "balls")),
    Check(check_eye_directions, ("eye_direction",), ("eyes", "facing")),
    Check(
        check_knees_and_elbows,
        ("bend_present", "bend_direction", "bend_range"),
        ("limbs", "facing"),
    ),
    Check(check_finger_bends, ("finger_bend",), ("fingers", "facing")),
    Check(check_fingers_in_order, ("finger_order",), ("fingers", "facing")),
    Check(check_finger_distances, ("fingers_cross", "fingers_apart"), ("fingers",)),
    Check(check_rotations, ("axes_orthonormal", "axes_right_handed")),
    Check(check_oriented, ("oriented",)),
    Check(check_aims, ("aim",), ("convention",)),
    Check(check_tips, ("tip_aligned",)),
    Check(check_mirrored_axes, ("mirrored_axes",), ("convention", "pairs")),
    Check(check_bend_axes_agree, ("bend_axes_agree",), ("convention", "bends")),
    Check(check_bend_signs, ("bend_sign",), ("convention", "bends", "facing")),
    Check(check_proportions, ("proportions",), ("bones",)),
)
"""In the order they run; each takes the measured figure and knows nothing of the others."""


@dataclass(frozen=True)
class Survey:
    """What all checks said of a skeleton."""

    findings: tuple[Finding, ...]
    """Errors first, then warnings, then notes."""
    ran: tuple[str, ...]
    """Names of the findings that were looked for."""
    not_run: Mapping[str, str] = field(default_factory=dict)
    """Names of those that were not -> why."""

    def after(self, earlier: tuple[Finding, ...]) -> tuple[Finding, ...]:
        """These findings, and before them those of earlier that were not looked for this time."""
        return tuple(f for f in earlier if f.check not in self.ran) + self.findings


def survey(
    skeleton: Skeleton,
    *,
    depth_at: Callable[[FloatArray], FloatArray] | None = None,
    symmetry_residual: float | None = None,
    whole_residual: float | None = None,
    floor: float | None = None,
    middle: float | None = None,
    eyeballs: Mapping[str, Eyeball] | None = None,
    turned: Mapping[str, float] | None = None,
    scaled: Mapping[str, tuple[float, float, float]] | None = None,
    convention: Convention | None = None,
    up: Direction = None,
    forward: Direction = None,
    first: tuple[Finding, ...] = (),
) -> Survey:
    """What a supervisor would say about a skeleton, and what could not be looked at.

    Args:
        skeleton: Any skeleton; one with a tree that nothing can be done with is only told that.
        depth_at: Takes points (n, 3) in the skeleton's frame and gives how deep (n,) they lie under
            the surface, positive inside, as fractions of the height. Without it places inside the
            body are not checked.
        symmetry_residual: How far the mesh is from its mirror image, as a fraction of the height;
            None when unknown, and then differences between the sides are notes.
        whole_residual: The same for nearly all of the mesh, limbs included: where it is small, too,
            no side can be posed otherwise than the other.
        floor: Where the floor is, measured along up in the skeleton's frame and units; None skips
            the check of the feet.
        middle: Where the mesh's symmetry plane is, measured along the character's left in the
            skeleton's frame and units; None takes that of the joints.
        eyeballs: The eyeballs of the mesh by the names of their joints; None without a mesh.
        turned: Joint -> degrees that it is turned by on top of its rest.
        scaled: Joint -> scales along its X, Y and Z.
        convention: What the axes mean; None takes what the skeleton says of itself, else what most
            of its axes show.
        up: As for `orient`.
        forward: As for `orient`.
        first: What was found elsewhere already, to be told with the rest.

    Raises:
        SkeletonError: up and forward lie along one line.
    """
    found = [*first, *check_tree(skeleton)]
    ran, not_run = list(TREE), dict[str, str]()
    if any(f.check in FATAL for f in found):
        why = "the hierarchy is broken"
        not_run = {name: why for check in CHECKS for name in check.findings}
    else:
        figure = prepare(
            _without_false_aims(parents_first(skeleton)),
            convention=convention or recorded(skeleton.settings),
            up=up,
            forward=forward,
            depth_at=depth_at,
            symmetry_residual=symmetry_residual,
            whole_residual=whole_residual,
            floor=floor,
            mesh_middle=middle,
            eyeballs=eyeballs,
            turned=turned,
            scaled=scaled,
        )
        for one in CHECKS:
            missing = [why for why, there in map(NEEDS.__getitem__, one.needs) if not there(figure)]
            if missing:
                not_run |= dict.fromkeys(one.findings, missing[0])
            else:
                ran += one.findings
                found += one.run(figure)
    ordered = tuple(sorted(found, key=lambda f: LEVELS.index(f.level)))
    return Survey(ordered, tuple(ran), not_run)


def check(
    skeleton: Skeleton,
    *,
    depth_at: Callable[[FloatArray], FloatArray] | None = None,
    symmetry_residual: float | None = None,
    floor: float | None = None,
    convention: Convention | None = None,
    up: Direction = None,
    forward: Direction = None,
) -> tuple[Finding, ...]:
    """What a supervisor would say about a skeleton: errors first, then warnings, then notes.

    The arguments are those of `survey`, which also says what could not be checked.

    Raises:
        SkeletonError: up and forward lie along one line.
    """
    return survey(
        skeleton,
        depth_at=depth_at,
        symmetry_residual=symmetry_residual,
        floor=floor,
        convention=convention,
        up=up,
        forward=forward,
    ).findings


def _without_false_aims(skeleton: Skeleton) -> Skeleton:
    """The skeleton without aims at what is not a joint's child; these have been told."""
    parent = {joint.name: joint.parent for joint in skeleton}
    return skeleton.with_joints(
        tuple(
            replace(joint, aim=None)
            if joint.aim is not None and parent.get(joint.aim) != joint.name
            else joint
            for joint in skeleton
        )
    )
