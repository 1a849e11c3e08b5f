"""A skeleton of wrists and fingers for a mesh that is a hand alone, or both hands."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import NotACharacter, SettingsError
from autoplace.measure.frame_record import Frame
from autoplace.measure.hand_shape import HandShape
from autoplace.measure.lone_hand import (
    as_side,
    find_lone_hand,
    hand_solid,
    has_thumb,
    lone_pieces,
    side_shown,
)
from autoplace.measure.not_found import NotFound
from autoplace.measure.point_depth import depth_of_points
from autoplace.mesh.parts import matching_parts
from autoplace.mesh.pieces import Piece, Roles
from autoplace.mesh.prepare import prepare
from autoplace.mesh.triangles import without_doubles
from autoplace.place.assembly import hand_points, in_input
from autoplace.place.evidence import Placed
from autoplace.place.hands import HandPlacement, place_hand
from autoplace.place.metacarpals import with_metacarpals
from autoplace.refit.chains import Fitted, with_chains
from autoplace.refit.recorded import RefitResult
from autoplace.reports.place import hand_report
from autoplace.result import Settings
from autoplace.settings import checked
from autoplace.skeleton.checks import check
from autoplace.skeleton.hand import HAND_SHARE
from autoplace.skeleton.model import Evidence, Finding, Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.names import SIDES
from autoplace.skeleton.orient import orient

if TYPE_CHECKING:
    from autoplace.mesh.character import Character

__all__ = ["HAND_SHARE", "place_lone_hands"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CLEAR_SIDE = 0.5
"""Chances of the side a hand is taken for, less those of the other, below which it is told as a
guess: three to one (common practice, no source)."""


@dataclass(frozen=True)
class _Found:
    """One hand with the side it is taken for."""

    side: str
    shape: HandShape
    sure: float
    """How clearly it shows that side; below zero it rather shows the other."""


def place_lone_hands(
    character: Character,
    settings: Settings | None = None,
    *,
    side: str | None = None,
    progress: Callable[[str], None] | None = None,
) -> RefitResult:
    """Place wrist and finger joints in a mesh that is a hand, with or without some forearm.

    Both hands may be in one mesh, if they do not touch. The wrist is the root; the hand may point
    anywhere, and where up is does not matter. The height that the skeleton records is that of a
    person with such hands.

    Args:
        character: the mesh, any frame and units.
        settings: parts to leave out, names of fingers and metacarpals count.
        side: 'left' or 'right'; None tells it from the thumb and from how the fingers are bent, and
            refuses what has no thumb that stands out, such as a whole figure.
        progress: called with each stage's name as it begins.

    Raises:
        NotACharacter: there is no hand with fingers in the mesh, or more than two.
        AutoplaceError: a setting is impossible.
    """
    settings = checked(settings or Settings())
    if side is not None and side not in SIDES:
        raise SettingsError(f"{side!r} is no side; give left or right.")
    stage = progress or (lambda name: None)
    marks = [time.perf_counter()]
    stage("mesh")
    vertices, faces, roles = _surface(character, settings)
    corners = vertices[faces].reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    # a first scale, so that a hand is about as large as on a figure
    scale = float((high - low).max()) / HAND_SHARE
    frame = Frame(np.eye(3), 0.5 * (low + high), scale, "+Y", "+Z", 0.0)
    working = frame.to_working(vertices)
    marks.append(time.perf_counter())
    stage("hands")
    found = _hands(working, faces, settings, side)
    hands = {
        one.side: _placed(one, settings)
        for one in sorted(found, key=lambda one: SIDES.index(one.side))
    }
    marks.append(time.perf_counter())
    stage("orientation")
    length = float(np.mean([hand.length for hand in hands.values()])) * scale
    skeleton = _skeleton(character, hands, frame, length, settings, roles)
    marks.append(time.perf_counter())
    stage("checks")
    final = replace(frame, height=skeleton.source.height)
    depth = depth_of_points

    def depth_at(points: FloatArray) -> FloatArray:
        return depth(working, faces, frame.to_working(points)) * scale / final.height

    findings = (*_about_sides(found, side), *check(skeleton, depth_at=depth_at))
    skeleton = replace(skeleton, findings=findings)
    marks.append(time.perf_counter())
    names = ("mesh", "hands", "orientation", "checks")
    report: dict[str, Any] = {
        "hands": {
            which: {**hand_report(hand), "length": hand.length * scale}
            for which, hand in hands.items()
        },
        "changed": list(skeleton.names),
        "kept": {},
        "frame": {"up": final.up, "forward": final.forward, "height": final.height},
        "notes": [],
        "findings": [vars(finding) for finding in findings],
    }
    seconds = {n: b - a for n, a, b in zip(names, marks, marks[1:], strict=False)}
    return RefitResult(skeleton, report, seconds, skeleton.names, final, roles)


def _surface(character: Character, settings: Settings) -> tuple[FloatArray, IntArray, Roles]:
    """Vertices and faces to measure, facing outward, and the roles of all parts."""
    gone = {i for name in settings.leave_out for i in matching_parts(character, name)}
    pieces = tuple(
        Piece(
            part.name,
            index,
            np.arange(len(part.faces)),
            "left_out" if index in gone else "body",
            None,
            "left out by the user" if index in gone else "all there is is taken for the hand",
            1.0,
        )
        for index, part in enumerate(character.parts)
        if len(part.faces)
    )
    kept = replace(
        character, parts=tuple(p for i, p in enumerate(character.parts) if i not in gone)
    )
    if not kept.parts or not kept.face_count:
        raise NotACharacter("Every part is left out, so there is no hand to measure.")
    measured = prepare(kept).character
    return (
        measured.vertices,
        without_doubles(measured.vertices, measured.faces),
        Roles(pieces),
    )


def _hands(
    vertices: FloatArray, faces: IntArray, settings: Settings, side: str | None
) -> list[_Found]:
    """The one hand or two of a mesh, working frame."""
    pieces = lone_pieces(vertices, faces, hand_solid(vertices, faces))
    if len(pieces) > 2:
        raise NotACharacter(
            f"hands: {len(pieces)} pieces of about one size lie in this file; leave out all but "
            "one or two hands with --leave-out."
        )
    if len(pieces) == 2 and side is not None:
        raise SettingsError(
            "Both hands lie in this file, so one side cannot be given for them; leave --side out, "
            "or leave out the part of one hand with --leave-out."
        )
    found = [_one_hand(vertices, piece, settings, side) for piece in pieces]
    if len(found) == 2 and found[0].side == found[1].side:
        # two hands are a pair: the clearer one says which
        doubtful = int(found[1].sure < found[0].sure)
        piece, one = pieces[doubtful], found[doubtful]
        other = "right" if one.side == "left" else "left"
        found[doubtful] = _as(one, vertices, piece, other, settings)
    return found


def _one_hand(
    vertices: FloatArray, faces: IntArray, settings: Settings, side: str | None
) -> _Found:
    # names that were given count only once the side is known
    shape = find_lone_hand(vertices, faces, side)
    alone = not isinstance(shape, NotFound) and shape.finger_count < 2 and side is None
    if isinstance(shape, NotFound) or alone:
        why = shape.why if isinstance(shape, NotFound) else "nothing stands out from the rest"
        raise NotACharacter(
            f"hands: no hand with fingers can be found in this mesh ({why}); for a whole "
            "figure use autoplace place, or name its skeleton with --skeleton."
        )
    if side is None and not has_thumb(shape):
        raise NotACharacter(
            f"hands: no thumb can be told among the {shape.finger_count} limbs found, so this is "
            "not taken for a hand; if it is one, say which with --side; for a whole figure use "
            "autoplace place, or name its skeleton with --skeleton."
        )
    one = _Found(shape.side, shape, side_shown(shape))
    if side is None and one.sure < 0:
        other = "right" if shape.side == "left" else "left"
        return _as(one, vertices, faces, other, settings)
    return _as(one, vertices, faces, one.side, settings) if settings.fingers else one


def _as(
    one: _Found, vertices: FloatArray, faces: IntArray, side: str, settings: Settings
) -> _Found:
    """The hand as one of the given side, with the names given for that side."""
    shape = as_side(one.shape, vertices, faces, side, settings.fingers_on(side))
    if isinstance(shape, NotFound):
        raise NotACharacter(f"hands: the {side} hand cannot be measured, since {shape.why}.")
    return _Found(side, shape, side_shown(shape))


def _placed(one: _Found, settings: Settings) -> HandPlacement:
    hand = place_hand(one.shape)
    wrist = one.shape.wrist_hint.position
    return with_metacarpals(hand, one.shape, wrist) if settings.metacarpals else hand


def _skeleton(
    character: Character,
    hands: dict[str, HandPlacement],
    frame: Frame,
    length: float,
    settings: Settings,
    roles: Roles,
) -> Skeleton:
    """Wrists as roots, fingers below, oriented; in the input frame. `length` is the hand's."""
    wrists, fitted = [], {}
    for side, hand in hands.items():
        hint = hand.wrist_hint
        said = Evidence("hand_sections", hint.position, hint.spread, 1.0, hint.note)
        wrist = in_input(Placed(hint.position, hint.spread, (said,), 1.0), frame)
        wrists.append(
            Joint(
                f"{side}_wrist",
                None,
                wrist.position,
                spread=wrist.spread,
                evidence=wrist.evidence,
            )
        )
        points = {
            f"{side}_{stem}": in_input(point, frame) for stem, point in hand_points(hand).items()
        }
        fitted[side] = Fitted(points, tuple(hand.chains))
    source = Source(
        mesh=character.path.name if character.path else character.name,
        sha256=character.sha256,
        height=length / HAND_SHARE,
        part="hand" if len(hands) == 1 else "hands",
    )
    parts = tuple(PartSummary(*row) for row in roles.part_roles(character))
    bare = Skeleton(tuple(wrists), source, "", settings.as_dict(), parts)
    return orient(with_chains(bare, fitted).skeleton)


def _about_sides(found: list[_Found], side: str | None) -> tuple[Finding, ...]:
    """A finding for each hand whose side is a guess."""
    if side is not None:
        return ()
    return tuple(
        Finding(
            "hand_side",
            f"{one.side}_wrist",
            "warning",
            f"That this is a {one.side} hand is a guess: the fingers are too straight, and the "
            "thumb too much beside them, to tell palm from back.",
            "Look at the picture; if it is the other hand, say so with --side.",
        )
        for one in found
        if one.sure < CLEAR_SIDE
    )
