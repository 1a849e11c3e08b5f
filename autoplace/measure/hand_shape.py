"""The shape of a hand: its fingers by name, its palm plane and side, and where the wrist shows.

Everything is measured at the hand's own resolution from the volume around the approximate wrist.
The thumb is told from the other fingers by its web (nearest to the wrist), its direction (apart
from the others), its end (nearest to the wrist) and its thickness; with the side known, the thumb
tells palm from back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import DEPTH_CAP, CellGraph, build_graph
from autoplace.measure.finger_back import BackProfile, trace_back
from autoplace.measure.finger_branches import Branch, Web, find_branches
from autoplace.measure.finger_line import FingerLine, finger_cells, trace_finger
from autoplace.measure.finger_webs import web_between
from autoplace.measure.hand_region import HandRegion, cut_hand
from autoplace.measure.hand_wrist import WristHint, find_wrist
from autoplace.measure.not_found import NotFound
from autoplace.measure.palm_plane import palm_across

__all__ = ["FINGER_NAMES", "HandShape", "WristHint", "measure_hand"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FINGER_NAMES = {
    2: ("thumb", "middle"),
    3: ("thumb", "index", "pinky"),
    4: ("thumb", "index", "middle", "pinky"),
    5: ("thumb", "index", "middle", "ring", "pinky"),
}
"""Names by position from the thumb, by number of fingers (design of the skeleton)."""

VISIBLE_FINGER = 0.445
"""Middle finger from where its web is as thick as a finger, share of the hand: .40 from the crease
(references: ANSUR II palm / hand .60) and a radius more, .045."""
BASE_ALONG = 0.073
"""Bases of the metacarpals beyond the wrist, share of hand length (Buchholz et al. 1992)."""
BASE_ACROSS = (0.126, -0.223)
"""Bases of the index and the little finger's metacarpal towards the thumb's side, share of hand
breadth (Buchholz et al. 1992)."""
THUMB_BASE = (0.12, 0.14)
"""Base of the thumb's metacarpal to its own side and beyond the wrist, share of hand length:
(.09, .07) in Buchholz et al. 1992, (.14, .18) in the dataset's young women."""
CORE = 0.45
"""Depth of the core by which fingers are told apart, in radii of a finger. Two round fingers that
overlap by a tenth of their breadth are joined by a bridge of .44 radii to either side."""
MITTEN_BREADTH = 1.3
"""Breadth to thickness above which a lone finger beside a thumb is a mitten's body: one finger is
about round, four side by side are three to four times as broad as thick."""


@dataclass(frozen=True)
class HandShape:
    """A measured hand. Points and directions are in the working frame."""

    side: str
    """'left' or 'right'."""
    fingers: dict[str, FingerLine]
    """Centrelines by finger name, thumb first."""
    backs: dict[str, BackProfile]
    """The skin along the back of the fingers, where it could be followed. The back of the thumb is
    the side that looks away from the other fingers."""
    webs: tuple[tuple[str, str, FloatArray], ...]
    """The two fingers on either side of each web, and its (3,) place."""
    along: FloatArray
    """(3,) unit, from the wrist to the roots of the fingers."""
    across: FloatArray
    """(3,) unit, to the thumb's side, at right angles to `along`."""
    palm_normal: FloatArray
    """(3,) unit, out of the palm."""
    wrist_hint: WristHint
    length: float
    """From the wrist hint to the end of the longest finger, along the finger."""
    breadth: float
    """Across the roots of the fingers, thumb left out."""
    mitten: bool
    """True when the fingers other than the thumb share one sheath."""
    region: HandRegion
    """The hand's own volume, for looking up surfaces."""
    thumb_lead: float
    """How much clearer than the runner-up the thumb was told; below 0.3 is doubtful."""
    notes: tuple[str, ...] = ()

    @property
    def finger_count(self) -> int:
        """Number of fingers, the thumb included."""
        return len(self.fingers)

    def skin_beyond(self, point: FloatArray, direction: FloatArray, reach: float) -> float | None:
        """Way from a point inside to the surface along a direction; None when not met."""
        steps = np.arange(0.0, reach, 0.1 * self.region.solid.cell)
        places = self.region.to_hand(point + steps[:, None] * direction)
        outside = self.region.solid.sample(places) < 0.5
        if outside[0] or not outside.any():
            return None
        return float(steps[int(np.argmax(outside))])


