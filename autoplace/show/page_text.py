"""The words of a page as HTML: heading, legend, findings, switches and the list of joints.

Every text that comes from a file is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from autoplace.mesh.character import Character
from autoplace.show.evidence_words import (
    SURE,
    SURENESS_COLOURS,
    UNSURE,
    evidence_words,
    joint_words,
)
from autoplace.show.page_mesh import PageMesh
from autoplace.show.page_views import PageView
from autoplace.show.palette import CENTRE, LEFT, LEVELS, RIGHT, Colour
from autoplace.skeleton.model import Finding, Joint, Skeleton
from autoplace.skeleton.names import family, side_of

__all__ = [
    "CHAINS",
    "chain_key",
    "facts",
    "findings",
    "hexed",
    "joint_list",
    "legend",
    "switches",
    "view_buttons",
]

CHAINS: tuple[tuple[str, str], ...] = (
    ("trunk", "Trunk, neck and head"),
    ("left_arm", "Left arm"),
    ("left_hand", "Left hand"),
    ("right_arm", "Right arm"),
    ("right_hand", "Right hand"),
    ("left_leg", "Left leg"),
    ("right_leg", "Right leg"),
    ("other", "Other joints"),
)
"""Chains that a page lists and shows the axes of: key and words."""
PURPOSE = (
    "Made for animation, not for medical or ergonomic use: a joint sits where a limb should turn "
    "on screen, which is not the same as anatomy."
)


def hexed(colour: Colour) -> str:
    """A colour as CSS writes it."""
    return "#" + "".join(f"{part:02x}" for part in colour)


def chain_key(name: str) -> str:
    """Key of the chain in `CHAINS` that a joint belongs to."""
    kind, side = family(name), side_of(name)
    if kind in ("trunk", "head", "eye"):
        return "trunk"
    if side is None:
        return "other"
    if kind in ("clavicle", "arm"):
        return f"{side}_arm"
    if kind in ("hand", "metacarpal", "finger"):
        return f"{side}_hand"
    return f"{side}_leg" if kind in ("leg", "foot") else "other"


def facts(
    character: Character, mesh: PageMesh, skeleton: Skeleton, template_sure: float | None
) -> str:
    """The page's heading: what the character is and what was placed in it."""
    source = skeleton.source
    template = escape(skeleton.template or "none")
    if template_sure is not None:
        template += f", {100 * template_sure:.0f} percent sure"
    rows = [
        ("Height", f"{source.height:.4g} units of the file"),
        ("Template", template),
        ("Joints", str(len(skeleton))),
        ("Mesh", f"{character.face_count:,} triangles, {_count(len(character.parts), 'part')}"),
        ("In the file", f"up {escape(source.up)}, facing {escape(source.forward)}"),
    ]
    listed = "".join(f"<div><dt>{name}</dt><dd>{value}</dd></div>" for name, value in rows)
    lighter = (
        f'<p class="aside">The mesh shown here is a lighter copy of {mesh.face_count:,} '
        "triangles.</p>"
        if mesh.reduced
        else ""
    )
    return (
        f'<h1>{escape(character.name)}</h1><dl class="facts">{listed}</dl>{lighter}'
        f'<p class="aside">{PURPOSE}</p>'
    )


def legend() -> str:
    """What the colours and signs mean."""
    ramp = ", ".join(hexed(colour) for colour in SURENESS_COLOURS)
    inks = "".join(
        f'<span><i class="bone" style="background:{hexed(colour)}"></i>{words}</span>'
        for words, colour in (
            ("the character's left", LEFT),
            ("its right", RIGHT),
            ("middle", CENTRE),
        )
    )
    return (
        '<div class="legend" aria-label="Legend">'
        f"<span>joint sure to {100 * SURE:.1g} % of the height"
        f'<i class="ramp" style="background:linear-gradient(90deg, {ramp})"></i>'
        f"to {100 * UNSURE:.1g} % or worse</span>{inks}"
        f'<span><i class="ring" style="border-color:{hexed(LEVELS["warning"])}"></i>'
        "with a finding</span></div>"
    )


