"""The direction of every joint's bend axis, found chain by chain.

Works in the character's own directions: X to its left, Y up, Z forward, any origin and scale.
Every axis is signed so that a positive turn flexes (see `convention.Convention`), on both sides;
mirroring is applied later. The written rules:

- trunk (pelvis, spine, chest, neck): the character's left, so that all bend in the sagittal plane;
  of a trunk that leans aside, the normal of the plane from back to front through its joints.
- head: the same; when the eyes show that the head is turned, the line through the eyes.
- eye: the head's axis; an eye looks where `look` says, else forward from the head.
- clavicle: the vertical, so that a positive turn brings the shoulder forward. This is the plane
  through the clavicle and the thorax's long axis that Wu et al. 2005 use.
- shoulder and elbow: the normal of the plane through shoulder, elbow and wrist (the second humerus
  frame of Wu et al. 2005); for a straight arm the axis that bends the elbow to the front and, as
  far as the forearm is not turned, to the thumb's side.
- wrist and metacarpals: the palm's axis; fingers: one axis for each finger, from its own plane and
  the palm.
- thumb: its own plane; when straight, it flexes across the palm, in a plane parallel to it, as
  anatomy defines the flexion of a thumb (common knowledge, no one source).
- hip and knee: the normal of the plane through hip, knee and ankle; for a straight leg the axis
  that bends the knee backward.
- ankle and ball: level with the ground for a foot that stands; for a lifted foot the knee's axis.
- a twist helper: the rule of the joint whose bone it lies on, when it stands in the chain; one
  without a child copies that joint's axes.
- any other joint: its parent's axis; a root without a rule: the character's left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.aims import Bones
from autoplace.skeleton.hand import Palm, find_palm
from autoplace.skeleton.hinge import FLAT, Hinge, cross, fit_hinge, reject, transported, unit
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import FINGERS, SIDES, family, finger_of, side_of, stem

__all__ = ["BendAxes", "arm_forward", "find_bend_axes", "leg_backward"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEFT, UP, FORWARD = np.eye(3)

LIMB_SPREAD = np.radians(15.0)
"""How far a leg or an arm is turned about its own length from where the body faces, in the poses
that characters are modelled in. A third of the range of hip rotation (45 each way, AAOS, from
memory); of 5, 10, 15, 20, 25 and 40 degrees it gave the smallest 95th percentile for elbows on the
24 young women of the open dataset that may be tuned on (6.6 degrees; knees 19.6, where 5 gave
19.2)."""
HAND_SPREAD = np.radians(15.0)
"""The same for the line from the little finger's knuckle to the index finger's, which in the middle
between pronation and supination lies where the elbow bends to. On 96 bodies of the open dataset
that may be tuned on, 10 and 15 degrees brought nineteen elbows in twenty within 5 degrees of their
own plane, no say of the hand seventeen; the larger is taken, for the dataset never turns a forearm.
"""
HAND_TURNED = np.radians(40.0)
"""Half of the range of supination (80, AAOS): from there on the forearm is turned and the hand says
nothing of the elbow."""
FINGER_SPREAD = np.radians(10.0)
"""How far a finger's axis is turned from the palm's: fingers leave the row of knuckles at 15, 6, 0
and -7 degrees (An and Cooney 1991), a spread of 10."""
THUMB_SPREAD = np.radians(25.0)
"""The same for the thumb, whose reference is a rule of thumb; common practice, no source."""
LIMB_SURE = np.radians(20.0)
"""A knee or elbow folded farther than this the other way is meant so: about four times the passive
hyperextension measured in women (4.7 elbow, Soucie et al. 2011, from memory)."""
FINGER_SURE = np.radians(90.0)
"""The same for a whole finger: twice the extension of a knuckle (45, AAOS)."""
HEAD_TURNED = np.radians(5.0)
"""Below this the line through the eyes is taken for level noise; common practice, no source."""
OFF_GROUND = 0.05
"""A ball of the foot this much higher than the lowest one, as a fraction of the skeleton's height,
is lifted; common practice, no source (about the height of an ankle)."""
ARM_RAISED = np.radians(100.0)
"""Arms turned this far from the A-pose say little about their elbow; the thumb's side then does,
which lies to within the range of pronation (80, AAOS) where the elbow bends to."""


@dataclass(frozen=True)
class BendAxes:
    """Bend axes of all joints, in the order of the skeleton, with what they came from."""

    axis: FloatArray
    """(n, 3) unit, at right angles to the joint's bone; zero for a joint without a bone."""
    bone: FloatArray
    """(n, 3) unit bone directions; an eye's is its look direction; zero for no bone."""
    limbs: dict[str, Hinge]
    """By name of the hinge joint: 'left_knee', 'right_elbow', ..."""
    fingers: dict[str, Hinge]
    """By finger: 'left_index', ..."""
    palms: dict[str, Palm]
    """By side."""