def measure_hand(
    vertices: FloatArray,
    faces: IntArray,
    wrist: FloatArray,
    forearm_direction: FloatArray,
    hand_length_guess: float,
    side: str,
    names: Sequence[str] | None = None,
) -> HandShape | NotFound:
    """Measure one hand.

    Args:
        vertices: (n, 3) surface of the body, working frame.
        faces: (m, 3) triangles, facing outward; may be open, overlapping, unwelded, in pieces.
        wrist: (3,) approximate wrist, within a quarter of a hand along the forearm.
        forearm_direction: (3,) from the elbow to the wrist, within about 15 degrees of the hand.
        hand_length_guess: wrist to fingertip, within about a third.
        side: 'left' or 'right', the character's own.
        names: finger names from the thumb on, to override those that follow from the count.

    Returns:
        The hand, or NotFound when there is no hand or it does not split into fingers.
    """
    region = cut_hand(vertices, faces, wrist, forearm_direction, hand_length_guess)
    if region is None:
        return NotFound(f"{side} hand", "nothing solid lies beyond the wrist")
    graph = build_graph(region.solid, -0.2 * hand_length_guess)
    if not len(graph.index) or graph.points[:, 1].max() < 0.3 * hand_length_guess:
        return NotFound(f"{side} hand", "the arm ends at the wrist")
    branches, webs = _branches(graph)
    traced = [
        (number, line)
        for number, (branch, cells) in enumerate(
            zip(branches, finger_cells(graph, branches), strict=True)
        )
        if (line := trace_finger(graph, branch, *cells)) is not None
    ]
    notes: list[str] = []
    if len(traced) > 5:
        notes.append(f"{len(traced)} finger-like branches found; the five longest are kept")
        traced = sorted(sorted(traced, key=lambda t: -t[1].length)[:5], key=lambda t: t[0])
    if len(traced) < 2:
        return NotFound(f"{side} hand", "the hand does not split into fingers")
    order, lead = _from_thumb([line for _, line in traced])
    named = tuple(names) if names is not None else FINGER_NAMES[len(traced)]
    if len(named) != len(traced):
        return NotFound(
            f"{side} hand", f"{len(traced)} fingers found, but {len(named)} names given"
        )
    if lead < 0.3:
        notes.append("the thumb does not stand out clearly from the other fingers")
    numbers = [traced[k][0] for k in order]
    lines = dict(zip(named, (traced[k][1] for k in order), strict=True))
    cells = {number: graph.points[branches[number].cells] for number in numbers}
    return _shape(region, cells, webs, numbers, lines, side, lead, notes)


def _branches(graph: CellGraph) -> tuple[list[Branch], list[Web]]:
    """Fingers found by their cores, as thick as the fingers allow; or by all cells, if more."""
    reach = float(graph.distance.max())
    outer = (graph.distance > 0.75 * reach) & (graph.distance < 0.9 * reach)
    thickness = float(np.percentile(graph.depth[outer], 98)) if outer.any() else 0.0
    core = min(CORE * thickness, DEPTH_CAP - 0.5)
    cored = find_branches(graph, 0.0, core)
    if len(cored[0]) == 5:
        return cored
    plain = find_branches(graph, 0.0)
    return cored if len(cored[0]) >= len(plain[0]) else plain


