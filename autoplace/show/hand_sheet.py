"""The picture sheet of the hands alone: palm, back and thumb's side, with the fingers' planes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.show.card_page import EDGE, WIDTH, blank_page
from autoplace.show.figure import View, gather
from autoplace.show.glyphs import Look
from autoplace.show.hand_views import BendPlane, HandViews, hand_views
from autoplace.show.ink import Box, Ink
from autoplace.show.palette import CARD_LINE, FAINT, deeper, lighter, side_colour
from autoplace.show.panels import Painter, Panel
from autoplace.show.sheet import Sheet
from autoplace.skeleton.model import Finding, Skeleton
from autoplace.skeleton.names import SIDES, finger_of, metacarpal_of, side_of, stem

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["compose_hand_sheet", "render_hand_sheet"]

HEAD, HAND, FOOT, GAP = 140, 860, 230, 20
"""Heights in layout units: the title, one hand, the findings, and what is between."""


def render_hand_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    width: int = WIDTH,
) -> Image.Image:
    """Palm, back and thumb's side of each hand, joints named, as one picture.

    A strip through each finger is the plane it bends in: at right angles to the bend axis that its
    joints have. `skeleton` positions are in the input frame. `width` is the picture's in pixels;
    its height follows from the number of hands. The same input gives the same picture.
    """
    return compose_hand_sheet(character, roles, frame, skeleton, title=title, width=width).image


def compose_hand_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    width: int = WIDTH,
) -> Sheet:
    """As `render_hand_sheet`, with the panels, views and label boxes beside the picture."""
    sides = [side for side in reversed(SIDES) if f"{side}_wrist" in skeleton] or ["left"]
    tall = HEAD + len(sides) * (HAND + GAP) + FOOT + EDGE
    page = blank_page(gather(character, roles, frame, skeleton), width, tall)
    page.write_title(title or skeleton.source.mesh or character.name, _facts(skeleton))
    panels = []
    top = float(HEAD)
    for side in sides:
        panels.append(_hand(page.painter, page.box(EDGE, top, WIDTH - EDGE, top + HAND), side))
        top += HAND + GAP
    words = "Findings about the hands", "the strips are the fingers' bend planes"
    panels.append(page.add_findings(top, top + FOOT, words, _about_hands(skeleton.findings)))
    return page.finished(panels)


def _facts(skeleton: Skeleton) -> list[str]:
    """Which fingers each hand has."""
    facts = []
    for side in SIDES:
        fingers = [finger_of(n) for n in skeleton.names if side_of(n) == side]
        named = list(dict.fromkeys(f for f in fingers if f))
        if f"{side}_wrist" in skeleton:
            facts.append(f"{side} hand: {', '.join(named) or 'no fingers'}")
    return facts


def _hand(painter: Painter, box: Box, side: str) -> Panel:
    """One hand in three views of one scale."""
    found = hand_views(painter.figure, side)
    panel = painter.card(box, f"{side.capitalize()} hand", f"names begin with {side}_")
    u = painter.unit
    if found is None:
        middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        painter.letters.write(*middle, f"no {side} wrist was placed", 16, FAINT, "mm")
        return panel
    column, top, bottom = 150 * u, box[1] + 78 * u, box[3] - 14 * u
    sizes = np.array([close.high[0] - close.low[0] for _, close in found.views])
    room = box[2] - box[0] - 2 * len(found.views) * column
    scale = float(min(room / sizes[:, 0].sum(), (bottom - top) / sizes[:, 1].max()))
    spare = (room - sizes[:, 0].sum() * scale) / len(found.views)
    x = box[0]
    look = Look(8.0 * u, 11.0 * u)
    for (title, close), size in zip(found.views, sizes, strict=True):
        left = x + column + spare / 2
        right = left + float(size[0]) * scale
        place = (left, top, right, top + float(size[1]) * scale)
        painter.letters.write((left + right) / 2, box[1] + 56 * u, title, 16, FAINT, "mm")
        corners = [corner for plane in found.planes for corner in plane.corners]
        planes = _planes(found, u)
        painter.close_up(panel, close, 0, scale, place, look, True, planes, corners)
        x = right + column + spare / 2
        if x < box[2] - column:
            ink = Ink(painter.page)
            ink.line((x, box[1] + 60 * u), (x, box[3] - 20 * u), 1.0 * u, CARD_LINE, 0.6)
    return panel


def _planes(found: HandViews, unit: float) -> Callable[[Ink, View], None]:
    """Draws the strips, the farther ones first."""

    def draw(ink: Ink, view: View) -> None:
        def nearness(plane: BendPlane) -> float:
            return view.nearness(plane.corners.mean(axis=0))

        for plane in sorted(found.planes, key=nearness):
            colour = side_colour(plane.finger)
            corners = [view.point(corner) for corner in plane.corners]
            ink.convex(corners, [(0.0, lighter(colour, 0.45), 0.22)])
            for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
                ink.line(start, end, 1.2 * unit, deeper(colour, 0.1), 0.6)

    return draw


def _about_hands(findings: Sequence[Finding]) -> list[Finding]:
    """Findings about wrists, palms and fingers."""
    return [
        finding
        for finding in findings
        if (name := finding.joint)
        and (finger_of(name) or metacarpal_of(name) or (side_of(name) and stem(name) == "wrist"))
    ]
