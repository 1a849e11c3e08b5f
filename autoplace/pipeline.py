"""The stages in order: from a mesh to an oriented, checked skeleton. The only place that joins them.

frame -> parts -> body frame -> solid -> limbs -> placement -> hands, eyes -> mirror
      -> orientation -> checks
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import NotACharacter
from autoplace.measure.frame import find_frame
from autoplace.measure.frame_record import Frame
from autoplace.measure.hand_shape import measure_hand
from autoplace.measure.leg_shape import measure_leg
from autoplace.measure.limbs import Limbs, find_limbs
from autoplace.measure.not_found import NotFound
from autoplace.measure.separate_bodies import count_bodies
from autoplace.measure.solid import Solid, fill_solid
from autoplace.measure.trunk_shape import TrunkShape, measure_trunk
from autoplace.mesh.character import Character
from autoplace.mesh.parts import assign_roles
from autoplace.mesh.pieces import Roles
from autoplace.place.arms import ArmPlacement, place_arm
from autoplace.place.evidence import Placed
from autoplace.place.eyes import EyePlace, EyesFound, eye_surfaces, eyes_from_head, place_eyes
from autoplace.place.hands import HandPlacement, place_hand
from autoplace.place.legs import place_leg
from autoplace.place.mirror import mirror_limbs, mirrored_share
from autoplace.place.template import TemplateChoice, choose_template, load_template
from autoplace.place.trunk import place_trunk
from autoplace.report import make_report
from autoplace.result import PlaceResult, Settings
from autoplace.settings import checked
from autoplace.skeleton.checks import check
from autoplace.skeleton.model import Evidence, Finding, Joint, PartSummary, Skeleton, Source
from autoplace.skeleton.orient import orient

__all__ = ["place"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL = 1.0 / 150.0
"""Edge of a body cell, fraction of height: an adult's wrist is seven cells across."""
SIDES = ("left", "right")


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
    clock = _Clock(progress)
    with clock.stage("frame"):
        frame = find_frame(character.vertices, character.faces, settings.up, settings.forward)
    with clock.stage("parts"):
        working = [frame.to_working(part.vertices) for part in character.parts]
        roles = assign_roles(
            character, working, leave_out=settings.leave_out, forced=dict(settings.roles)
        )
        frame, vertices, faces = _body_frame(character, roles, frame, settings)
    with clock.stage("solid"):
        solid = fill_solid(vertices, faces, CELL)
        _must_be_one(solid)
    with clock.stage("limbs"):
        limbs = find_limbs(solid)
        _must_be_a_figure(limbs)
        trunk = measure_trunk(solid, limbs)
        choice = _template(settings, trunk)
    with clock.stage("body joints"):
        placed, arms, alike, notes = _place_body(solid, limbs, trunk, choice, settings)
    with clock.stage("hands"):
        hands = _place_hands(vertices, faces, arms, trunk, choice)
    with clock.stage("eyes"):
        working = [frame.to_working(part.vertices) for part in character.parts]
        eyes = place_eyes(eye_surfaces(character, roles, working))
    with clock.stage("orientation"):
        placed, looks = _with_hands_and_eyes(placed, hands, eyes, trunk, alike)
        skeleton = _skeleton(character, roles, frame, choice, settings, placed, hands, looks)
        skeleton = orient(skeleton)
    with clock.stage("checks"):
        found = check(skeleton, depth_at=lambda p: solid.depth_at(frame.to_working(p)))
        findings = (*_missing(limbs, hands, eyes), *notes, *found)
        skeleton = replace(skeleton, findings=findings)
    report = make_report(character, roles, frame, choice, skeleton, hands, eyes)
    return PlaceResult(skeleton, frame, roles, report, clock.seconds)


