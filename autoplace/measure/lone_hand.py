"""A hand alone, with or without some forearm: which end is the arm's, and where the wrist is.

Fingers are thinner than the arm they end on and end round where an arm is cut off, so the arm's end
is looked for at the thickest and bluntest of the ends of the mesh's longest two axes. From there
the hand is measured as at the end of an arm, with the wrist guessed nearer and nearer to the
fingers until a hand shows, and then again from the wrist, direction and length that were found,
until they stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import ConvexHull

from autoplace.measure.hand_shape import HandAtWrist, HandShape, WristHint
from autoplace.measure.not_found import NotFound
from autoplace.measure.solid import Solid, fill_solid

__all__ = [
    "as_side",
    "find_lone_hand",
    "hand_solid",
    "has_thumb",
    "lone_pieces",
    "side_shown",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELLS = 56
"""Coarse cells along the mesh: three across a finger of a hand without a forearm."""
PIECE = 0.2
"""A second piece is another hand from this share of the first one's volume on; less is a ring, a
nail or a cuff (common practice, no source)."""
END = 0.12
"""How much of the length, at either end of an axis, shows how thick that end is."""
SHARES = (1.0, 0.75, 0.56, 0.42, 0.3)
"""The hand's share of the mesh's length that is tried: from no forearm to a whole one, which is 1.4
hands long (forearm .154 of stature by de Leva 1996, hand .11), each within a third of the next."""
ROUNDS = 4
"""Most measurements from what the one before found."""
STAYS = 0.03
"""A wrist that moves by less than this share of the hand has arrived."""
CONVEX = 0.9
"""Share of its convex hull that a lump fills, however it is turned: a block or a ball all of it,
our own synthetic hands of even number, mittens and fists among them, .35 to .72."""
FULLEST, THICKEST = 0.6, 0.25
"""Share of its box that a hand fills at most, a fist with its forearm some .5 of it; and half its
thickness at most, share of its length: .1 of an ordinary hand (common practice, no source)."""
TIP = 0.04
"""How much of it shows how blunt that end is: the outermost sections against those further in."""
CLEARLY = 1.2
"""An end this many times as thick and blunt as the other is the arm's, be the hand a mitten: a
wrist is about twice as thick as the fingers side by side (common practice, no source)."""
LEAST_LEAD = 0.05
"""By how much a thumb stands out from the other fingers: by .1 and more on the invented hands with
even numbers, mostly by .3; of a figure's limbs, which may pass for fingers, mostly 0."""
THUMB_WEB, THUMB_WEB_SPREAD = 0.5, 0.12
"""Where the web of the thumb lies between the wrist and the end of the longest finger: mostly .43
to .58 on our own synthetic hands, .3 on some mittens."""
CLOSE_ROW, ONE_ROW = 0.1, 0.2
"""Webs of the other fingers lie in one row, within this share of the hand: mostly within .09. At
most they are .19 apart, and then the thumb begins well before them..."""
THUMB_BEFORE = 0.085
"""...by .12 of the hand and more (further deals of the same hands). Of a figure that passes for a
hand, head down, the arms begin at one height: one for the thumb, one in the row with the legs."""
WITHIN = 0.04
"""A wrist is at least this share of the hand from the mesh's end: half a wrist's thickness (common
practice, no source)."""
LEAST = 0.75
"""Of its own length that a hand shows at least; what is shorter is no whole hand."""


@dataclass(frozen=True)
class _Start:
    """A direction to look for a hand in."""

    along: FloatArray
    """(3,) unit, from the arm to the fingers."""
    armlike: float
    """How thick and blunt the end is that is taken for the arm's."""
    clear: bool
    """Whether that is clearly more than at the other end."""


def hand_solid(vertices: FloatArray, faces: IntArray) -> Solid:
    """A coarse solid of the mesh (n, 3), (m, 3), in the mesh's own units."""
    used = vertices[faces].reshape(-1, 3)
    return fill_solid(vertices, faces, float(np.ptp(used, axis=0).max()) / CELLS)


def lone_pieces(vertices: FloatArray, faces: IntArray, solid: Solid) -> list[IntArray]:
    """The faces of each hand in a mesh, largest first; what is small goes with the nearest.

    Args:
        vertices: (n, 3). faces: (m, 3). solid: as `hand_solid` gives it.
    """
    labels, count = ndimage.label(solid.coverage > 0.35, np.ones((3, 3, 3)))
    if count < 2:
        return [faces]
    size = np.bincount(labels.ravel())[1:]
    large = np.argsort(-size, kind="stable")
    large = large[size[large] > PIECE * size[large[0]]]
    if len(large) < 2:
        return [faces]
    middles = vertices[faces].mean(axis=1)
    gaps = []
    for number in large:
        away = ndimage.distance_transform_edt(labels != number + 1)
        cells = np.round(solid.to_cells(middles)).astype(np.int64)
        cells = np.clip(cells, 0, np.array(away.shape) - 1)
        gaps.append(away[tuple(cells.T)])
    nearest = np.argmin(np.array(gaps), axis=0)
    return [faces[nearest == k] for k in range(len(large))]


