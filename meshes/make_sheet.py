"""Draws the picture in the README from the demo character: `python -m meshes.make_sheet`."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

import autoplace

__all__ = ["main"]

FOLDER = Path(__file__).resolve().parent
NAME = "keeper"
COLOURS = 256
"""Of the palette: the sheet has few hues, and the file is a third as large."""


def main() -> None:
    """Place the skeleton and write the sheet beside the character."""
    character = autoplace.load(FOLDER / f"{NAME}.obj")
    result = autoplace.place(character)
    sheet = autoplace.render_sheet(character, result.roles, result.frame, result.skeleton)
    small = sheet.quantize(COLOURS, dither=Image.Dither.NONE)
    small.save(FOLDER / f"{NAME}.sheet.png", optimize=True)


if __name__ == "__main__":
    main()
