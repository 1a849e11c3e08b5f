"""The stages in order, from a mesh to an oriented, checked skeleton; only here are they joined.

frame -> parts -> body frame -> solid -> limbs -> placement -> hands, eyes -> mirror
      -> orientation -> checks
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import NotACharacter
from autoplace.files.convention_file import load_convention
from autoplace.measure.body_depth import depth_in_body
from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.frame import find_frame
from autoplace.measure.frame_record import Frame
from autoplace.measure.hand_contact import arm_and_rest
from autoplace.measure.hand_shape import HandAtWrist, HandShape
from autoplace.measure.hem import Hem, find_hem, limbs_below
from autoplace.measure.hem_step import measure_hem_step
from autoplace.measure.limb_record import Limbs
from autoplace.measure.mirror_plane import SNAP_DEGREES
from autoplace.measure.not_found import NotFound
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_shape import TrunkShape, measure_trunk
from autoplace.measure.upright_figure import (
    is_askew,
    must_be_a_figure,
    must_be_no_hand,
    must_be_one_body,
    must_have_a_trunk,
)
from autoplace.mesh.character import Character
from autoplace.mesh.parts import assign_roles, matching_parts
from autoplace.mesh.pieces import Roles
from autoplace.mesh.prepare import Prepared, prepare
from autoplace.mesh.triangles import surface_area, surface_of, without_doubles
from autoplace.place.arms import ArmPlacement
from autoplace.place.assembly import Hands, gather_joints, make_joints
from autoplace.place.body import SIDES, place_body
from autoplace.place.both_hands import agreeing_hands
from autoplace.place.evidence import Placed
from autoplace.place.eyes import EyePlace, EyesFound, eye_surfaces, place_eyes
from autoplace.place.face_eyes import eyes_from_face, face_eyes_finding
from autoplace.place.hands import HandPlacement, place_hand
from autoplace.place.hidden_legs import expect_crotch
from autoplace.place.leg_cover import covered_legs, hidden_legs_finding
from autoplace.place.metacarpals import with_metacarpals
from autoplace.place.missing import missing_findings
from autoplace.place.template import TemplateChoice, choose_template, load_template
from autoplace.place.tunic import hem_for_crotch, hem_odds
from autoplace.reports.place import make_report
from autoplace.result import PlaceResult, Settings
from autoplace.settings import checked
from autoplace.skeleton.checks import check
from autoplace.skeleton.convention import DEFAULT
from autoplace.skeleton.model import Finding, PartSummary, Skeleton, Source
from autoplace.skeleton.orient import orient

__all__ = ["place"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOSTLY_BODY = 0.7
"""Share of the surface that is body; below it, the plane of the whole is not trusted, since cloth
and props may have decided it (common practice, no source)."""


class _Clock:
    """Names the stages as they begin and keeps their seconds."""

    def __init__(self, progress: Callable[[str], None] | None) -> None:
        self.progress = progress
        self.seconds: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        if self.progress is not None:
            self.progress(name)
        begin = time.perf_counter()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - begin


def place(
    character: Character,
    settings: Settings | None = None,
    *,
    progress: Callable[[str], None] | None = None,
    **changes: Any,
) -> PlaceResult:
    """Place, orient and check a skeleton in a character.

    Args:
        character: the mesh, any frame and units.
        settings: the user's choices; defaults when None.
        progress: called with each stage's name as it begins.
        changes: single settings by name, over `settings` (such as `template="child"`).

    Returns:
        The skeleton in the input file's frame and units, with all that was found on the way.

    Raises:
        NotACharacter: no upright figure with limbs can be found in the mesh.
        AutoplaceError: a setting is impossible.
    """
    settings = checked(replace(settings or Settings(), **changes))
    convention = load_convention(settings.convention) if settings.convention else DEFAULT
    clock = _Clock(progress)
    with clock.stage("mesh"):
        prepared = prepare(character)
        measured = prepared.character
    with clock.stage("frame"):
        kept = _without_left_out(prepared, settings)
        frame = find_frame(measured.vertices, kept, settings.up, settings.forward)
    with clock.stage("parts"):
        roles, frame, vertices, faces = _body_in_its_frame(prepared, kept, frame, settings)
    with clock.stage("eyes"):
        working = [frame.to_working(part.vertices) for part in measured.parts]
        eyes = place_eyes(eye_surfaces(measured, roles, working))
        pieces = roles.corners(measured, working, "body")
        roles = prepared.original_roles(roles)
    with clock.stage("solid"):
        solid = fill_body(vertices, faces)
        shells = solid.shells
        must_be_one_body(solid)
    with clock.stage("limbs"):
        solid, limbs = find_body_limbs(solid, pieces)
        if is_askew(frame) and _eye_height(eyes) is None:
            must_be_no_hand(vertices, faces, limbs)
        trunk = measure_trunk(solid, limbs, _eye_height(eyes))
        must_have_a_trunk(trunk)
        eyes = eyes_from_face(eyes, vertices, faces, trunk)
        hem = find_hem(solid, limbs, trunk) or _tunic(solid, limbs, trunk)
        limbs = limbs if hem is None else limbs_below(limbs, hem)
        must_be_a_figure(limbs, frame, hidden=hem is not None)
        choice = _template(settings, trunk, hem)
    with clock.stage("body joints"):
        hidden = None
        if hem is not None:
            trunk, hidden = expect_crotch(hem, trunk, choice.template)
        body = place_body(
            solid, limbs, trunk, choice.template, settings.spine, settings.neck, hidden
        )
    with clock.stage("hands"):
        hands = _place_hands(vertices, faces, solid, body.arms, settings)
    with clock.stage("orientation"):
        placed, looks = gather_joints(body, hands, eyes, trunk)
        skeleton = Skeleton(
            make_joints(
                choice.template, settings.spine, settings.neck, placed, hands, looks, frame
            ),
            _source(character, frame),
            choice.template.name,
            settings.as_dict(),
            tuple(PartSummary(*row) for row in roles.part_roles(character)),
        )
        skeleton = orient(skeleton, convention, up=frame.rotation[1], forward=frame.rotation[2])
    with clock.stage("checks"):
        found = check(
            skeleton,
            depth_at=lambda p: depth_in_body(vertices, faces, frame.to_working(p), shells),
            symmetry_residual=frame.symmetry_residual,
            floor=float(frame.rotation[1] @ frame.origin),
        )
        missing = missing_findings(limbs, hands, eyes, legs=hem is None)
        covered = _leg_cover(roles, character, frame, hem, placed)
        shown = face_eyes_finding(eyes)
        skeleton = replace(skeleton, findings=(*covered, *missing, *shown, *body.findings, *found))
    report = make_report(character, roles, frame, choice, skeleton, hands, eyes)
    return PlaceResult(skeleton, frame, roles, report, clock.seconds)


def _eye_height(eyes: EyesFound) -> float | None:
    """Height of the eyeballs' centres, None without eyeballs."""
    pair = [eye for eye in (eyes.left, eyes.right) if isinstance(eye, EyePlace)]
    found = [float(eye.center[1]) for eye in pair or eyes.others]
    return float(np.mean(found)) if found else None


