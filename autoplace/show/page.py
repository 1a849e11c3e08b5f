"""A page to look at a placed skeleton with: one HTML file that needs no network.

The mesh is drawn by plotly's script, which travels inside that library's package and is put into
the page when it is written. The skeleton is drawn over it by our own (`page*.js`), so that it shows
through the mesh however solid that is. A policy in the page lets no script run but these, and
nothing be fetched.
"""

from __future__ import annotations

import base64
import hashlib
import json
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from autoplace.files.atomic import write_whole
from autoplace.files.marks import MARK
from autoplace.measure.frame_record import Frame
from autoplace.mesh.character import Character
from autoplace.mesh.pieces import Roles
from autoplace.show import palette
from autoplace.show.evidence_words import joint_words, sureness_colour
from autoplace.show.figure import Figure, gather
from autoplace.show.page_mesh import MeshLayer, PageMesh, page_mesh
from autoplace.show.page_text import (
    chain_key,
    facts,
    findings,
    hexed,
    joint_list,
    legend,
    switches,
    view_buttons,
)
from autoplace.show.page_views import page_views, view_for
from autoplace.show.palette import Colour, mix, side_colour
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.names import is_tip, side_of

__all__ = ["render_page", "write_page"]

HERE = Path(__file__).resolve().parent
SCRIPTS = ("page_eye.js", "page_bones.js", "page.js")
"""Our own, in order; together they are one script."""
LARGEST_CUBE = 200.0
"""Half the side of what is drawn, percent of the height, at most; backdrops are cut off there."""
AXIS_SHARE = 0.35
"""Length of a drawn axis, share of the distance to the nearest joint beside it (common practice, no
source)."""
SHORTEST_AXIS, LONGEST_AXIS = 0.5, 4.0
"""Percent of the height."""
WORN = ("hair", "garment", "accessory", "left_out")
"""Roles of what the body may be seen through."""


def write_page(page: bytes, path: str | Path) -> None:
    """Write a page to a file, whole or not at all; OutputError when it cannot be written."""
    write_whole(path, page)


def render_page(
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    *,
    template_sure: float | None = None,
) -> bytes:
    """The whole page as UTF-8; the same for the same input and the same version of plotly.

    Args:
        character, roles, frame: as the pipeline gives them.
        skeleton: in the input file's frame and units, under our own names.
        template_sure: how sure the choice of the template is, 0 to 1; unsaid, it is not told.
    """
    from plotly.offline import get_plotlyjs

    figure = gather(character, roles, frame, skeleton)
    mesh = page_mesh(character, roles, frame)
    views = page_views(figure)
    scene = _scene(figure, mesh)
    scene["views"] = [
        {
            "key": view.key,
            "axes": _plain(view.axes, 5),
            "low": _plain(view.low, 3),
            "high": _plain(view.high, 3),
            "depth": round(view.depth, 3),
        }
        for view in views
    ]
    scripts = {
        "plotly": get_plotlyjs(),
        "page": "".join((HERE / name).read_text(encoding="utf-8") for name in SCRIPTS),
    }
    style = _variables() + (HERE / "page.css").read_text(encoding="utf-8")
    chains = {chain_key(joint.name) for joint in skeleton}
    title = escape(character.name)
    page = f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="generator" content="{MARK}">
<meta http-equiv="Content-Security-Policy" content="{_policy(tuple(scripts.values()))}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}: skeleton</title>
<style>{style}</style>
</head>
<body>
<main>
<section class="picture" aria-label="Picture">
<div class="views" role="toolbar" aria-label="Views">{view_buttons(views)}</div>
<div id="stage"><div id="mesh"></div>
<canvas id="bones" tabindex="0" role="img" aria-label="Skeleton of {title} over its mesh. \
Arrow keys turn it, plus and minus bring it nearer and farther."></canvas>
<div id="tip" hidden></div>
<p id="wait">Drawing the mesh …</p></div>
{legend()}
<p class="hint">Drag to turn; wheel or pinch to come nearer; right button, shift or two fingers to \
shift. Point at a joint, or tap it, to read what put it there.</p>
</section>
<section class="words" aria-label="Words">
<header>{facts(character, mesh, skeleton, template_sure)}</header>
<section id="chosen" aria-live="polite" hidden></section>
<section><h2>Findings</h2>{findings(skeleton)}</section>
<section><h2>Show</h2>{switches(mesh, sorted(chains))}</section>
<section><h2>Joints</h2>{joint_list(skeleton)}</section>
</section>
</main>
<noscript>The picture needs JavaScript; findings and joints are told in words.</noscript>
<script type="application/json" id="scene">{_json(scene)}</script>
<script>{scripts["plotly"]}</script>
<script>{scripts["page"]}</script>
</body>
</html>
"""
    return page.encode("utf-8")


def _scene(figure: Figure, mesh: PageMesh) -> dict[str, Any]:
    """All that the page's script draws: surfaces, joints and colours. Percent of the height."""
    corners = [layer.vertices for layer in mesh.layers] + [
        100.0 * np.array(list(figure.places.values())).reshape(-1, 3)
    ]
    centre = np.array([0.0, 50.0, 0.0])
    half = max((float(np.abs(points - centre).max(initial=0.0)) for points in corners), default=0.0)
    numbers = {name: index for index, name in enumerate(figure.skeleton.names)}
    return {
        "cube": {"centre": _plain(centre, 0), "half": round(min(1.02 * half, LARGEST_CUBE), 2)},
        "surfaces": [_surface(layer) for layer in mesh.layers],
        "joints": [_joint(figure, name, numbers) for name in figure.skeleton.names],
        "inks": {
            "card": hexed(palette.CARD),
            "text": hexed(palette.TEXT),
            "eye": hexed(palette.EYE),
            "axes": [hexed(colour) for colour in palette.AXES],
            "levels": {level: hexed(colour) for level, colour in palette.LEVELS.items()},
        },
    }