def _from_thumb(lines: list[FingerLine]) -> tuple[list[int], float]:
    """Numbers of the fingers from the thumb to the other side, and how clear the thumb is."""
    roots = np.array([line.points[0] for line in lines])
    tips = np.array([line.tip for line in lines])
    aims = np.array([_aim(line) for line in lines])
    reach = max(line.tip_distance for line in lines) - min(line.web for line in lines)
    webs = np.array([line.web for line in lines])
    ends = np.array([line.tip_distance for line in lines])
    girths = np.array([line.typical_radius() for line in lines])
    scores = []
    for k in range(len(lines)):
        rest = [j for j in range(len(lines)) if j != k]
        mean = aims[rest].mean(axis=0)
        cosine = np.dot(aims[k], mean / np.linalg.norm(mean))
        scores.append(
            1.0 * (np.median(webs[rest]) - webs[k]) / reach
            + 0.5 * (np.median(ends[rest]) - ends[k]) / reach
            + 0.5 * float(np.degrees(np.arccos(np.clip(cosine, -1, 1)))) / 45.0
            + 0.3 * (girths[k] / np.median(girths[rest]) - 1.0)
        )
    if len(lines) == 2:
        # both webs are one and the same; the thumb is the shorter and slimmer of the two
        scores = [
            (ends[1 - k] - ends[k]) / reach + 0.5 * np.log(girths[1 - k] / girths[k])
            for k in range(2)
        ]
    ranked = np.argsort(scores)[::-1]
    thumb = int(ranked[0])
    rest = [j for j in range(len(lines)) if j != thumb]
    middles = 0.5 * (roots + tips)
    if len(rest) > 1:
        spot = middles[rest] + 0.5 * (roots[rest] - middles[rest])
        _, _, axes = np.linalg.svd(spot - spot.mean(axis=0))
        side = axes[0] * np.sign(np.dot(axes[0], spot.mean(axis=0) - roots[thumb]) or 1.0)
        rest = [rest[j] for j in np.argsort(spot @ side, kind="stable")]
    return [thumb, *rest], float(scores[thumb] - scores[int(ranked[1])])


def _aim(line: FingerLine) -> FloatArray:
    """(3,) unit direction of the first half of a finger."""
    aim = line.at(0.6 * line.length) - line.at(0.0)
    return np.asarray(aim / np.linalg.norm(aim))


def _shape(
    region: HandRegion,
    cells: dict[int, FloatArray],
    webs: list[Web],
    numbers: list[int],
    lines: dict[str, FingerLine],
    side: str,
    lead: float,
    notes: list[str],
) -> HandShape:
    """Put the measured hand together and turn it to the working frame."""
    name_of = dict(zip(numbers, lines, strict=True))
    lines, found_webs = _from_webs(region, webs, name_of, lines)
    roots = {name: line.at(0.0) for name, line in lines.items()}
    others = [name for name in lines if name != "thumb"]
    middle = np.mean([roots[name] for name in others], axis=0)
    longest = max((lines[name] for name in others), key=lambda line: line.tip_distance)
    guess = longest.length / VISIBLE_FINGER if len(others) > 1 else float(longest.tip[1])
    hint = find_wrist(region, float(middle[1]), guess)
    wrist = hint.position
    along = middle - wrist
    length = float(np.linalg.norm(longest.at(0.0) - wrist) + longest.length)
    mitten = False
    if len(others) > 1:
        along, across = _square(along, roots[others[0]] - roots[others[-1]])
        girth = 2.0 * float(np.median([lines[name].typical_radius() for name in others]))
        span = float(np.linalg.norm(roots[others[0]] - roots[others[-1]])) + girth
        bases = np.array([roots[name] for name in others])
        across = palm_across(region.solid, bases, along, across, length, girth)
    else:
        along, across = _square(along, _thumbward(lines, others[0], along))
        broad, span, thick = _broadness(cells[numbers[1]], along)
        mitten = bool(span > MITTEN_BREADTH * thick)
        if mitten:
            across = np.asarray(broad * np.sign(np.dot(broad, across) or 1.0))
        # the web of the thumb is no mark for the knuckles of the others: count from where their
        # own web would be
        only = others[0]
        lines[only] = lines[only].starting_at(lines[only].length - VISIBLE_FINGER * length)
    normal = np.cross(along, across) * (1.0 if side == "left" else -1.0)
    turned = {name: _turned(line, region) for name, line in lines.items()}
    backs = {}
    for place, name in enumerate(others):
        # the outer fingers' bases are those of index and pinky, the rest lie between
        part = place / max(len(others) - 1, 1) if len(others) > 1 else 0.4
        aside = BASE_ACROSS[0] + part * (BASE_ACROSS[1] - BASE_ACROSS[0])
        base = wrist + BASE_ALONG * length * along + aside * span * across
        back = trace_back(region, turned[name], region.to_working(base), normal @ region.rotation)
        if back is not None:
            backs[name] = back
    if "thumb" in lines:
        # the thumb bends across the hand, so its back looks to its own side
        offset = THUMB_BASE[0] * across + THUMB_BASE[1] * along
        back = trace_back(
            region,
            turned["thumb"],
            region.to_working(wrist + length * offset),
            -across @ region.rotation,
        )
        if back is not None:
            backs["thumb"] = back
    return HandShape(
        side=side,
        fingers=turned,
        backs=backs,
        webs=tuple((a, b, region.to_working(place)) for a, b, place in found_webs),
        along=along @ region.rotation,
        across=across @ region.rotation,
        palm_normal=normal @ region.rotation,
        wrist_hint=replace(hint, position=region.to_working(wrist)),
        length=length,
        breadth=span,
        mitten=mitten,
        region=region,
        thumb_lead=lead,
        notes=tuple(notes),
    )


