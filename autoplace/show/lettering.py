"""Text on the pictures: one font that comes with the drawing library, set after all shapes."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from autoplace.show.palette import TEXT, Colour

if TYPE_CHECKING:
    from PIL import Image, ImageFont

__all__ = ["Lettering"]


@lru_cache(maxsize=32)
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The bundled font at a pixel size."""
    from PIL import ImageFont

    return ImageFont.load_default(size=size)


@dataclass
class Lettering:
    """Texts waiting to be set on a picture."""

    unit: float = 1.0
    """Pixels per unit of size."""
    waiting: list[tuple[float, float, str, int, Colour, str, Colour | None]] = field(
        default_factory=list
    )

    def pixels(self, size: float) -> int:
        """A type size in whole pixels, 7 at least."""
        return max(round(size * self.unit), 7)

    def width(self, text: str, size: float) -> float:
        """Width of a text in pixels."""
        return float(_font(self.pixels(size)).getlength(text))

    def write(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        colour: Colour = TEXT,
        anchor: str = "lm",
        halo: Colour | None = None,
    ) -> None:
        """Set a line at (x, y), pixels; `anchor` is left, middle or right + middle or baseline."""
        self.waiting.append((x, y, text, self.pixels(size), colour, anchor, halo))

    def wrap(self, text: str, size: float, width: float, lines: int) -> list[str]:
        """Cut a text into at most `lines` lines of `width` pixels; an ellipsis marks a cut."""
        result: list[str] = []
        words = text.split()
        widths = [self.width(word, size) for word in words]
        space = self.width(" ", size)
        while words and len(result) < lines:
            count, used = 1, widths[0]
            while count < len(words) and used + space + widths[count] <= width:
                used += space + widths[count]
                count += 1
            result.append(" ".join(words[:count]))
            words, widths = words[count:], widths[count:]
        if words:
            result[-1] += " …"
        return [self.shorten(part, size, width) for part in result]

    def shorten(self, text: str, size: float, width: float) -> str:
        """The text, cut at its end with an ellipsis if it is wider than `width` pixels."""
        if self.width(text, size) <= width:
            return text
        while text and self.width(text + "…", size) > width:
            text = text[:-1]
        return text.rstrip() + "…"

    def set_on(self, image: Image.Image) -> None:
        """Draw everything that waits on the image."""
        from PIL import ImageDraw

        draw = ImageDraw.Draw(image)
        for x, y, text, size, colour, anchor, halo in self.waiting:
            draw.text(
                (round(x), round(y)),
                text,
                fill=colour,
                font=_font(size),
                anchor=anchor,
                stroke_width=0 if halo is None else max(round(size / 7), 1),
                stroke_fill=halo,
            )
        self.waiting.clear()
