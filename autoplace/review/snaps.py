"""Where a joint may snap to: the middle of the flesh, an eyeball's centre, a limb's centreline.

All is measured from the mesh alone, by the measures that placing uses, so it serves a skeleton from
anywhere. What is slow is measured once, when it is first asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.flesh_section import SLAB, SectionMiddle, section_middle
from autoplace.measure.not_found import NotFound
from autoplace.mesh.islands import find_islands
from autoplace.mesh.outward import face_outward
from autoplace.mesh.triangles import without_doubles
from autoplace.place.eyes import EyePlace, eye_surfaces, place_eyes
from autoplace.review.bone_lines import bone_length, flesh_direction
from autoplace.review.limb_lines import (
    Centreline,
    arm_or_leg_line,
    finger_centreline,
    hand_of,
    nearest_on,
)
from autoplace.skeleton.names import family, finger_of, metacarpal_of, side_of, stem

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.measure.hand_shape import HandShape
    from autoplace.measure.limb_record import Limbs
    from autoplace.measure.solid import Solid
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles
    from autoplace.skeleton.model import Skeleton

__all__ = ["Snap", "SnapTargets"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WINDOW = 0.5
"""Half of the plane that is looked at first, share of the longer bone at the joint: a forearm's
radius is a fifth of its length, a finger's a third of its bone's (from memory)."""
TRUNK_WINDOW = 0.18
"""The same for the trunk and the head, fraction of height: a chest is .16 to .2 broad (from
memory)."""
LEAST_WINDOW, MOST_WINDOW = 0.008, 0.4
"""Bounds of the windows, fraction of height: a finger's radius, and wider than any trunk."""
IN_A_SLAB = 1.3
"""Breadth over thickness from which the middle of the thickness is meant where the flesh runs on to
the sides of a joint anyhow: a row of knuckles, a shoulder in the chest (common practice, no
source)."""
THICKNESS = "middle of the flesh's thickness, for the section runs on to the sides"
IN_TRUNK = ("shoulder", "hip")
"""Joints of limbs (without side) that lie within the trunk, and are looked at in its window."""
TURNED = np.cos(np.radians(0.5))
"""A joint that is moved turns the bones at it, and with them the plane. Turned by more than this,
it is cut a second time (common practice, no source)."""


@dataclass(frozen=True)
class Snap:
    """A place to snap to."""

    position: FloatArray
    """(3,) in the frame and units of the mesh's file."""
    words: str
    """What the place is, for a person."""