def _body_frame(
    character: Character, roles: Roles, frame: Frame, settings: Settings
) -> tuple[Frame, FloatArray, IntArray]:
    """The frame found again on the body alone, and the body's surface in it, facing outward."""
    vertices, faces = roles.surface(character, ("body",))
    if not len(faces):
        raise NotACharacter("parts: no part was taken for the body; name it with --role PART=body.")
    eyes, _ = roles.surface(character, ("eyeball",))
    up = settings.up or frame.up
    tilted = frame.rotation @ np.abs(np.round(frame.rotation)).T
    straight = bool(np.allclose(np.abs(np.diag(np.abs(tilted))), 1.0, atol=1e-6))
    frame = find_frame(
        vertices,
        faces,
        up if straight else settings.up,
        settings.forward,
        others=eyes if len(eyes) else None,
    )
    vertices = frame.to_working(vertices)
    corners = vertices[faces]
    volume = float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])))
    if volume < 0.0:
        faces = faces[:, ::-1]
    return frame, vertices, np.ascontiguousarray(faces)


def _must_be_one(solid: Solid) -> None:
    bodies = count_bodies(solid)
    if bodies > 1:
        number = {2: "two", 3: "three"}.get(bodies, str(bodies))
        raise NotACharacter(
            f"solid: {number} figures stand in this file; leave out the parts of all but one with "
            "--leave-out, or export each character to a file of its own."
        )


def _must_be_a_figure(limbs: Limbs) -> None:
    """An upright figure has at least two legs, or a leg and an arm; anything else is refused."""
    kinds = [(limb.kind, limb.side) for limb in limbs.limbs]
    legs = {side for kind, side in kinds if kind == "leg"}
    arms = {side for kind, side in kinds if kind == "arm"}
    on_floor = [
        limb
        for limb in limbs.limbs
        if limb.cells[:, 1].min() < 0.05 and limb.kind in ("leg", "arm", "other")
    ]
    if len(on_floor) >= 4:
        raise NotACharacter(
            f"limbs: {len(on_floor)} limbs stand on the floor; only figures on two legs can be "
            "placed. If parts of the file are not the figure, leave them out with --leave-out."
        )
    if len(legs) + len(arms) < 2 or not legs:
        raise NotACharacter(
            f"limbs: {len(legs)} legs and {len(arms)} arms found, so this is not an upright "
            "figure; check --up and --forward, or leave out parts that hide it with --leave-out."
        )


def _template(settings: Settings, trunk: TrunkShape) -> TemplateChoice:
    head = max(float(trunk.crown[1] - trunk.chin[1]), 0.02)
    if settings.template is not None:
        return TemplateChoice(load_template(settings.template), "as told", 1.0)
    return choose_template(1.0 / head, float(trunk.crotch[1]))


def _place_body(
    solid: Solid, limbs: Limbs, trunk: TrunkShape, choice: TemplateChoice, settings: Settings
) -> tuple[dict[str, Placed], dict[str, ArmPlacement], dict[str, bool], tuple[Finding, ...]]:
    """Joints of legs, arms and trunk; arms for the hands; which limbs mirror; notes."""
    placed: dict[str, Placed] = {}
    arms: dict[str, ArmPlacement] = {}
    notes: list[Finding] = []
    for side in SIDES:
        leg, arm = limbs.one("leg", side), limbs.one("arm", side)
        if leg is not None:
            placement = place_leg(measure_leg(solid, leg), trunk, choice.template)
            placed |= {f"{side}_{name}": p for name, p in placement.joints.items()}
            notes += _straight_note(f"{side}_knee", placement.bent_by_us)
        if arm is not None:
            arms[side] = place_arm(solid, arm, trunk, choice.template)
            placed |= {f"{side}_{name}": p for name, p in arms[side].joints.items()}
            notes += _straight_note(f"{side}_elbow", arms[side].bent_by_us)
    alike = {}
    stems = {
        "leg": ("hip", "knee", "ankle", "ball", "toe_tip"),
        "arm": ("shoulder", "elbow", "wrist"),
    }
    for kind, names in stems.items():
        left, right = limbs.one(kind, "left"), limbs.one(kind, "right")
        same = (
            left is not None
            and right is not None
            and mirrored_share(left.cells, right.cells, solid.cell) > 0.95
        )
        alike |= dict.fromkeys(names, same)
    placed = mirror_limbs(placed, alike)
    positions = {name: p.position for name, p in placed.items()}
    placed |= place_trunk(trunk, choice.template, settings.spine, positions)
    if all(alike.values()):
        placed = _centred(placed)
    return placed, arms, alike, tuple(notes)


