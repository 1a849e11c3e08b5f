"""The fingers of a hand by the depths of their cores, and a thumb that is grown to its neighbour.

Fingers that touch come apart when the cells near their surface are left out; how many cells, the
hand itself must tell. A thumb laid along the hand may be grown to the index finger up to its end,
and no core parts the two. Then the finger is twice as broad as thick up to there. Or its end alone
is grown to another's: then the two lie apart below.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import DEPTH_CAP, CellGraph
from autoplace.measure.finger_branches import (
    BEGIN_FOLDED,
    LEAST_LENGTH,
    LEVEL_WIDTH,
    Branch,
    BranchFinder,
    Web,
    begin_beyond,
    with_shell,
)

__all__ = ["MOST_FINGERS", "finger_depth", "hand_branches"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CORES = (0.45, 0.6, 0.75, 0.3, 0.9, 0.0)
"""Depths of the core by which fingers are told apart, in radii of a finger, in the order tried. Two
round fingers that overlap by a tenth of their breadth are joined by a bridge of .44 radii to either
side; fingers of few cells need a deeper core, thin ends a shallower one."""
FEW, MOST_CORE = 2.5, 0.8
"""Half the thickness of fingers of few cells, in cells; where they are of more, cores from this
share of it on tell nothing: a broad sheath comes apart into its corners."""
MOST_FINGERS = 5
"""Fingers of a hand."""
CLEAR_LENGTH = 0.1
"""A finger that is told apart along this share of the way from the arm on needs no other core: two
thirds of a thumb's distal phalanx (references: .158 of the hand's length)."""
ROW = 0.08
"""Fingers begin in one row within this share of the farthest distance from the wrist; a thumb that
stands off begins by .1 and more nearer to the wrist (own invented hands of even number)."""
SHORT = 0.82
"""A finger that ends nearer to the wrist than this share is a thumb: thumbs along the hand end at
.76 to .80, little fingers at .85 and more (own invented hands of even number)."""
OPEN_ROW = 0.77
"""Fingers that begin farther out than this share are folded: by Buchholz et al. 1992 the middle
joint lies .72 of the hand from the wrist, and the way begins .2 of the hand below it."""
TWO = 1.4
"""Breadth to thickness from which on a section is that of two fingers: two discs side by side that
overlap by a third of their breadth have about 1.7, and one finger is about round."""
MORE = 1.35
"""Such a section is at least this many times as large as that of the one finger above (the same two
discs: 1.8; a thumb's end is slim)."""
APART, RING = 2.24, 0.7
"""Breadth to thickness of two discs that touch, by their second moments the root of 5: more is two
apart; and how much of a branch is so where two fingers are grown together at their ends (own
invented hands of even number and of a further deal: .9 and more, of folded fingers .5 at most)."""
RING_LENGTH = 0.15
"""How far they lie apart at least, share of the way from the arm to the farthest end: a thumb's
distal phalanx (references: .158 of the hand's length); what is seen of a fist is shorter."""
WEB = 2
"""Lowest sections that the web may round: three cells, half a finger's radius."""
LEAST_SECTION = 5
"""Cells of a section that has a shape."""


def hand_branches(finder: BranchFinder, count: int | None = None) -> tuple[list[Branch], list[Web]]:
    """Fingers found by their cores: as many as any depth of core shows, but no more than five.

    Args:
        finder: of the hand's branches.
        count: how many fingers there should be: found if any depth shows just so many; of more
            folds of a fist the longest are taken.
    """
    graph = finder.graph
    branches, webs = _by_cores(finder, count, 0.0)
    if len(branches) == count:
        return branches, webs
    if count is not None and len(branches) > count and begin_beyond(graph, branches, BEGIN_FOLDED):
        return _longest(branches, webs, count)
    if 1 < len(branches) < MOST_FINGERS:
        parted = _part(graph, branches, webs, _ring)
        if parted is not None:
            return parted
    if not _thumbless(graph, branches):
        return branches, webs
    more = _by_cores(finder, count, 1.0)
    if len(more[0]) > len(branches):
        return more
    return _part(graph, branches, webs, _beside) or (branches, webs)


def _longest(
    branches: Sequence[Branch], webs: Sequence[Web], count: int
) -> tuple[list[Branch], list[Web]]:
    """So many of the fingers, in their order, and the webs between two of them."""
    long = np.argsort([branch.root - branch.tip for branch in branches], kind="stable")
    kept = sorted(int(k) for k in long[:count])
    place = {old: new for new, old in enumerate(kept)}
    both = [web for web in webs if set(web.branches) <= set(kept)]
    return [branches[k] for k in kept], [
        Web(web.point, web.distance, (place[web.branches[0]], place[web.branches[1]]))
        for web in both
    ]


def _thumbless(graph: CellGraph, branches: list[Branch]) -> bool:
    """Whether three or four fingers begin in one row, so that a thumb would be a fourth or fifth,
    pressed to the hand but for its end."""
    reach = float(graph.distance.max())
    if len(branches) not in (3, 4) or min(branch.tip for branch in branches) < SHORT * reach:
        return False
    roots = np.array([branch.root for branch in branches]) / reach
    return bool(np.ptp(roots) < ROW and roots.min() < OPEN_ROW)


def _by_cores(
    finder: BranchFinder, count: int | None, lost: float
) -> tuple[list[Branch], list[Web]]:
    """The same with fingers that are shorter by a share of the core's depth, which it takes off
    their ends."""
    graph = finder.graph
    reach = float(graph.distance.max())
    best: tuple[tuple[int, float], float, list[Branch], list[Web]] | None = None
    for core in _cores(graph, CORES):
        branches, webs = finder.find(core, lost * core)
        # more than a hand has fingers is worse than any number that it can have
        most = count or MOST_FINGERS
        count_worth = len(branches) if len(branches) <= most else -len(branches)
        shortest = min((branch.tip - branch.root for branch in branches), default=0.0) / reach
        # of cores that show as many, the one that shows all of them best
        worth = (count_worth, min(shortest, CLEAR_LENGTH))
        if best is None or worth > best[0]:
            best = (worth, core, branches, webs)
        if worth == (most, CLEAR_LENGTH):
            break
    if best is None:
        return [], []
    _, core, branches, webs = best
    if count is not None and len(branches) != count:
        return _by_cores(finder, None, lost)
    return with_shell(graph, branches, core), webs


def _cores(graph: CellGraph, shares: Sequence[float]) -> list[float]:
    """Depths of cores in cells, from shares of a finger's radius."""
    thickness = finger_depth(graph)
    most = 1.0 if thickness < FEW else MOST_CORE
    return [min(share * thickness, DEPTH_CAP - 0.5) for share in shares if share < most]


def finger_depth(graph: CellGraph) -> float:
    """How deep the middle of the fingers lies under the surface near their ends, in cells."""
    reach = float(graph.distance.max())
    outer = (graph.distance > 0.75 * reach) & (graph.distance < 0.9 * reach)
    return float(np.percentile(graph.depth[outer], 98)) if outer.any() else 0.0


def _part(
    graph: CellGraph,
    branches: Sequence[Branch],
    webs: Sequence[Web],
    second: Callable[[CellGraph, Branch], IntArray],
) -> tuple[list[Branch], list[Web]] | None:
    """Part the finger that is two.

    Args:
        graph: the hand's cells.
        branches: its fingers with their shells. webs: between them.
        second: gives the cells of a branch that belong to a second finger.

    Returns:
        One finger more, the new one last, with the web between the two added; None if no finger is
        two.
    """
    reach = float(graph.distance.max())
    best: tuple[float, int, IntArray] | None = None
    for number, branch in enumerate(branches):
        beside = second(graph, branch)
        long = float(np.ptp(graph.distance[beside])) if len(beside) else 0.0
        if long > LEAST_LENGTH * reach and (best is None or long > best[0]):
            best = (long, number, beside)
    if best is None:
        return None
    _, number, beside = best
    own = np.setdiff1d(branches[number].cells, beside)
    result = list(branches)
    root = branches[number].root
    result[number] = Branch(own, root, float(graph.distance[own].max()))
    result.append(Branch(beside, root, float(graph.distance[beside].max())))
    low = [cells[graph.distance[cells] < root + 3.0 * graph.solid.cell] for cells in (own, beside)]
    point = np.mean([graph.points[cells].mean(axis=0) for cells in low if len(cells)], axis=0)
    return result, [Web(point, root, (number, len(branches))), *webs]


def _beside(graph: CellGraph, branch: Branch) -> IntArray:
    """Cells of a branch that belong to a second finger beside it; none where it is round.

    From its end down the branch is round as far as it is one finger. Where the other one ends its
    section grows broad all at once, and is then halved down to the root.
    """
    sections, breadth, axes = _sections(graph, branch)
    size = np.array([len(section) for section in sections])
    return _halves(graph, sections, axes, _where_one_ends(breadth, size))


def _ring(graph: CellGraph, branch: Branch) -> IntArray:
    """Cells of a branch that belong to a second finger whose end is grown to the first one's, as
    where a thumb meets a fingertip; none where it is one finger.

    The two lie apart nearly all the way from the root on. A folded finger comes back beside itself
    for less of its way.
    """
    sections, breadth, axes = _sections(graph, branch)
    apart = _rounded(breadth > APART)
    top = len(apart) if apart.all() else int(np.argmin(apart))
    long = top * LEVEL_WIDTH * graph.solid.cell
    if top < RING * len(apart) or long < RING_LENGTH * float(graph.distance.max()):
        return np.zeros(0, dtype=np.int64)
    return _halves(graph, sections, axes, min(top, len(apart) - 1))


def _sections(
    graph: CellGraph, branch: Branch
) -> tuple[list[IntArray], FloatArray, list[FloatArray]]:
    """The cells of each section of a branch from its root on, breadth to thickness, and the (3,)
    direction of the breadth."""
    width = LEVEL_WIDTH * graph.solid.cell
    level = np.floor((graph.distance[branch.cells] - branch.root) / width).astype(np.int64)
    sections = [branch.cells[level == k] for k in range(int(level.max()) + 1)]
    sections = [section for section in sections if len(section) >= LEAST_SECTION]
    shape = [_breadth(graph.points[section]) for section in sections]
    return sections, np.array([one[0] for one in shape]), [one[1] for one in shape]


def _halves(
    graph: CellGraph, sections: Sequence[IntArray], axes: Sequence[FloatArray], top: int
) -> IntArray:
    """Cells of the lowest sections on the side away from the finger that goes on above them."""
    if top < 1:
        return np.zeros(0, dtype=np.int64)
    centre = graph.points[sections[top]].mean(axis=0)
    halves = []
    for section, axis in zip(sections[:top][::-1], axes[:top][::-1], strict=True):
        points = graph.points[section]
        side = (points - points.mean(axis=0)) @ axis
        mine = side > 0.0
        if np.dot(centre - points.mean(axis=0), axis) < 0.0:
            mine = ~mine
        halves.append(section[~mine])
        centre = points[mine].mean(axis=0)
    return np.sort(np.concatenate(halves))


def _rounded(broad: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The same with the lowest sections like the next: the flesh of the web rounds them."""
    return np.concatenate([broad[:WEB] | broad[WEB : WEB + 1].any(), broad[WEB:]])


def _where_one_ends(breadth: FloatArray, size: IntArray) -> int:
    """How many sections (k,) from the root on are those of two fingers; 0 where none are.

    Args:
        breadth: breadth to thickness of each section. size: its cells.
    """
    broad = _rounded(breadth > TWO)
    top = len(broad) if broad.all() else int(np.argmin(broad))
    # there must be a round finger left above, and much less of it than of both
    if not 0 < top < len(size) - 1:
        return 0
    both, one = np.median(size[:top]), np.median(size[top : 2 * top + 1])
    return top if both > MORE * one else 0


def _breadth(points: FloatArray) -> tuple[float, FloatArray]:
    """Breadth to thickness of a section's cells (k, 3) and the unit direction (3,) of its breadth;
    a level of equal distance is thin, so that its two larger axes lie in the section."""
    values, axes = np.linalg.eigh(np.cov(points.T))
    return float(np.sqrt(values[2] / max(values[1], 1e-300))), axes[:, 2]