class SnapTargets:
    """The places of one character that joints may snap to.

    Positions that are given and returned are in the frame and units of the mesh's file.
    """

    def __init__(
        self,
        character: Character,
        frame: Frame,
        skeleton: Skeleton,
        roles: Roles | None = None,
    ) -> None:
        """Measures nothing yet.

        Args:
            character: the mesh.
            frame: its working frame.
            skeleton: in the same frame and units as the mesh; its joints tell where bones run and
                where wrists are.
            roles: of the pieces of this mesh; without them all of it counts as body, and there are
                no eyeballs.
        """
        self._character = character
        self._frame = frame
        self._skeleton = skeleton
        self._roles = roles
        self._lines: dict[tuple[str, ...], Centreline | NotFound] = {}
        self._hands: dict[str, HandShape | NotFound] = {}

    def section_centre(
        self, name: str, position: FloatArray, skeleton: Skeleton | None = None
    ) -> Snap | NotFound:
        """The middle of the flesh about a joint, at right angles to the bones at it.

        Of the section only the piece counts that holds the joint or is nearest to it: an arm beside
        the trunk, a finger beside the next. Where the section runs on into more than the limb (the
        palm at a knuckle, the chest at a shoulder) it is the middle of the thickness there.

        Args:
            name: of the joint, which the skeleton has.
            position: (3,) where it stands.
            skeleton: as it is corrected by then; the one given at first when None.
        """
        skeleton = skeleton or self._skeleton
        if family(name) == "eye":
            return NotFound(f"section at {name}", "an eye has no section; snap it to its eyeball")
        if family(name) == "clavicle":
            return NotFound(f"section at {name}", "no section of the chest tells where it begins")
        vertices, faces = self._body
        if not len(faces):
            return NotFound(f"section at {name}", "the mesh has no body to cut")
        window, most, slab = self._window(name, skeleton)
        at = np.asarray(position, dtype=np.float64)
        along = flesh_direction(skeleton, name, at)
        if along is None:
            return NotFound(f"section at {name}", "no bone ends or begins there")

        def cut(at: FloatArray, along: FloatArray) -> SectionMiddle | NotFound:
            point = self._frame.to_working(at)
            way = self._frame.direction_to_working(along)
            bounds = self._bounds(name, point, skeleton)
            return section_middle(vertices, faces, point, way, window, most, bounds, slab)

        found = cut(at, along)
        if not isinstance(found, NotFound) and found.whole:
            moved = self._frame.to_input(found.position)
            again = flesh_direction(skeleton, name, moved)
            if again is not None and _cosine(along, again) < TURNED:
                found = cut(moved, again)
        if isinstance(found, NotFound):
            return NotFound(f"section at {name}", found.why)
        at = self._frame.to_input(found.position)
        return Snap(at, "centre of the section" if found.whole else THICKNESS)

    def _window(self, name: str, skeleton: Skeleton) -> tuple[float, float, float]:
        """Half of the windows that are looked at first and at most, heights, and from which breadth
        over thickness on the section of a joint has no middle."""
        base = stem(name)
        if family(name) in ("trunk", "head"):
            return TRUNK_WINDOW, MOST_WINDOW, SLAB
        if base in IN_TRUNK:
            return TRUNK_WINDOW, MOST_WINDOW, IN_A_SLAB if base == "shoulder" else SLAB
        window = WINDOW * bone_length(skeleton, name) / self._frame.height
        in_palm = (finger_of(name) and base.endswith("_1")) or metacarpal_of(name)
        window = float(np.clip(2.0 * window if in_palm else window, LEAST_WINDOW, MOST_WINDOW))
        return window, MOST_WINDOW, IN_A_SLAB if in_palm else SLAB

    def eyeball(self, name: str, position: FloatArray) -> Snap | NotFound:
        """The centre of the fitted eyeball that is nearest to a joint at `position` (3,)."""
        if family(name) not in ("eye", None):
            return NotFound(f"eyeball of {name}", "this joint is no eye")
        if not self._eyes:
            return NotFound(f"eyeball of {name}", "no piece of the mesh is an eyeball")
        point = self._frame.to_working(position)
        eye = min(self._eyes, key=lambda one: float(np.linalg.norm(one.center - point)))
        shape = {"sphere": "sphere", "ellipsoid": "ellipsoid"}.get(eye.shape)
        fitted = f"centre of the {shape} fitted to the eyeball" if shape else "middle of the eye"
        radius = eye.radius * self._frame.height
        return Snap(self._frame.to_input(eye.center), f"{fitted}, of radius {radius:.4g}")

    def centreline(self, name: str, position: FloatArray) -> Snap | NotFound:
        """The nearest point of the centreline of the joint's arm, leg or finger."""
        line = self._line_of(name)
        if isinstance(line, NotFound):
            return NotFound(f"centreline at {name}", line.why)
        place = nearest_on(line, self._frame.to_working(position))
        if place is None:
            return NotFound(
                f"centreline at {name}", "the joint lies beyond the end of the line that was found"
            )
        what = "finger" if finger_of(name) else "limb"
        return Snap(self._frame.to_input(place), f"nearest point of the {what}'s centreline")

    @cached_property
    def _outward(self) -> Character:
        """The mesh with its faces looking outward."""
        return face_outward(self._character, find_islands(self._character).place)

    @cached_property
    def _body(self) -> tuple[FloatArray, IntArray]:
        """The body's surface, working frame."""
        vertices, faces = self._outward.vertices, self._outward.faces
        if self._roles is not None:
            vertices, faces = self._roles.surface(self._outward, ("body",))
        vertices = self._frame.to_working(vertices)
        return vertices, without_doubles(vertices, faces) if len(faces) else faces

    @cached_property
    def _eyes(self) -> list[EyePlace]:
        """Eyeballs that were fitted, working frame."""
        if self._roles is None:
            return []
        working = [self._frame.to_working(part.vertices) for part in self._character.parts]
        found = place_eyes(eye_surfaces(self._character, self._roles, working))
        both = [eye for eye in (found.left, found.right) if isinstance(eye, EyePlace)]
        return [*both, *found.others]

    @cached_property
    def _limbs(self) -> tuple[Solid, Limbs]:
        pieces = []
        if self._roles is not None:
            working = [self._frame.to_working(part.vertices) for part in self._outward.parts]
            pieces = self._roles.corners(self._outward, working, "body")
        return find_body_limbs(fill_body(*self._body), pieces)

    def _bounds(
        self, name: str, point: FloatArray, skeleton: Skeleton
    ) -> list[tuple[FloatArray, float]]:
        """What bounds the flesh of a joint at `point`: a leg its own side, lest thighs that touch
        count as one, and the trunk the shoulders, lest raised arms count as part of it."""
        side, across = side_of(name), np.array([1.0, 0.0, 0.0])
        if side and family(name) in ("leg", "foot"):
            sign = 1.0 if side == "left" else -1.0
            return [(sign * across, 0.0)] if sign * point[0] > 0.0 else []
        if family(name) != "trunk":
            return []
        aside = [
            sign * self._frame.to_working(skeleton[shoulder].position)[0]
            for sign, shoulder in ((1.0, "left_shoulder"), (-1.0, "right_shoulder"))
            if shoulder in skeleton
        ]
        if not aside or min(aside) <= abs(point[0]):
            return []
        return [(across, -max(aside)), (-across, -max(aside))]

    def _line_of(self, name: str) -> Centreline | NotFound:
        """The line that a joint may lie on, measured when it is first asked for."""
        side, finger, kind = side_of(name), finger_of(name), family(name)
        if side is None or kind not in ("arm", "hand", "leg", "foot", "finger"):
            return NotFound("centreline", "only arms, legs and fingers have one")
        limb = "arm" if kind in ("arm", "hand") else "leg"
        key = (side, finger or limb)
        if key not in self._lines:
            if not len(self._body[1]):
                return NotFound("centreline", "the mesh has no body to measure")
            if finger:
                hand = self._hand(side)
                self._lines[key] = (
                    hand if isinstance(hand, NotFound) else finger_centreline(hand, finger)
                )
            elif self._skeleton.source.part:
                return NotFound("centreline", "the mesh is a hand and has no arms and legs")
            else:
                solid, limbs = self._limbs
                shoulder = self._working(f"{side}_shoulder")
                self._lines[key] = arm_or_leg_line(solid, limbs, limb, side, shoulder)
        return self._lines[key]

    def _hand(self, side: str) -> HandShape | NotFound:
        if side not in self._hands:
            self._hands[side] = self._measured_hand(side)
        return self._hands[side]

    def _measured_hand(self, side: str) -> HandShape | NotFound:
        wrist, elbow = self._working(f"{side}_wrist"), self._working(f"{side}_elbow")
        fingers: dict[str, list[FloatArray]] = {}
        for joint in self._skeleton:
            finger = finger_of(joint.name)
            if finger and side_of(joint.name) == side:
                fingers.setdefault(finger, []).append(self._frame.to_working(joint.position))
        if wrist is None:
            return NotFound(f"{side} hand", f"there is no joint '{side}_wrist' to measure it from")
        if elbow is None:
            # a hand without an arm points where its fingers do
            tips = [line[-1] for line in fingers.values()]
            elbow = wrist - (np.mean(tips, axis=0) - wrist) if tips else wrist
        return hand_of(
            *self._body,
            side,
            wrist,
            elbow,
            {finger: np.array(line) for finger, line in fingers.items()},
        )

    def _working(self, name: str) -> FloatArray | None:
        """(3,) a joint in the working frame; None where the skeleton has none of that name."""
        if name not in self._skeleton:
            return None
        return self._frame.to_working(self._skeleton[name].position)


def _cosine(first: FloatArray, second: FloatArray) -> float:
    """Of the angle between two directions (3,)."""
    return float(first @ second / (np.linalg.norm(first) * np.linalg.norm(second)))
