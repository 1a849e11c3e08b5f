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
from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.frame import find_frame
from autoplace.measure.frame_record import Frame
from autoplace.measure.hand_contact import arm_and_rest
from autoplace.measure.hand_shape import HandShape, measure_hand
from autoplace.measure.hem import Hem, find_hem, limbs_below
from autoplace.measure.limbs import Limbs
from autoplace.measure.lone_hand import find_lone_hand, has_thumb
from autoplace.measure.not_found import NotFound
from autoplace.measure.point_depth import depth_of_points
from autoplace.measure.separate_bodies import count_bodies
from autoplace.measure.solid import Solid
from autoplace.measure.trunk_shape import TrunkShape, measure_trunk
from autoplace.mesh.character import Character
from autoplace.mesh.parts import assign_roles, matching_parts
from autoplace.mesh.pieces import Roles
from autoplace.mesh.prepare import Prepared, prepare
from autoplace.mesh.triangles import surface_area, without_doubles
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
LARGEST_VOLUME = 0.3
"""Of a figure, share of its height cubed. An adult has 0.012 (65 litres, 1.75 m), a ball of 0.8 of
the height with short limbs 0.27 (common practice, no source)."""
ASKEW = 3.0
"""Degrees from the axes beyond which only a figure with all its limbs is believed: fingers and
twigs look like some of them from one side or another (common practice, no source)."""
HAND_ON_FIGURE = 0.11
"""Length of a hand on a figure, heights (US Army 2012 survey)."""
BESIDE_MIDDLE = 0.03
"""How far from the middle plane a single leg reaches at least: a hip stands .05 of the height from
it (Bell 1990 by the templates' sources), a tail in it."""


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
        working = [frame.to_working(part.vertices) for part in measured.parts]
        roles = assign_roles(
            measured,
            working,
            leave_out=settings.leave_out,
            forced=dict(settings.roles),
            facing_known=settings.forward is not None,
            islands=prepared.islands,
            scenery=prepared.scenery,
        )
        frame, vertices, faces = _body_frame(measured, kept, roles, frame, settings)
    with clock.stage("eyes"):
        working = [frame.to_working(part.vertices) for part in measured.parts]
        eyes = place_eyes(eye_surfaces(measured, roles, working))
        pieces = roles.corners(measured, working, "body")
        roles = prepared.original_roles(roles)
    with clock.stage("solid"):
        solid = fill_body(vertices, faces)
        _must_be_one(solid)
    with clock.stage("limbs"):
        solid, limbs = find_body_limbs(solid, pieces)
        if not all(limbs.one("arm", side) for side in SIDES):
            _must_be_a_figure(limbs, frame, None)
        if _is_askew(frame) and _eye_height(eyes) is None:
            _must_be_no_hand(vertices, faces, limbs)
        trunk = measure_trunk(solid, limbs, _eye_height(eyes))
        eyes = eyes_from_face(eyes, vertices, faces, trunk)
        hem = find_hem(solid, limbs, trunk)
        limbs = limbs if hem is None else limbs_below(limbs, hem)
        _must_be_a_figure(limbs, frame, hem)
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
            depth_at=lambda p: depth_of_points(vertices, faces, frame.to_working(p)),
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
    """(m, 3) triangles without scenery and without the parts the user leaves out, so that they do
    not tilt the frame; all when nothing is left."""
    character = prepared.character
    gone = {i for name in settings.leave_out for i in matching_parts(character, name)}
    kept = prepared.is_figure.copy()
    start = 0
    for index, part in enumerate(character.parts):
        if index in gone:
            kept[start : start + len(part.faces)] = False
        start += len(part.faces)
    return character.faces[kept] if kept.any() else character.faces


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


def _must_be_one(solid: Solid) -> None:
    """One body, and not a lump: known before the limbs are sought, which takes long in a lump."""
    volume = float(solid.inside.sum()) * solid.cell**3
    if volume > LARGEST_VOLUME:
        raise NotACharacter(
            f"solid: this fills {100 * volume:.0f} percent of the cube of its height, so no head "
            "and limbs stand out; if it is a character, check --up, or leave out with --leave-out "
            "what it wears or stands in."
        )
    bodies = count_bodies(solid)
    if bodies > 1:
        number = {2: "two", 3: "three"}.get(bodies, str(bodies))
        raise NotACharacter(
            f"solid: {number} figures stand in this file; leave out the parts of all but one with "
            "--leave-out, or export each character to a file of its own."
        )


