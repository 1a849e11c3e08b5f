"""The shape of a hand: its fingers by name, its palm plane and side, and where the wrist shows.

Everything is measured at the hand's own resolution from the volume around the approximate wrist.
The thumb is told from the other fingers by its web (nearest to the wrist), its direction (apart
from the others), its end (nearest to the wrist) and its thickness; with the side known, the thumb
tells palm from back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.finger_back import BackProfile, trace_back
from autoplace.measure.finger_branches import Web
from autoplace.measure.finger_line import FingerLine, finger_cells, trace_finger
from autoplace.measure.finger_order import (
    FingerOrder,
    HandSide,
    bend_towards,
    order_fingers,
    palm_signs,
)
from autoplace.measure.finger_pieces import bridge_pieces
from autoplace.measure.finger_webs import from_webs
from autoplace.measure.hand_contact import ArmCells
from autoplace.measure.hand_fingers import FingerTeller
from autoplace.measure.hand_pieces import without_worn
from autoplace.measure.hand_region import HandRegion, find_hand_box
from autoplace.measure.hand_wrist import WristHint, find_wrist
from autoplace.measure.mitten import broadness, lone_finger, root_cells
from autoplace.measure.not_found import NotFound
from autoplace.measure.palm_plane import palm_across

__all__ = [
    "FINGER_NAMES",
    "HAND_GUESSES",
    "HAND_TO_FOREARM",
    "HandAtWrist",
    "HandShape",
    "HandSide",
    "WristHint",
    "hand_side",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FINGER_NAMES = {
    1: ("middle",),
    2: ("thumb", "middle"),
    3: ("thumb", "index", "pinky"),
    4: ("thumb", "index", "middle", "pinky"),
    5: ("thumb", "index", "middle", "ring", "pinky"),
}
"""Names by position from the thumb, by number of fingers (design of the skeleton)."""

HAND_TO_FOREARM = 0.70
"""Hand's length to the forearm's: .108 / .154 of stature (US Army 2012 survey; de Leva 1996)."""
HAND_GUESSES = (1.0, 0.6, 1.6)
"""Factors on that guess, tried in order until a hand is found: drawn hands are up to half as long
again, and a guess serves within a third (common practice, no source)."""
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
CLOSED = 2.1
"""Bend of the fingers' ends from the hand's own direction on, radians, at which it counts as
closed: the bends of a fist add up to more than two right angles, those of a relaxed hand to 95
degrees (references: 45, 30 and 20), and those of curled invented hands to 114 at most."""
STUB, FAR_OUT = 5.2, 0.78
"""Fingers shorter than the first, in radii, that begin farther out than the second, share of the
way from the arm to their ends, are what is seen of a fist whose fingers are grown to the palm or
the thumb (own invented hands of even number and of a further deal: four of 151 open hands)."""
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
    """How much more than the runner-up one finger looks like a thumb; below 0.3 is doubtful."""
    likely_side: HandSide
    """Left or right as the shape itself shows it, whatever it was measured as."""
    closed: bool = False
    """True for a fist."""
    folded: bool = False
    """True for a fist of which only stubs of fingers are seen."""
    hidden_thumb: bool = False
    """True where four fingers are seen and no thumb, so that one is taken to be grown to them."""
    told: bool = False
    """True where the other hand told how many fingers to look for."""
    joints: tuple[FloatArray, ...] = ()
    """(3,) places where rigid pieces of the hand meet."""
    notes: tuple[str, ...] = ()

    @property
    def finger_count(self) -> int:
        """Number of fingers, the thumb included."""
        return len(self.fingers)

    @property
    def expected_count(self) -> int:
        """The same with a thumb that is grown to the others."""
        return len(self.fingers) + self.hidden_thumb

    def skin_beyond(self, point: FloatArray, direction: FloatArray, reach: float) -> float | None:
        """Way from a point inside to the surface along a direction; None when not met."""
        steps = np.arange(0.0, reach, 0.1 * self.region.solid.cell)
        places = self.region.to_hand(point + steps[:, None] * direction)
        outside = self.region.solid.sample(places) < 0.5
        if outside[0] or not outside.any():
            return None
        return float(steps[int(np.argmax(outside))])


class HandAtWrist:
    """One hand of a character, which can be measured with any number of fingers to look for.

    Where it lies and what fills it is kept from one number to the next.
    """

    def __init__(
        self,
        vertices: FloatArray,
        faces: IntArray,
        wrist: FloatArray,
        forearm_direction: FloatArray,
        hand_length_guess: float,
        side: str,
        names: Sequence[str] | None = None,
        body: ArmCells | None = None,
    ) -> None:
        """Find where the hand lies.

        Args:
            vertices: (n, 3) surface of the body, working frame.
            faces: (m, 3) triangles, facing outward; may be open, overlapping, unwelded, in pieces.
            wrist: (3,) approximate wrist, within a quarter of a hand along the forearm.
            forearm_direction: (3,) from the elbow to the wrist, within about 15 degrees of the
                hand.
            hand_length_guess: wrist to fingertip, within about a third.
            side: 'left' or 'right', the character's own.
            names: finger names from the thumb on, to override those that follow from the count.
            body: the body's cells by arm and rest, to part a hand from the thigh that it touches.
        """
        self._guess, self._side, self._names = hand_length_guess, side, names
        faces = without_worn(vertices, faces, wrist, forearm_direction, hand_length_guess)
        vertices, faces, self._joints = bridge_pieces(
            vertices, faces, wrist, forearm_direction, hand_length_guess
        )
        box = find_hand_box(vertices, faces, wrist, forearm_direction, hand_length_guess, body)
        self._teller = None if box is None else FingerTeller(box, hand_length_guess)

    def measure(self, count: int | None = None) -> HandShape | NotFound:
        """Measure it.

        Args:
            count: fingers, the thumb included, that it must show; names need none.

        Returns:
            The hand, or NotFound when there is no hand or it does not split into fingers.
        """
        side, names = self._side, self._names
        told = None
        if self._teller is not None:
            told = self._teller.tell(count if names is None else len(names))
        if told is None:
            return NotFound(f"{side} hand", "nothing solid lies beyond the wrist")
        region, graph, branches, webs = told.region, told.graph, told.branches, told.webs
        if not len(graph.index) or graph.points[:, 1].max() < 0.3 * self._guess:
            return NotFound(f"{side} hand", "the arm ends at the wrist")
        notes: list[str] = []
        if not branches:
            branches = [lone_finger(graph)]
            notes.append(
                "the hand shows no separate fingers: one finger is placed for all, thumb left out"
            )
        traced = [
            (number, line)
            for number, (branch, cells) in enumerate(
                zip(branches, finger_cells(graph, branches), strict=True)
            )
            if (line := trace_finger(graph, branch, *cells)) is not None
        ]
        if len(traced) > 5:
            notes.append(f"{len(traced)} finger-like branches found; the five longest are kept")
            traced = sorted(sorted(traced, key=lambda t: -t[1].length)[:5], key=lambda t: t[0])
        if not traced:
            return NotFound(f"{side} hand", "the hand does not split into fingers")
        found = FingerOrder([0], 1.0)
        if len(traced) > 1:
            seen = names is not None or count == len(traced)
            found = order_fingers([line for _, line in traced], side, seen=seen)
        named = tuple(names) if names is not None else FINGER_NAMES[len(traced)]
        if not found.seen:
            named = FINGER_NAMES[len(traced) + 1][1:]
            notes.append(
                "no thumb shows beside the four fingers: it is placed by proportions alone"
            )
        elif found.doubtful:
            notes.append("the thumb does not stand out clearly from the other fingers")
        if count not in (None, len(named) + (not found.seen)):
            why = f"{len(traced)} fingers found, but not {count}"
            return NotFound(f"{side} hand", why, len(traced))
        if len(named) != len(traced):
            why = f"{len(traced)} fingers found, but {len(named)} names given"
            return NotFound(f"{side} hand", why, len(traced))
        if named == ("thumb",):
            return NotFound(f"{side} hand", "its only finger is no thumb; name it middle")
        numbers = [traced[k][0] for k in found.order]
        lines = dict(zip(named, (traced[k][1] for k in found.order), strict=True))
        cells = {
            name: graph.points[branches[number].cells]
            for name, number in zip(lines, numbers, strict=True)
        }
        shape = _shape(region, cells, webs, numbers, lines, side, found, notes)
        return replace(shape, joints=self._joints)


def hand_side(
    vertices: FloatArray,
    faces: IntArray,
    wrist: FloatArray,
    forearm_direction: FloatArray,
    hand_length_guess: float,
) -> HandSide | NotFound:
    """Tell from its shape alone whether a hand is a left or a right one.

    Args:
        vertices, faces, wrist, forearm_direction, hand_length_guess: as for `HandAtWrist`.

    Returns:
        The side and how sure it is, or NotFound where there is no hand. A mitten without a thumb
        shows nothing: .5.
    """
    shape = HandAtWrist(
        vertices, faces, wrist, forearm_direction, hand_length_guess, "left"
    ).measure()
    return shape if isinstance(shape, NotFound) else shape.likely_side


def _shape(
    region: HandRegion,
    cells: dict[str, FloatArray],
    webs: list[Web],
    numbers: list[int],
    lines: dict[str, FingerLine],
    side: str,
    order: FingerOrder,
    notes: list[str],
) -> HandShape:
    """Put the measured hand together and turn it to the working frame."""
    name_of = dict(zip(numbers, lines, strict=True))
    lines, found_webs = from_webs(region.solid, webs, name_of, lines)
    roots = {name: line.at(0.0) for name, line in lines.items()}
    others = [name for name in lines if name != "thumb"]
    middle = np.mean([roots[name] for name in others], axis=0)
    longest = max((lines[name] for name in others), key=lambda line: line.tip_distance)
    guess = longest.length / VISIBLE_FINGER if len(others) > 1 else float(longest.tip[1])
    hint = find_wrist(region, middle, guess)
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
        only = others[0]
        broad, span, thick = broadness(root_cells(cells[only], lines[only]), lines[only].root_aim)
        mitten = bool(span > MITTEN_BREADTH * thick)
        if not mitten and "thumb" in lines:
            broad = lines["thumb"].at(0.0) - roots[only]
        along, across = _square(along, broad)
        signs = palm_signs(lines.get("thumb"), [lines[only]], along, across, side)
        across = across * np.sign(signs.lateral + signs.palmward or 1.0)
        # the web of the thumb is no mark for the knuckles of the others: count from where their
        # own web would be
        lines[only] = lines[only].starting_at(lines[only].length - VISIBLE_FINGER * length)
    signs = palm_signs(lines.get("thumb"), [lines[n] for n in others], along, across, side)
    normal = np.cross(along, across) * (1.0 if side == "left" else -1.0)
    folded = _is_folded([lines[name] for name in others])
    bend = np.mean([bend_towards(lines[name], along, normal) for name in others])
    closed = folded or bool(bend > CLOSED)
    if closed:
        notes = [*notes, "the hand is closed: its finger joints are expected more than seen"]
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
            thumb=True,
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
        thumb_lead=order.lead,
        likely_side=order.side(signs.side(side), side),
        closed=closed,
        folded=folded,
        hidden_thumb=not order.seen,
        notes=tuple(notes),
    )


def _is_folded(lines: list[FingerLine]) -> bool:
    """Whether a hand's fingers other than the thumb are folded and grown to it."""
    size = np.median([line.length / line.typical_radius() for line in lines])
    begin = np.median([line.web / line.tip_distance for line in lines])
    return bool(size < STUB and begin > FAR_OUT)


def _square(along: FloatArray, across: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both as unit directions, the second at right angles to the first."""
    along = along / np.linalg.norm(along)
    across = across - along * np.dot(across, along)
    return along, across / np.linalg.norm(across)


def _turned(line: FingerLine, region: HandRegion) -> FingerLine:
    """A finger's line in the working frame."""
    return replace(
        line,
        points=region.to_working(line.points),
        tangents=line.tangents @ region.rotation,
    )