def _centred(placed: dict[str, Placed]) -> dict[str, Placed]:
    """Joints of the middle put on the symmetry plane, clavicles mirrored."""
    centred = {
        name: replace(p, position=p.position * [0.0, 1.0, 1.0]) if not name.startswith(SIDES) else p
        for name, p in placed.items()
    }
    return mirror_limbs(centred, {"clavicle": True})


def _straight_note(joint: str, bent_by_us: bool) -> list[Finding]:
    if not bent_by_us:
        return []
    return [
        Finding(
            "straight_limb",
            joint,
            "note",
            f"{joint}: the limb is modelled straight, so a bend of 2 degrees was put in.",
            "Nothing to do, unless the joint should bend another way: then move it.",
        )
    ]


def _place_hands(
    vertices: FloatArray,
    faces: IntArray,
    arms: dict[str, ArmPlacement],
    trunk: TrunkShape,
    choice: TemplateChoice,
) -> dict[str, HandPlacement | NotFound]:
    hands: dict[str, HandPlacement | NotFound] = {}
    for side in SIDES:
        if side not in arms:
            hands[side] = NotFound(f"{side} hand", "there is no arm on that side")
            continue
        arm = arms[side]
        wrist = arm.joints["wrist"].position
        length = float(arm.shape.sections.arc[-1] - arm.shape.wrist_arc)
        shape = measure_hand(vertices, faces, wrist, arm.forearm, length, side)
        hands[side] = place_hand(shape, wrist, side) if shape else shape
    return hands


def _with_hands_and_eyes(
    placed: dict[str, Placed],
    hands: dict[str, HandPlacement | NotFound],
    eyes: EyesFound,
    trunk: TrunkShape,
    alike: dict[str, bool],
) -> tuple[dict[str, Placed], dict[str, FloatArray | None]]:
    """All joints by name, hands and eyes mirrored where the arms are; look directions of eyes."""
    joints = dict(placed)
    stems = {}
    for side in SIDES:
        hand = hands[side]
        if isinstance(hand, NotFound):
            continue
        for finger, points in hand.chains.items():
            for end, point in zip(("1", "2", "3", "tip"), points, strict=True):
                joints[f"{side}_{finger}_{end}"] = Placed(
                    point.position, point.spread, point.evidence, 1.0
                )
                stems[f"{finger}_{end}"] = alike["wrist"]
    looks: dict[str, FloatArray | None] = {}
    guessed = _guessed_eyes(trunk)
    both = isinstance(eyes.left, EyePlace) and isinstance(eyes.right, EyePlace)
    neither = not isinstance(eyes.left, EyePlace) and not isinstance(eyes.right, EyePlace)
    for side, guess in zip(SIDES, guessed, strict=True):
        eye = eyes.of(side)
        if isinstance(eye, EyePlace):
            joints[f"{side}_eye"] = Placed(eye.center, eye.spread, eye.evidence, 1.0)
            looks[f"{side}_eye"] = eye.look
        elif neither:
            joints[f"{side}_eye"] = Placed(guess.center, guess.spread, guess.evidence, 1.0)
    if both:
        left, right = joints["left_eye"].position, joints["right_eye"].position
        stems["eye"] = bool(np.linalg.norm(left - right * [-1.0, 1.0, 1.0]) < 1e-3)
    else:
        stems["eye"] = neither
    return mirror_limbs(joints, stems), looks