def arm_forward(direction: FloatArray, side: str) -> FloatArray:
    """(3,) where an elbow bends to when the arm points along unit `direction`.

    Forward in the A-pose, and carried along from there by the smallest turn.
    """
    out = 1.0 if side == "left" else -1.0
    return transported(FORWARD, unit(np.array([out, -1.0, 0.0])), direction)


def leg_backward(direction: FloatArray) -> FloatArray:
    """(3,) where a knee bends to when the leg points along unit `direction`.

    Backward for a standing leg, and carried along from there by the smallest turn.
    """
    return transported(-FORWARD, -UP, direction)


def find_bend_axes(
    skeleton: Skeleton, parents: IntArray, positions: FloatArray, bones: Bones
) -> BendAxes:
    """Bend axes of all joints; positions (n, 3) in the character's directions."""
    return _Finder(skeleton, parents, positions, bones).run()


class _Finder:
    def __init__(
        self, skeleton: Skeleton, parents: IntArray, positions: FloatArray, bones: Bones
    ) -> None:
        self.joints = skeleton.joints
        self.parents = parents
        self.at = positions
        self.bones = bones
        self.index = {joint.name: i for i, joint in enumerate(skeleton.joints)}
        self.looks = {
            joint.name: np.asarray(joint.look, dtype=np.float64)
            for joint in skeleton.joints
            if joint.look is not None
        }
        self.limbs: dict[str, Hinge] = {}
        self.fingers: dict[str, Hinge] = {}
        self.palms: dict[str, Palm] = {}
        self.trunk_left = LEFT

    def run(self) -> BendAxes:
        for side in SIDES:
            self._find_arm(side)
            self._find_leg(side)
            self._find_hand(side)
        self.trunk_left = self._trunk_left()
        head_left = self._head_left()
        bone = self.bones.direction.copy()
        axis = np.zeros_like(bone)
        for i, joint in enumerate(self.joints):
            kind = family(joint.name)
            if kind == "eye":
                bone[i] = self._look(joint.name, head_left)
                axis[i] = reject(bone[i], head_left, UP)
            elif self.bones.has(i):
                wanted = self._wanted(joint.name, kind, bone[i], head_left)
                if not wanted:
                    above = axis[self.parents[i]] if self.parents[i] >= 0 else LEFT
                    wanted = (above,)
                usable = [unit(w) for w in wanted if np.any(w)]
                # mirrored like the rest, should even this be needed
                last = UP if side_of(joint.name) == "right" else -UP
                axis[i] = reject(bone[i], *usable, LEFT, last)
        return BendAxes(axis, bone, self.limbs, self.fingers, self.palms)

    def _wanted(
        self, name: str, kind: str | None, bone: FloatArray, head_left: FloatArray
    ) -> tuple[FloatArray, ...]:
        """Bend axes for one joint, first choice first; none for a joint without a rule."""
        side = side_of(name)
        if kind == "trunk":
            return (self.trunk_left, FORWARD)
        if kind == "head":
            return (head_left, FORWARD)
        if side is None:
            return ()
        out = 1.0 if side == "left" else -1.0
        if kind == "clavicle":
            return (-out * UP, cross(bone, FORWARD))
        if kind == "arm" and f"{side}_elbow" in self.limbs:
            return (self.limbs[f"{side}_elbow"].axis, cross(bone, arm_forward(bone, side)))
        if kind == "leg" and f"{side}_knee" in self.limbs:
            return (self.limbs[f"{side}_knee"].axis, cross(bone, leg_backward(bone)))
        if kind == "foot":
            level = cross(bone, -UP)
            knee = self.limbs.get(f"{side}_knee")
            knee_axis = LEFT if knee is None else knee.axis
            return (knee_axis, level) if self._lifted(side) else (_steep(level), knee_axis)
        if kind in ("hand", "metacarpal") and side in self.palms:
            return (self.palms[side].bend,)
        finger = finger_of(name)
        if finger and f"{side}_{finger}" in self.fingers:
            return (self.fingers[f"{side}_{finger}"].axis,)
        return ()

    def _points(self, *names: str) -> FloatArray | None:
        if any(name not in self.index for name in names):
            return None
        return self.at[[self.index[name] for name in names]]

    def _spreads(self, indices: list[int]) -> FloatArray:
        return np.array([self.joints[i].spread for i in indices], dtype=np.float64)

    def _limb(self, names: tuple[str, str, str], side: str) -> None:
        points = self._points(*names)
        if points is None or not self.bones.has(self.index[names[0]]):
            return
        line = unit(points[2] - points[0])
        if not np.any(line):
            line = self.bones.direction[self.index[names[0]]]
        flex, spread = leg_backward(line), float(LIMB_SPREAD)
        if "elbow" in names[1]:
            flex, spread = self._elbow_flex(line, side)
        self.limbs[names[1]] = fit_hinge(
            points,
            cross(line, flex),
            spreads=self._spreads([self.index[name] for name in names]),
            reference_spread=spread,
            sure_turn=LIMB_SURE,
        )

    def _find_arm(self, side: str) -> None:
        self._limb((f"{side}_shoulder", f"{side}_elbow", f"{side}_wrist"), side)

    def _find_leg(self, side: str) -> None:
        self._limb((f"{side}_hip", f"{side}_knee", f"{side}_ankle"), side)

    def _elbow_flex(self, line: FloatArray, side: str) -> tuple[FloatArray, float]:
        """(3,) where the elbow bends to, as far as body and hand tell it, and its spread, radians.

        The hand counts less the farther it is turned from what the body says, and not at all from
        the half of supination on: a palm to the front says nothing of the elbow.
        """
        out = 1.0 if side == "left" else -1.0
        a_pose = unit(np.array([out, -1.0, 0.0]))
        body, across = arm_forward(line, side), self._points(f"{side}_pinky_1", f"{side}_index_1")
        thumb = np.zeros(3) if across is None else unit(across[1] - across[0])
        if np.linalg.norm(thumb - (thumb @ line) * line) <= FLAT:  # no hand, or along the arm
            return body, float(LIMB_SPREAD)
        thumb = reject(line, thumb)
        if float(line @ a_pose) < np.cos(ARM_RAISED):
            return thumb, float(LIMB_SPREAD)
        body = reject(line, body)
        turned = float(np.arctan2(np.linalg.norm(cross(body, thumb)), body @ thumb))
        say = max(0.0, 1.0 - (turned / HAND_TURNED) ** 2) ** 2 * (LIMB_SPREAD / HAND_SPREAD) ** 2
        return unit(body + say * thumb), float(LIMB_SPREAD / np.sqrt(1.0 + say))

    def _find_hand(self, side: str) -> None:
        wrist = self.index.get(f"{side}_wrist")
        if wrist is None or not self.bones.has(wrist):
            return
        points = {
            stem(joint.name): self.at[i]
            for i, joint in enumerate(self.joints)
            if side_of(joint.name) == side and (i == wrist or finger_of(joint.name))
        }
        along = self.bones.direction[wrist]
        palm = find_palm(points, side, along, arm_forward(along, side))
        self.palms[side] = palm
        for finger in FINGERS:
            chain = [
                i
                for i, joint in enumerate(self.joints)
                if side_of(joint.name) == side and finger_of(joint.name) == finger
            ]
            if len(chain) < 2 or not self.bones.has(chain[0]):
                continue
            at = self.at[chain]
            thumb = finger == "thumb"
            reference = palm.bend
            if thumb:
                line = unit(at[-1] - at[0])
                reference = cross(line, reject(line, -palm.thumbward))
            self.fingers[f"{side}_{finger}"] = fit_hinge(
                at,
                reference,
                spreads=self._spreads(chain),
                reference_spread=THUMB_SPREAD if thumb else FINGER_SPREAD,
                sure_turn=FINGER_SURE,
            )

    def _trunk_left(self) -> FloatArray:
        """The normal of the upright plane through the trunk's joints, which may lean aside."""
        trunk = [i for i, joint in enumerate(self.joints) if family(joint.name) == "trunk"]
        if len(trunk) < 2:
            return LEFT
        at = self.at[trunk] - self.at[trunk].mean(axis=0)
        size = float(at[:, 1] @ at[:, 1])
        if size <= 0.5 * float(np.sum(at**2)):
            return LEFT  # bent over or lying: which way it leans aside is not seen
        lean = float(at[:, 0] @ at[:, 1]) / size
        return unit(np.array([1.0, -lean, 0.0]))

    def _head_left(self) -> FloatArray:
        eyes = self._points("right_eye", "left_eye")
        if eyes is None:
            return LEFT
        line = unit(eyes[1] - eyes[0])
        return line if np.any(line) and float(line @ LEFT) < np.cos(HEAD_TURNED) else LEFT

    def _look(self, name: str, head_left: FloatArray) -> FloatArray:
        if name in self.looks and np.linalg.norm(self.looks[name]) > 0.5:
            return unit(self.looks[name])
        return reject(head_left, FORWARD) if abs(head_left @ FORWARD) < 0.99 else FORWARD

    def _lifted(self, side: str) -> bool:
        balls = {s: self.index[f"{s}_ball"] for s in SIDES if f"{s}_ball" in self.index}
        if side not in balls:
            return False
        lowest = min(float(self.at[i, 1]) for i in balls.values())
        tall = float(np.ptp(self.at[:, 1]))
        return float(self.at[balls[side], 1]) - lowest > OFF_GROUND * tall


def _steep(level: FloatArray) -> FloatArray:
    """A foot within 5 degrees of upright has no level axis of its own."""
    return level if np.linalg.norm(level) > np.sin(np.radians(5.0)) else np.zeros(3)