def _surface(layer: MeshLayer) -> dict[str, Any]:
    """A layer as plotly's script takes it: numbers packed in base 64."""
    x, y, z = layer.vertices.astype("<f4").T
    kind = "<u2" if len(layer.vertices) <= 0xFFFF else "<u4"
    i, j, k = layer.faces.astype(kind).T
    return {
        "colour": hexed(_surface_colour(layer.role)),
        "worn": layer.role in WORN,
        "trace": {
            key: _packed(values) for key, values in zip("xyzijk", (x, y, z, i, j, k), strict=True)
        },
    }


def _surface_colour(role: str) -> Colour:
    if role == "eyeball":
        return mix(palette.EYE, palette.CARD, 0.65)
    if role in WORN:
        return mix(palette.VEIL_LIGHT, palette.VEIL_DARK, 0.7)
    return mix(palette.WASH_LIGHT, palette.WASH_DARK, 0.22)


def _joint(figure: Figure, name: str, numbers: dict[str, int]) -> dict[str, Any]:
    """A joint as the page's script draws it."""
    skeleton, place = figure.skeleton, figure.places[name]
    joint = skeleton[name]
    beside = [figure.places[child.name] for child in skeleton.children(name)]
    if joint.parent is not None:
        beside.append(figure.places[joint.parent])
    gaps = [100.0 * float(np.linalg.norm(other - place)) for other in beside]
    reach = AXIS_SHARE * min((gap for gap in gaps if gap > 0.0), default=LONGEST_AXIS)
    axes = np.asarray(joint.axes, dtype=np.float64) @ figure.to_working.T
    kind = "tip" if is_tip(name) else "root" if joint.parent is None else "joint"
    return {
        "name": name,
        "words": joint_words(name),
        "parent": -1 if joint.parent is None else numbers[joint.parent],
        "kind": "eye" if name in figure.eye_radius or name.endswith("_eye") else kind,
        "side": side_of(name) or "",
        "chain": chain_key(name),
        "view": view_for(name),
        "at": _plain(100.0 * place, 4),
        "axes": _plain(axes, 4),
        "axis": round(float(np.clip(reach, SHORTEST_AXIS, LONGEST_AXIS)), 3),
        "spread": round(100.0 * figure.spreads[name], 4),
        "ball": round(100.0 * figure.eye_radius.get(name, 0.0), 4),
        "ink": hexed(side_colour(name)),
        "sure": hexed(sureness_colour(joint, skeleton.source.height)),
        "level": figure.marked.get(name, ""),
        "locked": joint.locked,
    }


def _packed(values: Any) -> dict[str, str]:
    return {
        "dtype": values.dtype.str.lstrip("<|"),
        "bdata": base64.b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii"),
    }


def _plain(values: Any, digits: int) -> Any:
    """Numbers rounded to what the picture needs, without negative zeros."""
    return (np.round(np.asarray(values, dtype=np.float64), digits) + 0.0).tolist()


def _json(data: Any) -> str:
    """JSON that can stand in HTML: nothing in it ends the script or begins another."""
    text = json.dumps(data, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _policy(scripts: tuple[str, ...]) -> str:
    """What the page may do: run just these scripts, and fetch nothing (W3C CSP level 3)."""
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
        for text in scripts
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data: blob:"
    )


def _variables() -> str:
    """The palette as CSS knows it."""
    colours = {
        "paper": palette.PAPER,
        "card": palette.CARD,
        "line": palette.CARD_LINE,
        "text": palette.TEXT,
        # a little deeper than in pictures, where letters are larger
        "faint": palette.deeper(palette.FAINT, 0.25),
        "centre": palette.CENTRE,
        **palette.LEVELS,
    }
    return ":root{" + "".join(f"--{name}:{hexed(c)};" for name, c in colours.items()) + "}\n"
