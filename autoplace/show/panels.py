"""The sheet's picture panels: the whole figure, the hands, the face and the feet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from autoplace.show.closeups import (
    CloseUp,
    face_close_up,
    foot_close_up,
    hand_close_up,
)
from autoplace.show.figure import FRONT, SIDE, TOP, Figure, View
from autoplace.show.glyphs import Look, draw_joints, is_finger
from autoplace.show.ink import Box, Ink
from autoplace.show.labels import Label, Tag, place_around, place_in_columns
from autoplace.show.lettering import Lettering
from autoplace.show.palette import (
    CARD,
    CARD_LINE,
    FAINT,
    TEXT,
    deeper,
    side_colour,
    side_of,
)
from autoplace.show.shade import Surface, multiply, wash
from autoplace.skeleton.model import Joint

__all__ = ["Painter", "Panel"]

FloatArray = NDArray[np.float64]
Picture = NDArray[np.uint8]

NAME_SIZE = 16.0
TITLE_SIZE = 17.0


@dataclass
class Panel:
    """What a panel holds, for whoever wants to check it."""

    title: str
    box: Box
    views: list[View] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    joints: list[str] = field(default_factory=list)
    """Joints the panel is meant to name."""


@dataclass
class Painter:
    """Paints panels of one figure on a page."""

    page: Picture
    """(height, width, 3), changed in place."""
    figure: Figure
    letters: Lettering
    unit: float
    """Pixels per layout unit."""

    def card(self, box: Box, title: str, note: str = "") -> Panel:
        """An empty panel with its title."""
        u = self.unit
        ink = Ink(self.page)
        ink.box(box, 10 * u, CARD, CARD_LINE, 1.2 * u)
        self.letters.write(box[0] + 20 * u, box[1] + 25 * u, title, TITLE_SIZE, TEXT)
        if note:
            self.letters.write(box[2] - 20 * u, box[1] + 25 * u, note, 14, FAINT, "rm")
        return Panel(title, box)

    def body(self, box: Box) -> Panel:
        """Front, side and top view in one scale, standing as on a drawing board."""
        u = self.unit
        panel = self.card(box, "Whole figure", "top, front and left side in one scale")
        low, high = self.figure.extent()
        size = np.maximum(high - low, 1e-3)
        pad, gap, names = 24 * u, 40 * u, 110 * u
        left, top, right, bottom = (
            box[0] + pad + 46 * u,
            box[1] + 52 * u,
            box[2] - pad,
            box[3] - pad,
        )
        scale = float(
            min(
                (right - left - gap - names) / (size[0] + size[2]),
                (bottom - top - gap) / (size[1] + size[2]),
            )
        )
        wide, high_, deep = size * scale
        spare_x = right - left - names - gap - wide - deep
        spare_y = bottom - top - gap - high_ - deep
        x0 = left + spare_x * 0.40
        y0 = top + spare_y * 0.35
        x1 = x0 + wide + gap + spare_x * 0.25
        y1 = y0 + deep + gap + spare_y * 0.15
        middle = (low + high) / 2
        margin = 16 * u
        boxes = {
            "front": (x0, y1, x0 + wide, y1 + high_),
            "side": (x1, y1, x1 + deep, y1 + high_),
            "top": (x0, y0, x0 + wide, y0 + deep),
        }
        floor = y1 + high_ + (0.0 - low[1]) * -scale
        self._rules(panel, boxes, floor, scale)
        masks = {}
        for key, axes in (("top", TOP), ("front", FRONT), ("side", SIDE)):
            view = View(axes, axes[:2] @ middle, scale, _whole(boxes[key], margin))
            panel.views.append(view)
            masks[key] = self._wash(view, self.figure.layers())
            look = Look(7.5 * u, 8.5 * u, fingers=0.42, faded="right" if key == "side" else "")
            draw_joints(Ink(self.page), view, self.figure, self._clear_joints(view), look)
        self._name_body(panel, masks)
        return panel

    def _clear_joints(self, view: View) -> list[Joint]:
        """All joints but the fingers of a hand that points at the eye: they would be one blot."""
        hidden: list[str] = []
        for side in ("left", "right"):
            names = [
                j.name
                for j in self.figure.skeleton
                if is_finger(j.name) and side_of(j.name) == side
            ]
            wrist = self.figure.places.get(f"{side}_wrist")
            if not names or wrist is None:
                continue
            reach = np.mean([self.figure.places[name] for name in names], axis=0) - wrist
            # less than half of the length is seen below 30 degrees to the line of sight
            if np.linalg.norm(view.axes[:2] @ reach) < 0.5 * np.linalg.norm(reach):
                hidden += names
        return [joint for joint in self.figure.skeleton if joint.name not in hidden]

    def hand(self, box: Box, side: str) -> Panel:
        """One hand from its back and from the thumb's side."""
        close = hand_close_up(self.figure, side)
        panel = self.card(box, f"{side.capitalize()} hand", f"names begin with {side}_")
        if close is None:
            return self._empty(panel, f"no {side} wrist was placed")
        u = self.unit
        column, pad = 104 * u, 14 * u
        inner = (box[0] + column, box[1] + 44 * u, box[2] - column, box[3] - pad)
        gap = 22 * u
        size = np.maximum(close.high - close.low, 1e-6)
        wide = box[2] - box[0] - 2 * pad
        scale = float(
            min(
                (inner[2] - inner[0]) / size[0, 0],
                (inner[3] - inner[1] - gap) / (size[0, 1] + size[1, 1]),
                wide / size[1, 0],
            )
        )
        spare = inner[3] - inner[1] - gap - (size[0, 1] + size[1, 1]) * scale
        top = inner[1] + spare * 0.3
        parting = top + size[0, 1] * scale + gap + spare * 0.4
        across = (inner[0], top, inner[2], top + size[0, 1] * scale)
        along = (box[0] + pad, parting, box[2] - pad, parting + size[1, 1] * scale)
        look = Look(6.6 * u, 9.0 * u)
        self.close_up(panel, close, 0, scale, across, look, named=True)
        self.close_up(panel, close, 1, scale, along, look, named=False)
        return panel

    def face(self, box: Box) -> Panel:
        """Head and neck from the front and the left."""
        close = face_close_up(self.figure)
        panel = self.card(box, "Head", "front and left side")
        if close is None:
            return self._empty(panel, "no head joint was placed")
        u = self.unit
        column, pad, gap = 116 * u, 14 * u, 40 * u
        top, bottom = box[1] + 44 * u, box[3] - pad
        size = np.maximum(close.high - close.low, 1e-6)
        room = (box[2] - box[0] - 4 * column - gap - 2 * pad) / (size[0, 0] + size[1, 0])
        scale = float(min(room, (bottom - top) / size[0, 1]))
        wide = size[:, 0] * scale
        spare = box[2] - box[0] - 2 * pad - 4 * column - gap - wide.sum()
        x = box[0] + pad + column + spare / 4
        first = (x, top, x + wide[0], bottom)
        x += wide[0] + 2 * column + gap + spare / 2
        second = (x, top, x + wide[1], bottom)
        look = Look(8.0 * u, 11.0 * u)
        self.close_up(panel, close, 0, scale, first, look, named=True)
        self.close_up(panel, close, 1, scale, second, look, named=True)
        return panel

    def foot(self, box: Box, side: str) -> Panel:
        """One foot from above and from its outer side."""
        close = foot_close_up(self.figure, side)
        panel = self.card(box, f"{side.capitalize()} foot", f"names begin with {side}_")
        if close is None:
            return self._empty(panel, f"no {side} ankle was placed")
        u = self.unit
        column, pad, gap = 84 * u, 14 * u, 24 * u
        top, bottom = box[1] + 48 * u, box[3] - pad
        size = np.maximum(close.high - close.low, 1e-6)
        left, right = box[0] + pad + column, box[2] - pad - column
        scale = float(
            min((right - left) / size[:, 0].max(), (bottom - top - gap) / size[:, 1].sum())
        )
        spare = bottom - top - gap - size[:, 1].sum() * scale
        above = top + spare * 0.3
        parting = above + size[1, 1] * scale + gap + spare * 0.4
        upper = (left, above, right, above + size[1, 1] * scale)
        lower = (left, parting, right, parting + size[0, 1] * scale)
        look = Look(8.0 * u, 11.0 * u)
        self.close_up(panel, close, 1, scale, upper, look, named=True)
        self.close_up(panel, close, 0, scale, lower, look, named=True)
        return panel

    def _empty(self, panel: Panel, why: str) -> Panel:
        """A panel with nothing to show says so."""
        left, top, right, bottom = panel.box
        self.letters.write((left + right) / 2, (top + bottom) / 2, why, 16, FAINT, "mm")
        return panel

    def close_up(
        self,
        panel: Panel,
        close: CloseUp,
        which: int,
        scale: float,
        box: Box,
        look: Look,
        named: bool,
        under: Callable[[Ink, View], None] | None = None,
        beside: Sequence[FloatArray] = (),
    ) -> None:
        """One view of a close-up, with names in columns beside it.

        `which` of its two views, at `scale` pixels a height, in a box of the page. `under` draws
        what lies between the flesh and the joints; names stand clear of the points `beside`."""
        axes = close.first if which == 0 else close.second
        middle = (close.low[which] + close.high[which]) / 2
        view = View(axes, middle, scale, _whole(box, 0))
        panel.views.append(view)
        cut = close.cut if which == 1 else None
        covered = self._wash(view, close.layers, round(26 * self.unit), cut)
        ink = Ink(self.page)
        if under is not None:
            under(ink.inside(view.box), view)
        draw_joints(ink, view, self.figure, self.figure.joints(list(close.context)), look, False)
        draw_joints(ink, view, self.figure, self.figure.joints(list(close.names)), look)
        if not named:
            return
        u = self.unit
        line = self.letters.pixels(NAME_SIZE)
        shown = [
            j
            for j in self.figure.joints(list(close.names))
            if view.holds(self.figure.places[j.name])
        ]
        tags = [self._tag(view, joint, short=True) for joint in shown]
        columns = np.flatnonzero(covered.any(axis=0))
        edges = view.box[0], view.box[2]
        if len(columns):
            edges = view.box[0] + float(columns[0]), view.box[0] + float(columns[-1])
        for joint, tag in zip(shown, tags, strict=True):
            radius = self.figure.spreads[joint.name] * scale + look.bead
            edges = min(edges[0], tag.anchor[0] - radius), max(edges[1], tag.anchor[0] + radius)
        for spot in beside:
            x = view.point(spot)[0]
            edges = min(edges[0], x), max(edges[1], x)
        edges = max(edges[0], view.box[0]), min(edges[1], view.box[2])
        labels = place_in_columns(
            tags,
            (panel.box[0], view.box[1], panel.box[2], view.box[3]),
            edges[0] - 8 * u,
            edges[1] + 8 * u,
            line,
        )
        panel.joints += [joint.name for joint in shown]
        self._write(panel, labels)

    def _tag(self, view: View, joint: Joint, short: bool) -> Tag:
        """A name that wants a place in this view."""
        text = joint.name
        side = side_of(text)
        if short and side != "centre" and not text.endswith("_eye"):
            text = text[len(side) + 1 :]
        finger = joint.name.rsplit("_", 1)[0] if joint.name.count("_") > 1 else ""
        return Tag(
            joint.name,
            text,
            view.point(self.figure.places[joint.name]),
            self.letters.width(text, NAME_SIZE),
            finger,
        )

    def _write(self, panel: Panel, labels: tuple[Label, ...], halo: bool = False) -> None:
        """Leader lines and names, with a pale rim around the letters where they may lie on ink."""
        ink = Ink(self.page)
        for label in labels:
            colour = side_colour(label.joint)
            ink.line(label.anchor, label.elbow, 1.0 * self.unit, deeper(colour, 0.2), 0.55)
            self.letters.write(
                label.box[0],
                (label.box[1] + label.box[3]) / 2,
                label.text,
                NAME_SIZE,
                deeper(colour),
                "lm",
                CARD if halo else None,
            )
        panel.labels += labels

    def _wash(
        self,
        view: View,
        layers: tuple[tuple[Surface, str], ...],
        fade: int = 0,
        cut: float | None = None,
    ) -> NDArray[np.bool_]:
        """Lay the figure on the page; returns where it is.

        Within `fade` pixels of the view's edges it pales, so that a cut does not look like a
        border of the body.
        """
        left, top, right, bottom = (int(v) for v in view.box)
        size = (right - left, bottom - top)
        picture = wash(layers, view.axes, view.middle, view.scale, *size, cut)
        covered: NDArray[np.bool_] = picture[:, :, 1] < 246
        for step in range(fade):
            share = np.float32((step + 0.5) / fade)
            for edge in (
                picture[step, step : -step or None],
                picture[-1 - step, step : -step or None],
                picture[step : -step or None, step],
                picture[step : -step or None, -1 - step],
            ):
                edge[:] = 255 - (255 - edge) * share
        multiply(self.page, left, top, picture)
        return covered

    def _rules(self, panel: Panel, boxes: dict[str, Box], floor: float, scale: float) -> None:
        """Floor and height lines behind the figure."""
        u = self.unit
        ink = Ink(self.page)
        left, right = panel.box[0] + 20 * u, panel.box[2] - 20 * u
        for share in (0.25, 0.5, 0.75, 1.0):
            y = floor - share * scale
            ink.line((left, y), (right, y), 1.0 * u, CARD_LINE, 0.5)
            mark = f"{share * self.figure.height:.3g}"
            self.letters.write(left, y - 9 * u, mark, 13, FAINT, "lm")
        ink.line((left, floor), (right, floor), 1.6 * u, CARD_LINE)

    def _name_body(self, panel: Panel, masks: dict[str, NDArray[np.bool_]]) -> None:
        """Limb names in the front view, the trunk's in the side view."""
        by_axes = {"top": panel.views[0], "front": panel.views[1], "side": panel.views[2]}
        left, top, right, bottom = panel.box
        u = self.unit
        inner = (left + 14 * u, top + 44 * u, right - 14 * u, bottom - 10 * u)
        covered = np.zeros((int(bottom - top) + 2, int(right - left) + 2), dtype=bool)
        for key, view in by_axes.items():
            x, y = int(view.box[0] - left), int(view.box[1] - top)
            mask = masks[key]
            covered[y : y + mask.shape[0], x : x + mask.shape[1]] |= mask
        covered = covered[int(inner[1] - top) :, int(inner[0] - left) :]
        trunk, limbs = [], []
        for joint in self.figure.skeleton:
            base = joint.name.removeprefix("left_").removeprefix("right_")
            if base in LIMBS:
                limbs.append(self._tag(by_axes["front"], joint, short=False))
            elif side_of(joint.name) == "centre":
                trunk.append(self._tag(by_axes["side"], joint, short=False))
        line = self.letters.pixels(NAME_SIZE)
        spine = place_in_columns(
            trunk,
            inner,
            by_axes["side"].box[0],
            by_axes["side"].box[2] + 8 * u,
            line,
            right_only=True,
        )
        around = place_around(limbs, inner, covered, line, [label.box for label in spine])
        panel.joints += [t.joint for t in trunk + limbs]
        self._write(panel, spine)
        self._write(panel, around, halo=True)


LIMBS = ("clavicle", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball", "toe_tip")
"""Joints named in the front view, without their side."""


def _whole(box: Box, margin: float) -> Box:
    """The box grown by a margin, on whole pixels."""
    return (
        float(np.floor(box[0] - margin)),
        float(np.floor(box[1] - margin)),
        float(np.ceil(box[2] + margin)),
        float(np.ceil(box[3] + margin)),
    )
