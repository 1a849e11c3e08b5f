"""The picture sheet of one placed skeleton: what a rigger looks at first."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from autoplace.files.atomic import write_whole
from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.show.captions import findings_list, header, least_certain, legend
from autoplace.show.figure import gather
from autoplace.show.ink import Box, Ink
from autoplace.show.lettering import Lettering
from autoplace.show.palette import PAPER
from autoplace.show.panels import Painter, Panel
from autoplace.show.png import png_bytes
from autoplace.skeleton.model import Skeleton

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["Sheet", "compose_sheet", "render_sheet", "write_sheet"]

BASE = (2400, 1800)
"""Size in pixels that the layout is drawn for; other sizes scale it."""


@dataclass(frozen=True)
class Sheet:
    """The picture with a record of what stands where on it."""

    image: Image.Image
    panels: tuple[Panel, ...]


def render_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    size: tuple[int, int] = BASE,
) -> Image.Image:
    """Front, side and top view and close-ups of a character with its skeleton, as one picture.

    `skeleton` positions are in the input frame, as they leave the pipeline. `title` is set at
    the head (default: the mesh's file name). `size` is the picture's width and height in pixels;
    the layout keeps the proportions 4 to 3 inside it. The same input gives the same picture.
    """
    return compose_sheet(character, roles, frame, skeleton, title=title, size=size).image


def compose_sheet(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    title: str | None = None,
    size: tuple[int, int] = BASE,
) -> Sheet:
    """As `render_sheet`, with the panels, views and label boxes beside the picture."""
    from PIL import Image

    width, height = size
    unit = min(width / BASE[0], height / BASE[1])
    page = np.tile(np.array(PAPER, dtype=np.uint8), (height, width, 1))
    letters = Lettering(unit)
    painter = Painter(page, gather(character, roles, frame, skeleton), letters, unit)

    def at(left: float, top: float, right: float, bottom: float) -> Box:
        return (
            round(left * unit + (width - BASE[0] * unit) / 2),
            round(top * unit + (height - BASE[1] * unit) / 2),
            round(right * unit + (width - BASE[0] * unit) / 2),
            round(bottom * unit + (height - BASE[1] * unit) / 2),
        )

    name = title or skeleton.source.mesh or character.name
    ink = Ink(page)
    header(ink, letters, at(48, 34, 2352, 140), name, character, frame, skeleton)
    panels = [
        painter.body(at(44, 152, 1290, 1364)),
        painter.hand(at(1312, 152, 1824, 852), "right"),
        painter.hand(at(1844, 152, 2356, 852), "left"),
        painter.face(at(1312, 872, 2356, 1290)),
        painter.foot(at(1312, 1310, 1824, 1756), "right"),
        painter.foot(at(1844, 1310, 2356, 1756), "left"),
    ]
    found = painter.card(at(44, 1384, 780, 1756), "Findings", least_certain(frame, skeleton))
    findings_list(ink, letters, found.box, skeleton.findings)
    signs = painter.card(at(800, 1384, 1290, 1756), "Legend")
    legend(ink, letters, signs.box)
    image = Image.fromarray(page)
    letters.set_on(image)
    return Sheet(image, (*panels, found, signs))


def write_sheet(image: Image.Image, path: str | Path) -> None:
    """Write the picture as PNG: whole or not at all, and without dates in it.

    The text entry `Software` says that the file is ours, so that a later run may replace it.

    Raises OutputError when the place cannot be written.
    """
    picture = np.asarray(image.convert("RGB"))
    write_whole(path, png_bytes(picture, {"Software": "autoplace"}))