def findings(skeleton: Skeleton) -> str:
    """The findings, the gravest first; those about a joint are buttons that show it."""
    if not skeleton.findings:
        return "<p>The checks found nothing to report.</p>"
    rank = {level: at for at, level in enumerate(LEVELS)}
    ranked = sorted(skeleton.findings, key=lambda finding: rank.get(finding.level, len(rank)))
    numbers = {name: index for index, name in enumerate(skeleton.names)}
    rows = "".join(f"<li>{_finding(finding, numbers)}</li>" for finding in ranked)
    return f'<ul class="findings">{rows}</ul>'


def _finding(finding: Finding, numbers: dict[str, int]) -> str:
    level = finding.level if finding.level in LEVELS else "note"
    joint = finding.joint
    head = f'<b class="level {level}">{level}</b>'
    if joint is not None:
        head += f" {escape(joint_words(joint))}"
    advice = f"<small>{escape(finding.fix)}</small>" if finding.fix else ""
    inside = f"{head}<span>{escape(finding.message)}</span>{advice}"
    if joint not in numbers:
        return f'<div class="plain">{inside}</div>'
    return f'<button type="button" data-joint="{numbers[joint]}">{inside}</button>'


def switches(mesh: PageMesh, chains: Sequence[str]) -> str:
    """What is shown: how the mesh looks, its parts, axes, spread and names."""
    looks = "".join(
        f'<label><input type="radio" name="look" value="{key}"{" checked" * first}>{words}</label>'
        for key, words, first in (
            ("translucent", "translucent", True),
            ("solid", "solid", False),
            ("hidden", "hidden", False),
        )
    )
    parts = "".join(
        f'<label><input type="checkbox" data-part="{number}" checked>{escape(layer.name)}'
        f"{'' if layer.name == layer.kind else f'<small>{layer.kind}</small>'}</label>"
        for number, layer in enumerate(mesh.layers)
    )
    options = "".join(
        f'<option value="{key}">{words}</option>' for key, words in CHAINS if key in chains
    )
    return (
        f'<fieldset><legend>Mesh</legend><div class="row">{looks}</div></fieldset>'
        f'<fieldset><legend>Parts</legend><div class="parts">{parts}</div></fieldset>'
        "<fieldset><legend>Skeleton</legend>"
        '<label class="row">Axes <select id="axes"><option value="">none</option>'
        f'<option value="all">all joints</option>{options}</select></label>'
        '<div class="row"><label><input type="checkbox" id="spread">spread (one standard '
        'deviation)</label><label><input type="checkbox" id="names">names</label></div>'
        "</fieldset>"
    )


def view_buttons(views: Sequence[PageView]) -> str:
    """A button for each view."""
    return "".join(
        f'<button type="button" data-view="{view.key}">{view.label}</button>' for view in views
    )


def joint_list(skeleton: Skeleton) -> str:
    """All joints by chain, each with what spoke for its place."""
    groups = []
    for key, words in CHAINS:
        rows = [
            _joint(number, joint, skeleton)
            for number, joint in enumerate(skeleton)
            if chain_key(joint.name) == key
        ]
        if rows:
            groups.append(
                f"<details><summary>{words} <small>{len(rows)}</small></summary>"
                f"<ul>{''.join(rows)}</ul></details>"
            )
    return "".join(groups)


def _joint(number: int, joint: Joint, skeleton: Skeleton) -> str:
    x, y, z = (f"{value:.5g}" for value in joint.position)
    return (
        f'<li id="joint-{number}"><button type="button" data-joint="{number}">'
        f"{escape(joint.name)}</button><p>{escape(evidence_words(joint, skeleton))}</p>"
        f'<p class="at">at {x}, {y}, {z} in the file</p></li>'
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