def _guessed_eyes(trunk: TrunkShape) -> tuple[EyePlace, EyePlace]:
    """Eyes by published head proportions, for a head without eyeballs."""
    chin, crown = float(trunk.chin[1]), float(trunk.crown[1])
    inside = (trunk.y > chin + 0.2 * (crown - chin)) & (trunk.y < crown)
    width = float(np.max(trunk.width[inside])) if inside.any() else 0.1
    middle = float(trunk.crown[0])
    eye_level = chin + 0.5 * (crown - chin)
    low = np.array([middle - 0.5 * width, chin, trunk.depth_at(eye_level, 0.0)])
    high = np.array([middle + 0.5 * width, crown, trunk.depth_at(eye_level, 1.0)])
    return eyes_from_head(low, high)


def _skeleton(
    character: Character,
    roles: Roles,
    frame: Frame,
    choice: TemplateChoice,
    settings: Settings,
    placed: dict[str, Placed],
    hands: dict[str, HandPlacement | NotFound],
    looks: dict[str, FloatArray | None],
) -> Skeleton:
    """The placed joints as a skeleton in the input frame, parents first."""
    fingers = {
        side: tuple(hand.chains) if isinstance(hand, HandPlacement) else ()
        for side, hand in hands.items()
    }
    joints: list[Joint] = []
    there: set[str] = set()
    for name, parent in choice.template.joint_list(settings.spine, fingers):
        if name not in placed or (parent is not None and parent not in there):
            continue
        if name.endswith("clavicle") and f"{name.split('_')[0]}_shoulder" not in placed:
            continue
        there.add(name)
        joints.append(_joint(name, parent, placed[name], frame, looks.get(name)))
    parts = tuple(
        PartSummary(name, role, confidence, reason)
        for name, role, confidence, reason in roles.part_roles(character)
    )
    source = Source(
        mesh=character.path.name if character.path else character.name,
        sha256=character.sha256,
        up=frame.up,
        forward=frame.forward,
        height=frame.height,
    )
    return Skeleton(tuple(joints), source, choice.template.name, settings.as_dict(), parts)


def _joint(
    name: str, parent: str | None, placed: Placed, frame: Frame, look: FloatArray | None
) -> Joint:
    evidence = tuple(
        Evidence(e.kind, frame.to_input(e.position), e.spread * frame.height, e.weight, e.note)
        for e in placed.evidence
    )
    return Joint(
        name=name,
        parent=parent,
        position=frame.to_input(placed.position),
        spread=placed.spread * frame.height,
        evidence=evidence,
        look=None if look is None else frame.direction_to_input(look),
    )


def _missing(
    limbs: Limbs, hands: dict[str, HandPlacement | NotFound], eyes: EyesFound
) -> tuple[Finding, ...]:
    """One finding for everything a figure normally has and this one lacks."""
    findings = []
    for kind in ("arm", "leg"):
        for side in SIDES:
            if limbs.one(kind, side) is None:
                findings.append(
                    Finding(
                        "missing_limb",
                        None,
                        "warning",
                        f"The {side} {kind} was not found, so its joints are left out.",
                        "If the mesh has one, check --up and --forward, or whether a part that "
                        "was left out covers it.",
                    )
                )
    for side in SIDES:
        hand = hands[side]
        if isinstance(hand, NotFound) and limbs.one("arm", side) is not None:
            findings.append(
                Finding(
                    "missing_fingers",
                    f"{side}_wrist",
                    "warning",
                    f"No fingers on the {side} hand: {hand.why}.",
                    "If the hand has fingers, check that its part is not left out.",
                )
            )
    for side in SIDES:
        eye = eyes.of(side)
        if isinstance(eye, NotFound):
            other = eyes.of("right" if side == "left" else "left")
            guess = "its joint is left out" if other else "its place is a guess by head proportions"
            findings.append(
                Finding(
                    "missing_eyeball",
                    None if other else f"{side}_eye",
                    "warning",
                    f"No {side} eyeball: {eye.why}; {guess}.",
                    "If a part is the eye, say so with --role PART=eyeball.",
                )
            )
    return tuple(findings)