def _source(character: Character, frame: Frame) -> Source:
    return Source(
        mesh=character.path.name if character.path else character.name,
        sha256=character.sha256,
        up=frame.up,
        forward=frame.forward,
        height=frame.height,
    )


def _without_left_out(prepared: Prepared, settings: Settings) -> IntArray:
    """(m, 3) triangles without scenery, rods and plates, and without the parts the user leaves out,
    so that they do not tilt the frame; all when nothing is left."""
    character = prepared.character
    gone = {i for name in settings.leave_out for i in matching_parts(character, name)}
    kept = prepared.is_figure.copy()
    start = 0
    for index, part in enumerate(character.parts):
        if index in gone:
            kept[start : start + len(part.faces)] = False
        start += len(part.faces)
    return character.faces[kept] if kept.any() else character.faces


def _body_in_its_frame(
    prepared: Prepared, kept: IntArray, frame: Frame, settings: Settings
) -> tuple[Roles, Frame, FloatArray, IntArray]:
    """The roles of all pieces, and the body's frame and surface; judged again where the given
    frame, of all that was looked at first (`kept`), leans from the body's."""
    measured = prepared.character

    def judged(seen: Frame) -> Roles:
        return assign_roles(
            measured,
            [seen.to_working(part.vertices) for part in measured.parts],
            leave_out=settings.leave_out,
            forced=dict(settings.roles),
            facing_known=settings.forward is not None,
            islands=prepared.islands,
            aside=prepared.aside,
        )

    roles = judged(frame)
    body, vertices, faces = _body_frame(measured, kept, roles, frame, settings)
    # what leans less than this is put square; a turn about up is the trunk's, which head and hips
    # may not share
    if body.rotation[1] @ frame.rotation[1] < np.cos(np.radians(SNAP_DEGREES)):
        frame, roles = body, judged(body)
        body, vertices, faces = _body_frame(measured, kept, roles, frame, settings)
    return roles, body, vertices, faces