def _from_webs(
    region: HandRegion,
    webs: list[Web],
    name_of: dict[int, str],
    lines: dict[str, FingerLine],
) -> tuple[dict[str, FingerLine], list[tuple[str, str, FloatArray]]]:
    """The fingers with lengths counted from their webs, and the webs."""
    met = {
        frozenset(name_of[number] for number in web.branches): web.point
        for web in webs
        if all(number in name_of for number in web.branches)
    }
    starts: dict[str, list[float]] = {name: [] for name in lines}
    found: list[tuple[str, str, FloatArray]] = []
    names = list(lines)
    for first, second in pairwise(names):
        by_thumb = first == "thumb"
        web = None if by_thumb else web_between(region.solid, lines[first], lines[second])
        if web is not None:
            starts[first].append(web.arc_first)
            starts[second].append(web.arc_second)
            found.append((first, second, web.point))
            continue
        point = met.get(frozenset((first, second)))
        if point is None:
            continue
        starts[first].append(lines[first].beside(point))
        if not by_thumb or len(lines) == 2:
            starts[second].append(lines[second].beside(point))
        found.append((first, second, point))
    counted = {
        name: line.starting_at(
            min(float(np.mean(starts[name])), 0.5 * line.length) if starts[name] else 0.0
        )
        for name, line in lines.items()
    }
    return counted, found


def _square(along: FloatArray, across: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both as unit directions, the second at right angles to the first."""
    along = along / np.linalg.norm(along)
    across = across - along * np.dot(across, along)
    return along, across / np.linalg.norm(across)


def _thumbward(lines: dict[str, FingerLine], other: str, along: FloatArray) -> FloatArray:
    """(3,) from the body of a mitten to its thumb, at right angles to the hand."""
    thumb, body = lines["thumb"], lines[other]
    gap = thumb.at(0.5 * thumb.length) - body.at(0.25 * body.length)
    return np.asarray(gap - along * np.dot(gap, along) / np.dot(along, along))


def _broadness(points: FloatArray, along: FloatArray) -> tuple[FloatArray, float, float]:
    """Broad direction (3,) of cells (k, 3) seen along a direction, breadth and thickness; as of an
    ellipse of the same second moments."""
    other = np.eye(3)[int(np.argmin(np.abs(along)))]
    first = np.cross(along, other)
    first /= np.linalg.norm(first)
    second = np.cross(along, first)
    values, axes = np.linalg.eigh(np.cov(np.stack([points @ first, points @ second])))
    broad = axes[0, 1] * first + axes[1, 1] * second
    return broad, float(4.0 * np.sqrt(values[1])), float(4.0 * np.sqrt(values[0]))


def _turned(line: FingerLine, region: HandRegion) -> FingerLine:
    """A finger's line in the working frame."""
    return replace(
        line,
        points=region.to_working(line.points),
        tangents=line.tangents @ region.rotation,
    )
