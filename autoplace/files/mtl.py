"""Reads Wavefront MTL text: the colours, opacity and base colour textures of OBJ materials.

Of the format only what `looks.Material` holds is read: `newmtl`, `Kd`, `d`, `Tr` and `map_Kd`.
`Kd` is the share of light that the surface sends back (diffuse reflectivity; format description of
its makers, from memory). Shares multiply light, which is linear, so the numbers are taken as linear
and not as the curved values of a screen.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from autoplace.files.looks import GREY

__all__ = ["MtlEntry", "read_mtl"]

LONGEST_LINE = 5000
"""Letters of a line that is read; the longest names of files have some thousand."""
COUNT = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
OPTION = re.compile(
    rf"-(?:(?P<flag>blendu|blendv|cc|clamp|type|imfchan|texres|boost|bm)\s+(?P<value>\S+)"
    rf"|mm\s+{COUNT}\s+{COUNT}|(?P<move>[ost])(?:\s+{COUNT}(?=\s)){{1,3}})\s+"
)
"""An option before a texture's name, such as `-s 2 2 1`."""


@dataclass(frozen=True)
class MtlEntry:
    """One material."""

    colour: tuple[float, float, float] | None = None
    """Linear; None when not said."""
    opacity: float = 1.0
    dissolved: bool = False
    """Whether `d` gave the opacity. Files that have `Tr` as well do not agree on its direction."""
    texture: str | None = None
    """Name of the file as it is written."""
    clamped: bool = False
    moved: bool = False
    """Whether options scale or shift the texture, which is passed over."""

    def base_colour(self, textured: bool) -> tuple[float, float, float, float]:
        """Linear red, green, blue, opacity; with a texture, what that is multiplied with.

        Black with a texture would hide it, and is what some programs write beside one; it counts
        as white.
        """
        colour = self.colour
        if textured and (colour is None or max(colour) == 0.0):
            colour = (1.0, 1.0, 1.0)
        return (*(colour or GREY[:3]), self.opacity)


def read_mtl(data: bytes) -> dict[str, MtlEntry]:
    """Materials by name; of two with one name the first. What cannot be read is passed over."""
    found: dict[str, MtlEntry] = {}
    name = None
    for line in data.decode("utf-8", "replace").splitlines():
        if len(line) > LONGEST_LINE:
            continue
        word, _, rest = line.strip().partition("#")[0].replace("\t", " ").partition(" ")
        rest = rest.strip()
        if word == "newmtl":
            name = " ".join(rest.split())
            if name in found:
                name = None
            else:
                found[name] = MtlEntry()
        elif name is not None:
            found[name] = _with(found[name], word, rest)
    return found


def _with(entry: MtlEntry, word: str, rest: str) -> MtlEntry:
    """The material with what one line says of it."""
    if word == "Kd":
        shares = _shares(rest.split()[:3])
        if shares:  # green and blue are like red where they are left out
            red, green, blue = shares if len(shares) == 3 else shares * 3
            return replace(entry, colour=(red, green, blue))
    elif word in ("d", "Tr"):
        shares = _shares(rest.removeprefix("-halo").split()[:1])
        if shares and word == "d":
            return replace(entry, opacity=shares[0], dissolved=True)
        if shares and not entry.dissolved:
            return replace(entry, opacity=1.0 - shares[0])
    elif word == "map_Kd":
        clamped = moved = False
        option = OPTION.match(rest)
        while option:
            clamped |= option["flag"] == "clamp" and option["value"] == "on"
            moved |= option["move"] is not None
            rest = rest[option.end() :]
            option = OPTION.match(rest)
        if rest:
            return replace(entry, texture=rest, clamped=clamped, moved=moved)
    return entry


def _shares(words: list[str]) -> list[float]:
    """Numbers from 0 to 1, others moved there; none where there are not one or three."""
    try:
        values = [float(word) for word in words]
    except ValueError:
        return []
    if len(values) not in (1, 3) or not all(math.isfinite(value) for value in values):
        return []
    return [min(max(value, 0.0), 1.0) for value in values]
