"""Reads Wavefront MTL text: the colours, opacity, shine and textures of OBJ materials.

Of the format that is read which `looks.Material` can hold: `Kd`, `d`, `Tr`, `Ke`, `Ks` with `Ns`,
and of the extension for physically based materials `Pr`, `Pm` and `norm`, each with its `map_`.
`Kd` is the share of light that the surface sends back (diffuse reflectivity), and `Ns` the exponent
of the highlight (format description of its makers, and of the extension, from memory). Shares
multiply light, which is linear, so the numbers are taken as linear and not as the curved values of
a screen.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace

from autoplace.files.looks import GREY

__all__ = ["MtlEntry", "MtlMap", "read_mtl"]

LONGEST_LINE = 5000
"""Letters of a line that is read; the longest names of files have some thousand."""
LARGEST_EXPONENT = 1e6
"""Of a highlight; the format's own range ends at 1000 (from memory)."""
COUNT = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
OPTION = re.compile(
    rf"-(?:(?P<flag>blendu|blendv|cc|clamp|type|imfchan|texres|boost|bm)\s+(?P<value>\S+)"
    rf"|mm\s+{COUNT}\s+{COUNT}|(?P<move>[ost])(?:\s+{COUNT}(?=\s)){{1,3}})\s+"
)
"""An option before a texture's name, such as `-s 2 2 1`."""
MAPS = {
    "map_kd": "colour",
    "map_ke": "emission",
    "map_pr": "roughness",
    "map_pm": "metallic",
    "norm": "normal",
}
"""Words before a texture's name, in small letters, and what it is of."""
NOT_CARRIED = ("bump", "disp", "decal", "refl", "aniso", "Pc", "Ps")
"""Words of what is passed over and told, beside those that begin with `map_`: heights, other
textures, and shares of coats that are not zero."""


@dataclass(frozen=True)
class MtlMap:
    """A texture as it is named."""

    file: str
    clamped: bool = False
    moved: bool = False
    """Whether options scale or shift it, which is passed over."""
    strength: float = 1.0
    """What `-bm` says."""


@dataclass(frozen=True)
class MtlEntry:
    """One material."""

    colour: tuple[float, float, float] | None = None
    """Linear; None when not said."""
    opacity: float = 1.0
    dissolved: bool = False
    """Whether `d` gave the opacity. Files that have `Tr` as well do not agree on its direction."""
    emission: tuple[float, float, float] | None = None
    specular: float | None = None
    """The largest of the three shares of `Ks`."""
    exponent: float | None = None
    roughness: float | None = None
    metallic: float | None = None
    maps: dict[str, MtlMap] = field(default_factory=dict)
    """By what each is of, one of `MAPS`."""
    passed_over: tuple[str, ...] = ()
    """Words of what is not read."""

    def base_colour(self, textured: bool) -> tuple[float, float, float, float]:
        """Linear red, green, blue, opacity; with a texture, what that is multiplied with.

        Black with a texture would hide it, and is what some programs write beside one; it counts
        as white.
        """
        return (*_lit(self.colour, textured, GREY[:3]), self.opacity)

    def light(self, textured: bool) -> tuple[float, float, float]:
        """Linear red, green, blue that the surface sends out, with a texture as for the colour."""
        return _lit(self.emission, textured, (0.0, 0.0, 0.0))

    def rough(self, otherwise: float) -> float:
        """How rough the surface is, 0 to 1.

        From the exponent n of a highlight, if there is one: its width is sqrt(2 / (n + 2)) (Walter
        and others 2007, Microfacet models for refraction through rough surfaces, from memory), and
        the width is the roughness squared (ISO/IEC 12113:2022, appendix B.2.3).
        """
        if self.roughness is not None:
            return self.roughness
        if self.exponent is None or self.specular == 0.0:
            return otherwise
        return (2.0 / (self.exponent + 2.0)) ** 0.25

    def told(self) -> tuple[str, ...]:
        """Words of what is lost, in order."""
        shine = ("Ks",) if self.specular and self.roughness is None else ()
        return tuple(dict.fromkeys((*shine, *self.passed_over)))


def _lit(
    colour: tuple[float, float, float] | None, textured: bool, plain: tuple[float, ...]
) -> tuple[float, float, float]:
    if textured and (colour is None or max(colour) == 0.0):
        return (1.0, 1.0, 1.0)
    red, green, blue = colour or plain
    return (red, green, blue)


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
    if word in ("Kd", "Ke", "Ks"):
        shares = _shares(rest.split()[:3])
        if not shares:
            return entry
        red, green, blue = (
            shares if len(shares) == 3 else shares * 3
        )  # green, blue as red if unsaid
        if word == "Kd":
            return replace(entry, colour=(red, green, blue))
        if word == "Ke":
            return replace(entry, emission=(red, green, blue))
        return replace(entry, specular=max(shares))
    if word in ("d", "Tr"):
        shares = _shares(rest.removeprefix("-halo").split()[:1])
        if shares and word == "d":
            return replace(entry, opacity=shares[0], dissolved=True)
        if shares and not entry.dissolved:
            return replace(entry, opacity=1.0 - shares[0])
        return entry
    if word in ("Pr", "Pm"):
        shares = _shares(rest.split()[:1])
        if shares and word == "Pr":
            return replace(entry, roughness=shares[0])
        return replace(entry, metallic=shares[0]) if shares else entry
    if word == "Ns":
        values = _numbers(rest.split()[:1])
        return (
            replace(entry, exponent=min(max(values[0], 0.0), LARGEST_EXPONENT)) if values else entry
        )
    of = MAPS.get("norm" if word.lower() == "map_norm" else word.lower())
    if of is not None:
        named = _map(rest)
        return replace(entry, maps={**entry.maps, of: named}) if named.file else entry
    return _beyond(entry, word, rest)


def _beyond(entry: MtlEntry, word: str, rest: str) -> MtlEntry:
    """The material with a word that is passed over, if it says something that would be seen."""
    nothing = not rest or _numbers(rest.split()) == [0.0]
    seen = word in NOT_CARRIED or (word.startswith("map_") and word != "map_aat")  # smoothing
    if nothing or not seen:
        return entry
    return replace(entry, passed_over=(*entry.passed_over, word))


def _map(rest: str) -> MtlMap:
    """A texture's name with the options before it."""
    clamped = moved = False
    strength = 1.0
    option = OPTION.match(rest)
    while option:
        clamped |= option["flag"] == "clamp" and option["value"] == "on"
        moved |= option["move"] is not None
        if option["flag"] == "bm":
            strength = (_numbers([option["value"]]) or [1.0])[0]
        rest = rest[option.end() :]
        option = OPTION.match(rest)
    return MtlMap(rest, clamped, moved, strength)


def _shares(words: list[str]) -> list[float]:
    """Numbers from 0 to 1, others moved there; none where there are not one or three."""
    values = _numbers(words)
    return [min(max(value, 0.0), 1.0) for value in values] if len(values) in (1, 3) else []


def _numbers(words: list[str]) -> list[float]:
    """Finite numbers; none where any is not."""
    try:
        values = [float(word) for word in words]
    except ValueError:
        return []
    return values if all(math.isfinite(value) for value in values) else []