def find_lone_hand(
    vertices: FloatArray,
    faces: IntArray,
    side: str | None,
    names: Sequence[str] | None = None,
) -> HandShape | NotFound:
    """Measure a hand that is all there is in a mesh, or with a piece of its forearm.

    Args:
        vertices: (n, 3) in any direction; about a hand is a tenth of the unit.
        faces: (m, 3) triangles, facing outward.
        side: 'left' or 'right': decides which face is called the palm. None takes it for a left
            one, and for a right one if no left one's thumb shows; `side_shown` then tells.
        names: finger names from the thumb on, to override those that follow from the count.

    Returns:
        The hand with most fingers that the mesh shows; NotFound says why there is none.
    """
    if side is None:
        shape = find_lone_hand(vertices, faces, "left", names)
        if isinstance(shape, NotFound) or not shape.hidden_thumb:
            return shape
        return find_lone_hand(vertices, faces, "right", names)
    solid = hand_solid(vertices, faces)
    cells = _cells_of(solid)
    if len(cells) < 60:
        return NotFound(f"{side} hand", "the mesh encloses hardly any volume")
    if _is_lump(solid, cells):
        return NotFound(f"{side} hand", "it is one lump, from which no fingers stand out")
    found: list[HandShape] = []
    why: NotFound | None = None
    for start in _starts(solid, cells):
        shape = _from(vertices, faces, cells, start, side, names)
        if isinstance(shape, NotFound):
            why = why or shape
            continue
        found.append(shape)
        if shape.finger_count > 2 or start.clear:
            break
    if not found:
        return why or NotFound(f"{side} hand", "no end of it looks like an arm's")
    return max(found, key=lambda shape: shape.finger_count)  # of equals the thicker arm's


def as_side(
    shape: HandShape,
    vertices: FloatArray,
    faces: IntArray,
    side: str,
    names: Sequence[str] | None = None,
) -> HandShape | NotFound:
    """The same hand measured as one of the given side, with other names if given."""
    wrist = shape.wrist_hint.position
    again = HandAtWrist(vertices, faces, wrist, shape.along, shape.length, side, names).measure()
    if isinstance(again, NotFound):
        return again
    return _wrist_inside(again, _cells_of(hand_solid(vertices, faces)))


def has_thumb(shape: HandShape) -> bool:
    """Whether one finger stands out as the thumb and the others begin in one row.

    The limbs of a whole figure may pass for the fingers of a hand, but not for such ones. Of two
    fingers one is always the thumb; one alone, as of a mitten without a thumb, may be anything.
    """
    if "thumb" not in shape.fingers or shape.finger_count < 3:
        return "thumb" in shape.fingers
    webs = [line.web for name, line in shape.fingers.items() if name != "thumb"]
    row = float(np.ptp(webs)) / shape.length
    before = (min(webs) - shape.fingers["thumb"].web) / shape.length
    in_row = row < CLOSE_ROW or (row < ONE_ROW and before > THUMB_BEFORE)
    return shape.thumb_lead > LEAST_LEAD and in_row


def side_shown(shape: HandShape) -> float:
    """How clearly a hand is of the side it was measured as, from 1 down to -1, where it is clearly
    of the other: the chances of the one less those of the other."""
    likely = shape.likely_side
    clearly = 2.0 * likely.sure - 1.0
    return clearly if likely.side == shape.side else -clearly


def _is_lump(solid: Solid, cells: FloatArray) -> bool:
    """Whether a mesh fills its own box or hull or is as thick as long, as no hand is."""
    offset = cells - cells.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov(offset.T))
    sizes = np.ptp(offset @ axes, axis=0) + solid.cell
    filled = len(cells) * solid.cell**3 / float(np.prod(sizes))
    if filled > FULLEST or float(solid.depth.max()) > THICKEST * float(sizes.max()):
        return True
    # the box's directions are anyone's guess where two sizes are alike; a hull has none
    flat = sizes.min() < 3.0 * solid.cell
    hull = np.inf if flat else float(ConvexHull(cells).volume)
    return len(cells) * solid.cell**3 > CONVEX * hull


def _starts(solid: Solid, cells: FloatArray) -> list[_Start]:
    """Both ways along the two longest axes, the likeliest arm's end first."""
    middle = cells.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((cells - middle).T))
    depth = solid.depth_at(cells)
    starts = []
    for axis in (axes[:, 2], axes[:, 1]):
        place = (cells - middle) @ axis
        low, high = _armlike(place, depth), _armlike(-place, depth)
        starts.append(_Start(axis, low, low > CLEARLY * high))
        starts.append(_Start(-axis, high, high > CLEARLY * low))
    return sorted(starts, key=lambda start: -start.armlike)