def _body_frame(
    character: Character, whole: IntArray, roles: Roles, frame: Frame, settings: Settings
) -> tuple[Frame, FloatArray, IntArray]:
    """The frame found again on the body alone, and the body's surface in it.

    `whole` are the triangles (m, 3) that the given frame was found on."""
    vertices, faces = roles.surface(character, ("body",))
    if not len(faces):
        raise NotACharacter("parts: no part was taken for the body; name it with --role PART=body.")
    eyes, _ = roles.surface(character, ("eyeball",))
    straight = bool(np.abs(frame.rotation[1]).max() > 1.0 - 1e-9)
    share = surface_area(vertices, faces) / surface_area(character.vertices, whole)
    frame = find_frame(
        vertices,
        faces,
        settings.up or (frame.up if straight and share < MOSTLY_BODY else None),
        settings.forward,
        others=eyes if len(eyes) else None,
        near=frame if straight and share >= MOSTLY_BODY else None,
    )
    vertices = frame.to_working(vertices)
    return frame, vertices, without_doubles(vertices, faces)


def _leg_cover(
    roles: Roles,
    character: Character,
    frame: Frame,
    hem: Hem | None,
    placed: Mapping[str, Placed],
) -> tuple[Finding, ...]:
    """What hides the legs: a skirt of one piece with the body, or parts worn over it."""

    def corners(names: tuple[str, ...]) -> dict[str, FloatArray]:
        found: dict[str, list[FloatArray]] = {}
        for piece in roles.pieces:
            if piece.role in names:
                part = character.parts[piece.part_index]
                found.setdefault(piece.part, []).append(part.vertices[part.faces[piece.face_ids]])
        return {name: frame.to_working(np.concatenate(some)) for name, some in found.items()}

    if hem is not None:
        return (hidden_legs_finding(hem, corners(("body",))),)
    return covered_legs(
        corners(("garment", "accessory", "hair")),
        {name: joint.position for name, joint in placed.items()},
    )


def _tunic(solid: Solid, limbs: Limbs, trunk: TrunkShape) -> Hem | None:
    """The hem at which the legs part, where that is likelier than a crotch; or where they part as
    low as at one, and are not told apart below it."""
    parting, heads_tall = float(trunk.crotch[1]), trunk.heads_tall
    if hem_for_crotch(heads_tall, parting) <= 0.0:
        return None
    step = measure_hem_step(solid, limbs, trunk)
    if step is not None and hem_odds(step, heads_tall, parting) <= 0.0:
        return None
    return find_hem(solid, limbs, trunk, told=True)


def _template(settings: Settings, trunk: TrunkShape, hem: Hem | None) -> TemplateChoice:
    if settings.template is not None:
        return TemplateChoice(load_template(settings.template), "as told", 1.0)
    crotch = float(trunk.crotch[1]) if hem is None else None
    return choose_template(trunk.heads_tall, crotch)


def _place_hands(
    vertices: FloatArray,
    faces: IntArray,
    solid: Solid,
    arms: dict[str, ArmPlacement],
    settings: Settings,
) -> Hands:
    found: dict[tuple[str, float | None], HandAtWrist] = {}

    def read(side: str, length: float | None, count: int | None) -> HandShape | NotFound:
        if side not in arms:
            return NotFound(f"{side} hand", "there is no arm on that side")
        if (side, length) not in found:
            arm = arms[side]
            skin = arm.shape.skin
            # a hand in its arm's own skin has met nothing
            body = arm_and_rest(solid, arm.shape.cells) if skin is None else None
            found[side, length] = HandAtWrist(
                *((vertices, faces) if skin is None else surface_of(skin)),
                arm.joints["wrist"].position,
                arm.forearm,
                length or float(arm.shape.sections.arc[-1] - arm.shape.wrist.arc),
                side,
                settings.fingers_on(side),
                body,
            )
        return found[side, length].measure(count)

    hands: dict[str, HandPlacement | NotFound] = {}
    named = {side: settings.fingers_on(side) is not None for side in SIDES}
    for side, shape in agreeing_hands(read, named).items():
        if isinstance(shape, NotFound):
            hands[side] = shape
            continue
        wrist = arms[side].joints["wrist"].position
        hand = place_hand(shape, wrist, side)
        hands[side] = with_metacarpals(hand, shape, wrist) if settings.metacarpals else hand
    return hands
