"""The picture of a skeleton's local axes: figure, hands and feet, without a mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from autoplace.show.card_page import EDGE, WIDTH, CardPage, blank_page
from autoplace.show.figure import FRONT, SIDE, Figure, View, fit_view
from autoplace.show.glyphs import Look, draw_joints
from autoplace.show.ink import Ink
from autoplace.show.palette import AXES, CARD
from autoplace.show.panels import Panel
from autoplace.show.shade import Surface
from autoplace.show.sheet import Sheet
from autoplace.skeleton.bend_axes import arm_forward
from autoplace.skeleton.convention import DEFAULT, Convention, recorded
from autoplace.skeleton.hand import find_palm
from autoplace.skeleton.hinge import unit
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import SIDES, family, side_of, stem
from autoplace.skeleton.orient import body_directions

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["compose_axes_sheet", "render_axes_sheet"]

FloatArray = NDArray[np.float64]

HEAD, BODY, HANDS, GAP = 140, 1180, 820, 20
"""Heights in layout units: the title, the figure, hands and feet, and what is between."""
ROD = 30.0
"""Length of an axis in layout units, where it lies across the view."""
END_ON = 0.85
"""Cosine to the line of sight from which an axis is drawn as a dot too."""
EMPTY = Surface.of(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))


def render_axes_sheet(
    skeleton: Skeleton, *, title: str | None = None, width: int = WIDTH
) -> Image.Image:
    """Front and side of a skeleton and its hands and feet, each joint with its X, Y and Z.

    The bend axis of the convention is drawn heavier than the other two. `width` is the picture's in
    pixels. The same skeleton gives the same picture.
    """
    return compose_axes_sheet(skeleton, title=title, width=width).image


def compose_axes_sheet(
    skeleton: Skeleton, *, title: str | None = None, width: int = WIDTH
) -> Sheet:
    """As `render_axes_sheet`, with the panels beside the picture."""
    figure = _bare_figure(skeleton)
    page = blank_page(figure, width, HEAD + BODY + GAP + HANDS + EDGE)
    convention = recorded(skeleton.settings) or DEFAULT
    page.write_title(title or skeleton.source.mesh or "skeleton", _facts(convention))
    heavy = "XYZ".index(convention.bend[1])
    middle = WIDTH / 2
    top, bottom = float(HEAD), float(HEAD + BODY)
    panels = [
        _card(page, (EDGE, top, middle - GAP / 2, bottom), "Front", _body(figure), FRONT, heavy),
        _card(
            page,
            (middle + GAP / 2, top, WIDTH - EDGE, bottom),
            "From the left",
            [n for n in _body(figure) if side_of(n) != "right"],
            SIDE,
            heavy,
        ),
    ]
    top, bottom = bottom + GAP, bottom + GAP + HANDS
    quarter = (WIDTH - 2 * EDGE - 3 * GAP) / 4
    left = float(EDGE)
    for what in ("hand", "foot"):
        for side in reversed(SIDES):
            names, view = _hand(figure, side) if what == "hand" else _foot(figure, side)
            title_ = f"{side.capitalize()} {what}" + (", back" if what == "hand" else ", outside")
            panels.append(
                _card(page, (left, top, left + quarter, bottom), title_, names, view, heavy)
            )
            left += quarter + GAP
    return page.finished(panels)


def _facts(convention: Convention) -> list[str]:
    sides = {"motion": "sides move in mirror image", "axes": "sides have parallel axes"}
    return [
        f"convention {convention.name or 'of its own'}",
        f"{convention.aim} aims",
        f"{convention.bend} bends (heavy)",
        sides[convention.mirror],
    ]


def _bare_figure(skeleton: Skeleton) -> Figure:
    """The skeleton in the working frame, with nothing about it."""
    body = body_directions(skeleton)
    at = skeleton.positions() @ body.T
    height = max(float(np.ptp(at[:, 1])), float(np.ptp(at, axis=0).max()) / 2.5, 1e-300)
    low = np.array([np.median(at[:, 0]), at[:, 1].min(), np.median(at[:, 2])])
    places = dict(zip(skeleton.names, (at - low) / height, strict=True))
    return Figure(
        EMPTY, EMPTY, EMPTY, skeleton, places, dict.fromkeys(places, 0.0), {}, {}, height, {}, body
    )


def _body(figure: Figure) -> list[str]:
    """All joints but those of the hands beyond the wrist, which have pictures of their own."""
    return [n for n in figure.places if family(n) not in ("finger", "metacarpal")]


def _hand(figure: Figure, side: str) -> tuple[list[str], FloatArray]:
    """Joints of a hand, and the view of its back with the fingers up."""
    kinds = ("hand", "metacarpal", "finger")
    names = [n for n in figure.places if side_of(n) == side and family(n) in kinds]
    wrist = f"{side}_wrist"
    if wrist not in figure.places or len(names) < 2:
        return names, FRONT
    points = {stem(n): figure.places[n] for n in names}
    beyond = [p for n, p in points.items() if n.endswith("_1") and not n.startswith("thumb")]
    along = unit(np.mean(beyond or list(points.values()), axis=0) - points["wrist"])
    if not np.any(along):
        return names, FRONT
    back = -find_palm(points, side, along, arm_forward(along, side)).facing
    return names, np.array([np.cross(along, back), along, back])


def _foot(figure: Figure, side: str) -> tuple[list[str], FloatArray]:
    """Joints of a foot with the knee, and the view of its outer side."""
    names = [n for n in figure.places if side_of(n) == side and family(n) == "foot"]
    return names, SIDE if side == "left" else SIDE * np.array([[-1.0], [1.0], [-1.0]])


def _card(
    page: CardPage,
    place: tuple[float, float, float, float],
    title: str,
    names: Sequence[str],
    axes: FloatArray,
    heavy: int,
) -> Panel:
    """One view of some joints with their axes."""
    painter, u = page.painter, page.painter.unit
    box = page.box(*place)
    panel = painter.card(box, title, "" if names else "no such joints")
    if not names:
        return panel
    right = box[2] - 22 * u
    for letter, colour in zip("ZYX", reversed(AXES), strict=True):
        painter.letters.write(right, box[1] + 27 * u, letter, 20, colour, "rm")
        right -= painter.letters.width(letter, 20) + 14 * u
    pad = 1.4 * ROD * u
    inner = (box[0] + pad, box[1] + 60 * u + pad, box[2] - pad, box[3] - pad)
    seen = np.array([painter.figure.places[name] for name in names]) @ axes[:2].T
    fitted = fit_view(axes, seen.min(axis=0), seen.max(axis=0), inner)
    # bones may run out of the fitted part, not over the title
    clear = (box[0], box[1] + round(48 * u), box[2], box[3])
    lower = (inner[1] + inner[3] - clear[1] - clear[3]) / 2
    view = replace(fitted, box=clear, middle=fitted.middle + np.array([0.0, lower / fitted.scale]))
    joints = painter.figure.joints(list(names))
    look = Look(7.0 * u, 9.0 * u, faded="right" if axes is SIDE else "")
    ink = Ink(painter.page)
    draw_joints(ink, view, painter.figure, joints, look)
    for joint in sorted(joints, key=lambda j: view.nearness(painter.figure.places[j.name])):
        local = np.asarray(joint.axes, dtype=np.float64) @ painter.figure.to_working.T
        _rods(ink.inside(clear), view, painter.figure.places[joint.name], local, heavy, u)
    return panel


def _rods(
    ink: Ink, view: View, place: FloatArray, axes: FloatArray, heavy: int, unit: float
) -> None:
    """The three axes (3, 3) of a joint, the nearest to the eye on top."""
    x, y = view.point(place)
    toward = axes @ view.axes.T  # right, up, toward the eye
    for row in np.argsort(toward[:, 2]):
        end = (x + ROD * unit * toward[row, 0], y - ROD * unit * toward[row, 1])
        thick = (5.2 if row == heavy else 2.8) * unit
        ink.line((x, y), end, thick + 2.0 * unit, CARD, 0.7)
        ink.line((x, y), end, thick, AXES[row])
        if toward[row, 2] > END_ON:
            ink.disc(end, thick, AXES[row])