def _must_be_a_figure(limbs: Limbs, frame: Frame, hem: Hem | None) -> None:
    """An upright figure has at least two legs, or a leg and an arm, or two arms over a skirt;
    anything else is refused."""
    kinds = [(limb.kind, limb.side) for limb in limbs.limbs]
    stands_on = [limb for limb in limbs.limbs if limb.kind == "leg"]
    legs = {limb.side for limb in stands_on}
    if len(legs) == 1 and (
        len(stands_on) > 1 or np.abs(stands_on[0].line[:, 0]).max() < BESIDE_MIDDLE
    ):
        legs = set()  # a tail in the middle plane, or fingers: no single leg of a figure
    arms = {side for kind, side in kinds if kind == "arm"}
    on_floor = [
        limb
        for limb in limbs.limbs
        if limb.cells[:, 1].min() < 0.05 and limb.kind in ("leg", "arm", "other")
    ]
    if len(on_floor) >= 4:
        raise NotACharacter(
            f"limbs: {len(on_floor)} limbs stand on the floor; animals on four cannot be placed, "
            "and if parts of the file are not the figure, leave them out with --leave-out."
        )
    if hem is None and (len(legs) + len(arms) < 2 or not legs):
        raise NotACharacter(
            f"limbs: {len(legs)} legs and {kinds.count(('arm', 'left'))} left and "
            f"{kinds.count(('arm', 'right'))} right arms found, so this is not a figure upright on "
            "two legs; animals on four cannot be placed, a hand alone can with autoplace hands, "
            "and for a figure check --up and --forward, or leave out the parts that hide it with "
            "--leave-out."
        )
    askew = _is_askew(frame)
    # five fingers may pass for the limbs of a figure; a figure has no third leg
    if askew and (len(legs) + len(arms) < 4 or len(stands_on) > 2):
        raise NotACharacter(
            f"limbs: {len(stands_on)} legs and {len(arms)} arms found on something that stands "
            "askew to the file's axes, so it is not taken for a figure; if it is one, turn it "
            "upright or say how it stands with --up and --forward; for a hand alone use autoplace "
            "hands."
        )


def _is_askew(frame: Frame) -> bool:
    """Whether a figure stands clearly off the file's axes."""
    return bool(np.abs(frame.rotation).max(axis=1).min() < np.cos(np.radians(ASKEW)))


def _must_be_no_hand(vertices: FloatArray, faces: IntArray, limbs: Limbs) -> None:
    """What has no eyes and stands anyhow may be a hand, whose fingers pass for limbs."""
    found = find_lone_hand(HAND_ON_FIGURE * vertices, faces, None)
    if isinstance(found, NotFound) or found.finger_count < 4 or not has_thumb(found):
        return
    feet = np.array([limb.line[-1] for limb in limbs.limbs if limb.kind == "leg"]).reshape(-1, 3)
    behind = (HAND_ON_FIGURE * feet - found.wrist_hint.position) @ found.along < 0.0
    if behind.sum() < 2:  # head and arms may pass for fingers, but no hand goes on in two legs
        raise NotACharacter(
            f"limbs: this looks like a hand with {found.finger_count} fingers, which autoplace "
            "hands is for; if it is a figure, say how it stands with --up and --forward."
        )


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


def _template(settings: Settings, trunk: TrunkShape, hem: Hem | None) -> TemplateChoice:
    head = max(float(trunk.crown[1] - trunk.chin[1]), 0.02)
    if settings.template is not None:
        return TemplateChoice(load_template(settings.template), "as told", 1.0)
    return choose_template(1.0 / head, float(trunk.crotch[1]) if hem is None else None)


def _place_hands(
    vertices: FloatArray,
    faces: IntArray,
    solid: Solid,
    arms: dict[str, ArmPlacement],
    settings: Settings,
) -> Hands:
    def read(side: str, length: float | None, count: int | None) -> HandShape | NotFound:
        if side not in arms:
            return NotFound(f"{side} hand", "there is no arm on that side")
        arm = arms[side]
        return measure_hand(
            vertices,
            faces,
            arm.joints["wrist"].position,
            arm.forearm,
            length or float(arm.shape.sections.arc[-1] - arm.shape.wrist.arc),
            side,
            settings.fingers_on(side),
            arm_and_rest(solid, arm.shape.cells),
            count,
        )

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
