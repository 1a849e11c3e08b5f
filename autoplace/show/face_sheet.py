"""The picture sheet of the face: the head from all sides, and each eye with its fitted ball."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.show.card_page import EDGE, WIDTH, blank_page
from autoplace.show.closeups import CloseUp
from autoplace.show.eye_globe import Globe, draw_globe
from autoplace.show.eye_views import EyeView, eye_views, head_views
from autoplace.show.figure import Figure, View, gather
from autoplace.show.glyphs import Look
from autoplace.show.ink import Box, Ink
from autoplace.show.palette import CARD_LINE, FAINT, TEXT, deeper, side_colour
from autoplace.show.panels import Painter, Panel
from autoplace.show.sheet import Sheet
from autoplace.skeleton.model import Finding, Joint, Skeleton
from autoplace.skeleton.names import family

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["compose_face_sheet", "eye_words", "render_face_sheet"]

HeadViews = tuple[tuple[str, CloseUp], ...]

TITLE, EYE_CARD, FOOT, GAP = 140, 500, 210, 20
"""Heights in layout units: the title, a row of eyes, the findings, and between."""
FACE = (300, 900)
"""Height of the head's panel at least and at most."""
NAMES, ABOVE, BELOW = 104, 78, 18
"""Room in the head's panel for names on each side of a view, and above and below the views."""
WITHOUT_BALL = {
    "box": "middle of the piece",
    "face": "the face's own shape",
    "proportions": "proportions alone",
}
"""What an eye that no ball was fitted to was placed by, by its shape."""


def render_face_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    width: int = WIDTH,
) -> Image.Image:
    """The head from ahead, both sides and above, and a close-up of each eye, as one picture.

    On each eye lies the ball that was fitted: firm lines where the mesh shows it, dots where it
    was not modelled; beside it stand radius, residual, share seen, spread and look in words.
    `skeleton` positions are in the input frame. `width` is the picture's in pixels; its height
    follows from the number of eyes. The same input gives the same picture.
    """
    return compose_face_sheet(character, roles, frame, skeleton, title=title, width=width).image


