"""Place pelvis, spine, chest, neck, head and clavicles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.trunk_net import TrunkNet, middle_net
from autoplace.measure.trunk_shape import TrunkShape
from autoplace.place import readings
from autoplace.place.evidence import Cue, Placed, combine, cue
from autoplace.place.template import Proportion, Template

__all__ = ["place_trunk"]

FloatArray = NDArray[np.float64]

WIDER = 2.0
"""How much wider a place is spread when the limb it should follow is missing (common practice, no
source)."""

CLAVICLE_DEPTH_DOUBT = 0.018
"""Spread added to the depth that is read of the clavicles: the bodies learned from have them so
much, a fraction of the height, behind where Klein Breteler et al. 1999 have the joint of collar
bone and breast bone."""

ASIDE = 0.006
"""One standard deviation of where the middle of a trunk's cut lies across the body, a fraction of
the height: about one cell of the grid (common practice, no source)."""

LARGEST_HEAD = 0.60
"""Chin to crown of a newborn as a share of crotch to chin: a head of a quarter of the stature, a
sitting height of .67 (Loomis, sitting-height ratios). A drawn head that is larger still is carried
where one of that size would be: necks do not reach farther into it (common practice, no source)."""

WHOLE_TRUNK = "shape of the whole trunk"


@dataclass(frozen=True)
class _Trunk:
    """What all placements of the trunk share."""

    shape: TrunkShape
    nets: Mapping[str, TrunkNet]
    template: Template
    scale: float
    """Length of the trunk."""

    def height(self, name: str) -> tuple[float, float]:
        """Height above the crotch and its spread, from a proportion of the trunk."""
        rule = self.template[name]
        return float(self.shape.crotch[1]) + rule.value * self.scale, rule.spread * self.scale

    def at(self, y: float, depth: Proportion, level: float | None = None) -> FloatArray:
        """The point at height y, a share of the depth (read at `level`) before the back skin."""
        z = self.shape.depth_at(y if level is None else level, depth.value)
        return np.array([self.shape.middle_at(y), y, z])

    def depth_spread(self, y: float, depth: Proportion) -> float:
        """One standard deviation of that depth."""
        return depth.spread * (self.shape.depth_at(y, 1.0) - self.shape.depth_at(y, 0.0))

    def decided(self, joint: str, prior: Cue) -> Placed:
        """A joint of the middle, from what the template says and what the whole trunk does."""
        middle = middle_net(list(self.nets.values())) if self.nets else None
        return _with_reading(prior, readings.read_joint("trunk", joint, middle, WHOLE_TRUNK))


def _with_reading(prior: Cue, read: readings.Reading | None) -> Placed:
    if read is None:
        return combine([prior])
    return combine([replace(prior, covariance=prior.covariance * read.defer**2), read.cue])


def place_trunk(
    shape: TrunkShape,
    nets: Mapping[str, TrunkNet],
    template: Template,
    counts: tuple[int, int],
    limb_joints: Mapping[str, FloatArray],
) -> dict[str, Placed]:
    """Decide the joints of trunk, neck and head.

    Args:
        shape: level cuts and landmarks, working frame. nets: both halves of it, by side;
            none leaves its shape unread.
        template: proportions.
        counts: number of spine joints, the chest counted, and of neck joints; at least one each.
        limb_joints: placed hips and shoulders, (3,) by name, as far as they exist.

    Returns:
        Places by name: pelvis, spine_1 ..., chest, neck, neck_2 ..., head, head_top, clavicles.
    """
    trunk = _Trunk(shape, nets, template, shape.span)
    placed = {"pelvis": _pelvis(trunk, limb_joints)}
    pelvis = placed["pelvis"].position
    neck = _neck(trunk)
    placed.update(_spine(trunk, counts[0], pelvis, neck.position))
    placed = in_one_plane({**placed, "neck": neck, "head": _head(trunk)})
    neck = placed["neck"]
    placed.update(_upper_neck(counts[1], neck, placed["head"]))
    top = np.array([placed["head"].position[0], shape.crown[1], placed["head"].position[2]])
    top[0] = shape.crown[0]
    placed["head_top"] = combine([cue("landmark", top, 0.006, "top of the head")])
    for side, sign in (("left", 1.0), ("right", -1.0)):
        placed[f"{side}_clavicle"] = _clavicle(trunk, side, sign)
    return placed


def in_one_plane(column: Mapping[str, Placed]) -> dict[str, Placed]:
    """The joints of the column in one plane from back to front, unless the trunk is bent sideways.

    The plane goes through the first joint and as near as may be to the others. A joint that is off
    it across the body by less than the spread of such a place is moved onto it, one that is off by
    twice that is kept, and one between moved in part, so that noise does not turn the axes that the
    trunk bends about.

    Args:
        column: joints from the pelvis upward, working frame.
    """
    at = np.array([placed.position for placed in column.values()])
    rise, aside = at[:, 1] - at[0, 1], at[:, 0] - at[0, 0]
    line = float(rise @ aside) / max(float(rise @ rise), 1e-12) * rise
    off = aside - line
    kept = np.clip(np.abs(off) / ASIDE - 1.0, 0.0, 1.0)
    moved = {}
    for (name, placed), x in zip(column.items(), at[0, 0] + line + kept * off, strict=True):
        moved[name] = replace(placed, position=np.array([x, *placed.position[1:]]))
    return moved


def _pelvis(trunk: _Trunk, limb_joints: Mapping[str, FloatArray]) -> Placed:
    rule, depth = trunk.template["pelvis_above_hip"], trunk.template["pelvis_depth"]
    hips = [limb_joints[n] for n in ("left_hip", "right_hip") if n in limb_joints]
    wider = 1.0 if len(hips) == 2 else WIDER
    if len(hips) == 2:
        hip_y = float(np.mean([hip[1] for hip in hips]))
        x = float(np.mean([hip[0] for hip in hips]))
    else:
        hip_y = trunk.height("hip_above_crotch")[0]
        x = trunk.shape.middle_at(hip_y + rule.value * trunk.scale)
    y = hip_y + rule.value * trunk.scale
    at = trunk.at(y, depth)
    at[0] = x
    spread = np.array([ASIDE, rule.spread * trunk.scale, trunk.depth_spread(y, depth)]) * wider
    return trunk.decided(
        "pelvis", cue("hip_centres", at, spread, "midway between the hips, a little above")
    )


def _neck(trunk: _Trunk) -> Placed:
    y, spread = trunk.height("neck_height")
    depth = trunk.template["neck_depth"]
    at = trunk.at(y, depth)
    return trunk.decided(
        "neck",
        cue(
            "template_prior",
            at,
            np.array([ASIDE, spread, trunk.depth_spread(y, depth)]),
            "base of the neck, share of the trunk; in the back half of the neck",
        ),
    )


def _upper_neck(count: int, neck: Placed, head: Placed) -> dict[str, Placed]:
    """Neck joints between the first and the head, as far apart as the bones of a neck, which are
    alike in height (common practice, no source)."""
    placed = {}
    for index in range(1, count):
        share = index / count
        at = (1.0 - share) * neck.position + share * head.position
        spread = (1.0 - share) * neck.spread + share * head.spread
        note = "evenly spaced between the neck's base and the head"
        placed[f"neck_{index + 1}"] = combine([cue("template_prior", at, spread, note)])
    return placed


def _head(trunk: _Trunk) -> Placed:
    rule, depth = trunk.template["head_height"], trunk.template["head_depth"]
    chin, crown = float(trunk.shape.chin[1]), float(trunk.shape.crown[1])
    whole = crown - chin
    carried = min(whole, LARGEST_HEAD * trunk.scale)
    # the skull's depth is read at the middle of the head, above nose and nape
    level = chin + 0.6 * whole
    at = trunk.at(chin + rule.value * carried, depth, level)
    if carried < whole:
        share = carried / whole
        at[2] = share * at[2] + (1.0 - share) * float(trunk.shape.neck[2])
    spread = np.array([ASIDE, rule.spread * whole, trunk.depth_spread(level, depth)])
    return trunk.decided(
        "head", cue("template_prior", at, spread, "where the skull sits on the neck")
    )


def _spine(trunk: _Trunk, spine: int, pelvis: FloatArray, neck: FloatArray) -> dict[str, Placed]:
    """Spine joints from the base to the chest, in the back part of the trunk."""
    template = trunk.template
    base_rule, chest_rule = template["spine_base"], template["chest_share"]
    low_depth, high_depth = template["spine_base_depth"], template["spine_middle_depth"]
    span = float(neck[1] - pelvis[1])
    base_y = float(pelvis[1]) + base_rule.value * span
    placed = {}
    names = [f"spine_{i + 1}" for i in range(spine - 1)] + ["chest"]
    for index, name in enumerate(names):
        share = 0.0 if spine == 1 else index / (spine - 1)
        along = chest_rule.value * (share if spine > 1 else 0.5)
        y = base_y + along * (float(neck[1]) - base_y)
        blend = min(along / 0.31, 1.0)  # T12/L1 is at .31 of the column (template's source)
        depth = Proportion(
            low_depth.value + blend * (high_depth.value - low_depth.value),
            low_depth.spread + blend * (high_depth.spread - low_depth.spread),
            "depth",
            high_depth.source,
        )
        spread = np.array([ASIDE, base_rule.spread * span, trunk.depth_spread(y, depth)])
        placed[name] = combine(
            [
                cue(
                    "template_prior",
                    trunk.at(y, depth),
                    spread,
                    "spacing of the column; in the back part of the trunk",
                )
            ]
        )
    return placed


def _clavicle(trunk: _Trunk, side: str, sign: float) -> Placed:
    y, spread = trunk.height("clavicle_height")
    half, depth = trunk.template["clavicle_half_width"], trunk.template["clavicle_depth"]
    at = trunk.at(y, depth)
    at[0] += sign * half.value * trunk.scale
    spreads = np.array([half.spread * trunk.scale, spread, trunk.depth_spread(y, depth)])
    note = "joint of collar bone and breast bone"
    read = readings.read_joint("trunk", "clavicle", trunk.nets.get(side), WHOLE_TRUNK)
    if read is None:
        return combine([cue("template_prior", at, spreads, note)])
    prior = cue("template_prior", at, spreads * np.array([read.defer, read.defer, 1.0]), note)
    return combine([prior, read.doubted(np.array([0.0, 0.0, CLAVICLE_DEPTH_DOUBT]))])
