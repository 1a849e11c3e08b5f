"""Colours and type sizes of the pictures, in one place.

An anatomist's plate: warm paper, the figure a transparent wash, the skeleton in three inks.
The two sides differ in hue and in lightness order against the wash, and emerald against
vermilion stays apart for most kinds of colour blindness (common practice, no source).
"""

from __future__ import annotations

from functools import lru_cache

__all__ = [
    "AXES",
    "CARD",
    "CARD_LINE",
    "CENTRE",
    "EYE",
    "FAINT",
    "LEFT",
    "LEVELS",
    "PAPER",
    "RIGHT",
    "TEXT",
    "Colour",
    "deeper",
    "lighter",
    "side_colour",
    "side_of",
]

Colour = tuple[int, int, int]

PAPER: Colour = (241, 235, 224)
"""The sheet."""
CARD: Colour = (252, 250, 245)
"""A panel on the sheet."""
CARD_LINE: Colour = (216, 206, 190)
"""The rule around a panel, and other thin rules."""
TEXT: Colour = (43, 38, 52)
FAINT: Colour = (128, 119, 124)
"""Secondary text, axis marks."""

LEFT: Colour = (0, 122, 110)
"""The character's left: emerald."""
RIGHT: Colour = (211, 73, 28)
"""The character's right: vermilion."""
CENTRE: Colour = (58, 44, 128)
"""What lies in the middle: indigo."""
EYE: Colour = (24, 110, 168)
"""Eyeballs."""

AXES: tuple[Colour, Colour, Colour] = ((214, 38, 78), (46, 140, 40), (34, 88, 214))
"""Local X, Y and Z: red, green and blue as in textbooks, as strong as the other inks."""

WASH_LIGHT: Colour = (216, 208, 224)
WASH_DARK: Colour = (78, 68, 104)
"""The body, where it is lit and where it is in shade."""
WASH_LINE: Colour = (58, 50, 76)
"""The body's outlines."""
VEIL_LIGHT: Colour = (250, 242, 222)
VEIL_DARK: Colour = (196, 172, 122)
"""Hair, garments and accessories."""
VEIL_LINE: Colour = (150, 122, 70)

LEVELS: dict[str, Colour] = {
    "error": (178, 20, 44),
    "warning": (201, 134, 0),
    "note": (92, 104, 128),
}


@lru_cache(maxsize=512)
def side_of(name: str) -> str:
    """'left', 'right' or 'centre', from the joint's name."""
    for side in ("left", "right"):
        if name.startswith(side + "_"):
            return side
    return "centre"


def side_colour(name: str) -> Colour:
    """Ink for a joint of that name."""
    return {"left": LEFT, "right": RIGHT, "centre": CENTRE}[side_of(name)]


@lru_cache(maxsize=256)
def mix(first: Colour, second: Colour, share: float) -> Colour:
    """`first` with `share` of `second` mixed in."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(first, second, strict=True))
    return red, green, blue


def deeper(colour: Colour, share: float = 0.35) -> Colour:
    """The colour with black mixed in."""
    return mix(colour, (0, 0, 0), share)


def lighter(colour: Colour, share: float = 0.35) -> Colour:
    """The colour with white mixed in."""
    return mix(colour, (255, 255, 255), share)