def compose_face_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    width: int = WIDTH,
) -> Sheet:
    """As `render_face_sheet`, with the panels, views and label boxes beside the picture."""
    figure = gather(character, roles, frame, skeleton)
    eyes = eye_views(figure, character, roles, frame)
    head = head_views(figure)
    face = _face_height(head)
    rows = max((len(eyes) + 1) // 2, 1)
    page = blank_page(figure, width, TITLE + face + GAP + rows * (EYE_CARD + GAP) + FOOT + EDGE)
    page.write_title(title or skeleton.source.mesh or character.name, _facts(figure, eyes))
    painter = page.painter
    panels = [_head(painter, page.box(EDGE, TITLE, WIDTH - EDGE, TITLE + face), head)]
    top = TITLE + face + GAP
    half = 0.5 * (WIDTH - 2 * EDGE - GAP)
    for number, eye in enumerate(eyes):
        left = EDGE + (number % 2) * (half + GAP)
        row = top + (number // 2) * (EYE_CARD + GAP)
        panels.append(_eye(painter, page.box(left, row, left + half, row + EYE_CARD), eye))
    if not eyes:
        box = page.box(EDGE, top, WIDTH - EDGE, top + EYE_CARD)
        panels.append(_nothing(painter, box, "Eyes", "the skeleton has no eye joints"))
    top += rows * (EYE_CARD + GAP)
    words = "Findings about the eyes", "firm lines: modelled; dots: completed"
    panels.append(page.add_findings(top, top + FOOT, words, _about_eyes(skeleton.findings)))
    return page.finished(panels)


def eye_words(eye: EyeView, joint: Joint, height: float, left: float) -> list[tuple[str, str]]:
    """What is known of one eye, as pairs of a word and its value.

    Args:
        eye: in the working frame. joint: its joint. height: of the character, input units.
        left: degrees to the character's left that the look's direction stands off ahead.
    """
    place = eye.place
    spread = f"{joint.spread:.3g}"
    if place is None:
        kind = joint.evidence[0].kind.replace("_", " ") if joint.evidence else "nothing"
        return [("ball", "none was found"), ("placed by", kind), ("spread", spread)]
    if place.shape in WITHOUT_BALL:
        rows = [("fitted", "no ball"), ("placed by", WITHOUT_BALL[place.shape]), ("spread", spread)]
    else:
        size = f"{place.radius * height:.4g}"
        rows = [
            ("fitted", place.shape),
            ("radius", size + (" of its volume" if place.shape == "ellipsoid" else "")),
            ("residual", f"{_percent(place.residual / place.radius)} of the radius"),
            ("share seen", f"{100 * place.share_seen:.0f} % of the ball"),
            ("spread", f"{_percent(joint.spread / (place.radius * height))} of the radius"),
        ]
    side = "straight ahead" if abs(left) < 0.5 else f"{abs(left):.0f}° to the "
    if abs(left) >= 0.5:
        side += "left" if left > 0 else "right"
    seen = f"by {place.look_from}" if place.look is not None else "nothing shows where"
    rows += [("looks", side), ("", seen)]
    return rows


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share > 1e-4 else "under 0.01 %"


def _facts(figure: Figure, eyes: Sequence[EyeView]) -> list[str]:
    facts = [f"{len(eyes)} eye joint" + ("" if len(eyes) == 1 else "s")]
    placed = [eye.place for eye in eyes if eye.place is not None]
    balls = sum(place.shape not in WITHOUT_BALL for place in placed)
    facts.append(f"{balls} with a ball")
    both = [figure.places.get(name) for name in ("left_eye", "right_eye")]
    if both[0] is not None and both[1] is not None:
        apart = float(np.linalg.norm(both[0] - both[1])) * figure.height
        facts.append(f"{apart:.4g} apart")
    return facts


def _face_height(views: HeadViews) -> float:
    """Of the head's panel, layout units: as tall as its views are when they fill the page."""
    if not views:
        return FACE[0]
    sizes = np.array([close.high[0] - close.low[0] for _, close in views])
    room = WIDTH - 2 * EDGE - 2 * len(views) * NAMES
    tall = float(sizes[:, 1].max() * room / sizes[:, 0].sum())
    return float(np.clip(tall + ABOVE + BELOW, *FACE))


def _head(painter: Painter, box: Box, views: HeadViews) -> Panel:
    """The head in four views of one scale."""
    if not views:
        return _nothing(painter, box, "Head", "no head joint was placed")
    panel = painter.card(box, "Head", "four sides in one scale")
    u = painter.unit
    column, top, bottom = NAMES * u, box[1] + ABOVE * u, box[3] - BELOW * u
    sizes = np.array([close.high[0] - close.low[0] for _, close in views])
    room = box[2] - box[0] - 2 * len(views) * column
    scale = float(min(room / sizes[:, 0].sum(), (bottom - top) / sizes[:, 1].max()))
    spare = (room - sizes[:, 0].sum() * scale) / len(views)
    x = box[0]
    look = Look(7.0 * u, 9.0 * u)
    for (title, close), size in zip(views, sizes, strict=True):
        left = x + column + spare / 2
        right = left + float(size[0]) * scale
        place = (left, top, right, top + float(size[1]) * scale)
        painter.letters.write((left + right) / 2, box[1] + 56 * u, title, 16, FAINT, "mm")
        painter.close_up(panel, close, 0, scale, place, look, True)
        x = right + column + spare / 2
    return panel


def _eye(painter: Painter, box: Box, eye: EyeView) -> Panel:
    """One eye from ahead and in section, with what is known of it."""
    panel = painter.card(box, eye.joint, "from ahead, and cut through its middle")
    u = painter.unit
    top, bottom = box[1] + 48 * u, box[3] - 16 * u
    edge = bottom - top
    scale = float(edge / (eye.close.high[0] - eye.close.low[0])[1])
    look = Look(7.0 * u, 4.0 * u)
    x = box[0] + 18 * u
    globe = None if eye.globe is None else _drawn(eye.globe, u)
    for which in (0, 1):
        place = (x, top, x + edge, bottom)
        painter.close_up(panel, eye.close, which, scale, place, look, False, globe)
        x += edge + 14 * u
    _tell(painter, eye, x + 8 * u, top + 8 * u, box[2] - x - 20 * u)
    panel.joints.append(eye.joint)
    return panel


def _drawn(globe: Globe, unit: float) -> Callable[[Ink, View], None]:
    def draw(ink: Ink, view: View) -> None:
        draw_globe(ink, view, globe, max(1.6 * unit, 0.8))

    return draw


def _tell(painter: Painter, eye: EyeView, x: float, y: float, width: float) -> None:
    """Words and values, one under another."""
    u, figure = painter.unit, painter.figure
    joint = figure.skeleton[eye.joint]
    ahead = figure.gazes.get(eye.joint, np.array([0.0, 0.0, 1.0]))
    left = float(np.degrees(np.arctan2(ahead[0], ahead[2])))
    up = float(np.degrees(np.arcsin(np.clip(ahead[1], -1.0, 1.0))))
    rows = eye_words(eye, joint, figure.height, left)
    if abs(up) >= 0.5:
        rows.append(("", f"{abs(up):.0f}° {'up' if up > 0 else 'down'}"))
    if joint.locked:
        rows.append(("", "locked by hand"))
    colour = deeper(side_colour(eye.joint))
    for word, value in rows:
        if word:
            painter.letters.write(x, y + 8 * u, word, 14, FAINT)
            y += 20 * u
        for line in painter.letters.wrap(value, 16, width, 2):
            painter.letters.write(x, y + 8 * u, line, 16, TEXT if word else colour)
            y += 22 * u
        y += 6 * u
    Ink(painter.page).line((x - 6 * u, y), (x + width, y), 1.0 * u, CARD_LINE, 0.6)


def _nothing(painter: Painter, box: Box, title: str, why: str) -> Panel:
    panel = painter.card(box, title)
    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    painter.letters.write(*middle, why, 16, FAINT, "mm")
    return panel


def _about_eyes(findings: Sequence[Finding]) -> list[Finding]:
    """Findings about eye joints or missing eyeballs."""
    return [
        finding
        for finding in findings
        if finding.check == "missing_eyeball" or family(finding.joint or "") == "eye"
    ]
