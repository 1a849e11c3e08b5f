"""Draws the pictures in the README from the demo character: `python -m meshes.make_sheet`."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

import autoplace
from autoplace.bend_character import bend_character
from autoplace.show.bend_strip import render_bend_strip

__all__ = ["main"]

FOLDER = Path(__file__).resolve().parent
NAME = "keeper"
COLOURS = 256
"""Of the palette: the sheet has few hues, and the file is a third as large."""

STRIP = 1800
"""Pixels across the picture of the bend test."""


def main() -> None:
    """Place the skeleton, bend it, and write both pictures beside the character."""
    character = autoplace.load(FOLDER / f"{NAME}.obj")
    result = autoplace.place(character)
    sheet = autoplace.render_sheet(character, result.roles, result.frame, result.skeleton)
    bent = bend_character(result.skeleton, character)
    strip = render_bend_strip(bent.subject, bent.layers, bent.report, title=NAME, width=STRIP)
    for kind, picture in (("sheet", sheet), ("bend", strip)):
        small = picture.quantize(COLOURS, dither=Image.Dither.NONE)
        small.save(FOLDER / f"{NAME}.{kind}.png", optimize=True)


if __name__ == "__main__":
    main()
