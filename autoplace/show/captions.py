"""The sheet's words: header, legend and findings."""

from __future__ import annotations

from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.show.glyphs import bead, leaf, spread_disc
from autoplace.show.ink import Box, Ink
from autoplace.show.lettering import Lettering
from autoplace.show.palette import (
    CARD,
    CENTRE,
    EYE,
    FAINT,
    LEFT,
    LEVELS,
    PAPER,
    RIGHT,
    VEIL_DARK,
    WASH_DARK,
    lighter,
)
from autoplace.skeleton.model import Finding, Skeleton

__all__ = ["findings_list", "header", "least_certain", "legend"]

ORDER = ("error", "warning", "note")


def header(
    ink: Ink,
    letters: Lettering,
    box: Box,
    title: str,
    character: Character,
    frame: Frame,
    skeleton: Skeleton,
) -> None:
    """File name, the facts in one line, and how many findings of each level."""
    u = letters.unit
    left, top, right, _ = box
    letters.write(left, top + 30 * u, letters.shorten(title, 46, (right - left) * 0.6), 46)
    facts = [
        f"height {frame.height:.4g}",
        f"template {skeleton.template or 'none'}",
        f"{len(skeleton)} joints",
        f"{character.face_count:,} triangles in {_count(len(character.parts), 'part')}",
        f"up {frame.up}, facing {frame.forward}",
        f"mirror residual {100 * frame.symmetry_residual:.2g} % of height",
    ]
    letters.write(left, top + 78 * u, "   ·   ".join(facts), 18, FAINT)
    x = right
    for level in reversed(ORDER):
        number = sum(f.level == level for f in skeleton.findings)
        text = _count(number, level)
        width = letters.width(text, 20) + 46 * u
        pill = (x - width, top + 10 * u, x, top + 50 * u)
        colour = LEVELS[level]
        ink.box(pill, 20 * u, colour if number else PAPER, lighter(colour, 0.5), 1.4 * u)
        letters.write(
            (pill[0] + pill[2]) / 2, top + 30 * u, text, 20, CARD if number else FAINT, "mm"
        )
        x -= width + 12 * u
    letters.write(right, top + 78 * u, "autoplace", 18, FAINT, "rm")


def legend(ink: Ink, letters: Lettering, box: Box) -> None:
    """What the signs mean, in two columns under the panel's title."""
    u = letters.unit
    left, top, right, bottom = box
    rows = 6
    step = (bottom - top - 62 * u) / rows
    columns = (left + 36 * u, left + (right - left) * 0.5 + 8 * u)

    def row(index: int) -> tuple[float, float]:
        return columns[index // rows], top + 62 * u + step * (index % rows)

    entries = (
        ("character's left", LEFT, "joint"),
        ("character's right", RIGHT, "joint"),
        ("middle", CENTRE, "joint"),
        ("root", CENTRE, "root"),
        ("tip helper", LEFT, "tip"),
        ("bone, parent to child", LEFT, "leaf"),
        ("one standard deviation", CENTRE, "spread"),
        ("fitted eyeball", EYE, "eye"),
        ("joint with a finding", CENTRE, "finding"),
        ("locked by hand", CENTRE, "locked"),
        ("body", WASH_DARK, "swatch"),
        ("hair, garments, props", VEIL_DARK, "swatch"),
    )
    for index, (text, colour, kind) in enumerate(entries):
        x, y = row(index)
        if kind == "leaf":
            leaf(ink, (x - 17 * u, y), (x + 17 * u, y), 6 * u, colour)
        elif kind == "spread":
            spread_disc(ink, (x, y), 12 * u, colour)
            bead(ink, (x, y), 4 * u, colour)
        elif kind == "eye":
            ink.ring((x, y), 11 * u, [(1.0 * u, colour, 1.0)])
            bead(ink, (x, y), 4 * u, LEFT)
        elif kind == "finding":
            bead(ink, (x, y), 6 * u, colour, level="warning")
        elif kind == "locked":
            bead(ink, (x, y), 7 * u, colour, locked=True)
        elif kind == "swatch":
            swatch = (x - 14 * u, y - 8 * u, x + 14 * u, y + 8 * u)
            ink.box(swatch, 4 * u, lighter(colour, 0.45))
        else:
            bead(ink, (x, y), 7 * u, colour, kind)
        letters.write(x + 28 * u, y, text, 16)


def least_certain(frame: Frame, skeleton: Skeleton) -> str:
    """The joints with the greatest spread, for the corner of the findings panel."""
    doubtful = sorted((j for j in skeleton if j.spread > 0), key=lambda j: (-j.spread, j.name))
    if not doubtful:
        return ""
    names = [f"{j.name} {100 * j.spread / frame.height:.1f} %" for j in doubtful[:3]]
    return "least certain: " + ", ".join(names)


def findings_list(ink: Ink, letters: Lettering, box: Box, findings: tuple[Finding, ...]) -> None:
    """The gravest findings with what to do about them, as many as there is room for."""
    u = letters.unit
    left, top, right, bottom = box
    ordered = sorted(findings, key=lambda f: ORDER.index(f.level) if f.level in ORDER else 3)
    y = top + 58 * u
    if not ordered:
        letters.write(left + 24 * u, y, "The checks found nothing to report.", 17)
        return
    width = right - left - 74 * u
    for number, finding in enumerate(ordered):
        said = letters.wrap(finding.message, 16, width, 3)
        advice = letters.wrap(finding.fix, 14, width, 2)
        needed = (len(said) * 20 + len(advice) * 18 + 10) * u
        last = number == len(ordered) - 1
        if y - 10 * u + needed > bottom - (8 if last else 24) * u:
            rest = f"and {len(ordered) - number} more"
            letters.write(left + 50 * u, bottom - 18 * u, rest, 14, FAINT)
            return
        ink.disc((left + 30 * u, y), 6.5 * u, LEVELS.get(finding.level, FAINT))
        for text in said:
            letters.write(left + 50 * u, y, text, 16)
            y += 20 * u
        for text in advice:
            letters.write(left + 50 * u, y, text, 14, FAINT)
            y += 18 * u
        y += 10 * u


def _count(number: int, noun: str) -> str:
    """'1 note', '2 notes'."""
    return f"{number} {noun}" + ("" if number == 1 else "s")