def _armlike(place: FloatArray, depth: FloatArray) -> float:
    """How thick and blunt the low end along an axis is: an arm is cut off, a hand ends round.

    `place` (k,) are the cells' along the axis, `depth` (k,) under the surface.
    """
    way = (place - place.min()) / float(np.ptp(place))
    thickness = float(np.percentile(depth[way < END], 95))
    outer = np.count_nonzero(way < TIP) / TIP
    inner = np.count_nonzero((way > END - TIP) & (way < END)) / TIP
    return thickness * (0.5 + 0.5 * min(outer / max(inner, 1), 1.0))


def _from(
    vertices: FloatArray,
    faces: IntArray,
    cells: FloatArray,
    start: _Start,
    side: str,
    names: Sequence[str] | None,
) -> HandShape | NotFound:
    """The hand that shows when the arm is taken to begin at one end."""
    why: NotFound | None = None
    place = cells @ start.along
    whole = float(np.ptp(place))
    for share in SHARES:
        length = share * whole
        wrist = _middle_at(cells, place, float(place.max()) - length)
        shape = HandAtWrist(vertices, faces, wrist, start.along, length, side, names).measure()
        if isinstance(shape, NotFound):
            why = why or shape
            continue
        settled = _settled(vertices, faces, cells, shape, side, names)
        if settled is not None:
            return settled
        why = why or NotFound(f"{side} hand", "its fingers and its wrist do not belong together")
    return why or NotFound(f"{side} hand", "no hand shows")


def _settled(
    vertices: FloatArray,
    faces: IntArray,
    cells: FloatArray,
    shape: HandShape,
    side: str,
    names: Sequence[str] | None,
) -> HandShape | None:
    """The hand measured again from what was found, until the wrist stays; None if it does not
    lie in the mesh as a whole."""
    wrist = shape.wrist_hint.position
    if shape.finger_count == 2 and "thumb" in shape.fingers:
        return _settled_by_thumb(vertices, faces, cells, shape, side, names)
    for _ in range(ROUNDS):
        place = cells @ shape.along
        at = float(wrist @ shape.along)
        if at < place.min():
            wrist = _middle_at(cells, place, float(place.min()))
        again = HandAtWrist(
            vertices, faces, wrist, shape.along, shape.length, side, names
        ).measure()
        if isinstance(again, NotFound):
            break
        moved = float(np.linalg.norm(again.wrist_hint.position - wrist))
        shape, wrist = again, again.wrist_hint.position
        if moved < STAYS * shape.length:
            break
    seen = float(np.ptp(cells @ shape.along))
    return _wrist_inside(shape, cells) if seen > LEAST * shape.length else None


def _settled_by_thumb(
    vertices: FloatArray,
    faces: IntArray,
    cells: FloatArray,
    shape: HandShape,
    side: str,
    names: Sequence[str] | None,
) -> HandShape | None:
    """A mitten measured again from where its thumb begins.

    It has no second finger to tell the palm's length by, so that the wrist would stay wherever it
    was guessed.
    """
    thumb = shape.fingers["thumb"]
    longest = max(shape.fingers.values(), key=lambda line: line.tip_distance)
    length = (longest.tip_distance - thumb.web) / (1.0 - THUMB_WEB)
    place = cells @ shape.along
    wrist = _middle_at(cells, place, float(longest.tip @ shape.along) - length)
    again = HandAtWrist(vertices, faces, wrist, shape.along, length, side, names).measure()
    if isinstance(again, NotFound):
        return None
    spread = float(np.hypot(again.wrist_hint.spread, THUMB_WEB_SPREAD * length))
    again = replace(again, wrist_hint=replace(again.wrist_hint, spread=spread))
    seen = float(np.ptp(cells @ again.along))
    return _wrist_inside(again, cells) if seen > LEAST * again.length else None


def _wrist_inside(shape: HandShape, cells: FloatArray) -> HandShape:
    """The hand with its wrist at the mesh's end, should the hand be cut off beyond the wrist."""
    place = cells @ shape.along
    first = float(place.min()) + WITHIN * shape.length
    if float(shape.wrist_hint.position @ shape.along) >= first:
        return shape
    note = "the mesh ends beyond the wrist, so the joint stands at its end"
    spread = float(np.hypot(shape.wrist_hint.spread, WITHIN * shape.length))
    hint = WristHint(_middle_at(cells, place, first), spread, note)
    return replace(shape, wrist_hint=hint)


def _cells_of(solid: Solid) -> FloatArray:
    """(k, 3) middles of the cells inside."""
    return solid.to_points(np.argwhere(solid.inside))


def _middle_at(cells: FloatArray, place: FloatArray, at: float) -> FloatArray:
    """(3,) middle of the section through the cells at a place along an axis."""
    slab = 0.03 * float(np.ptp(place))
    near = np.abs(place - max(at, float(place.min()) + slab)) <= slab
    return np.asarray(cells[near].mean(axis=0) if near.any() else cells.mean(axis=0))
