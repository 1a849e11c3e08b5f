"""Pictures of the bodies with joints over them, to see that the truth is true."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.dataset.bones import PARENT

TRUTH = "#c2410c"
OURS = "#0e7490"


def draw(axes, mesh, joints: dict, other: dict | None, side: str, box=None) -> None:
    """One view: the shaded mesh, and joints over it (truth as dots, ours as crosses)."""
    from matplotlib.collections import LineCollection, PolyCollection

    # columns across, up and towards the viewer
    turn = {
        "front": np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1]]),
        "side": np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0]]),
        "top": np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]),
    }[side]
    vertices = mesh.vertices @ turn.T
    corners = vertices[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12
    seen = np.flatnonzero(normals[:, 2] > 0)
    if box is not None:
        low, high = (box[0] @ turn.T, box[1] @ turn.T)
        low, high = np.minimum(low, high), np.maximum(low, high)
        middle = corners.mean(axis=1)
        inside = ((middle >= low) & (middle <= high)).all(axis=1)
        seen = seen[inside[seen]]
    seen = seen[np.argsort(corners[seen].mean(axis=1)[:, 2])]
    light = np.clip(normals[seen] @ np.array([0.3, 0.4, 0.86]), 0, 1)
    shade = 0.45 + 0.5 * light
    colours = np.stack([shade, shade, shade, np.ones_like(shade)], axis=1)
    axes.add_collection(PolyCollection(corners[seen][:, :, :2], facecolors=colours, linewidths=0))
    for places, colour, marker in ((joints, TRUTH, "o"), (other or {}, OURS, "x")):
        flat = {name: (turn @ np.asarray(place))[:2] for name, place in places.items()}
        bones = [[flat[name], flat[PARENT[name]]] for name in flat if PARENT.get(name) in flat]
        axes.add_collection(LineCollection(bones, colors=colour, linewidths=0.6))
        if flat:
            points = np.array(list(flat.values()))
            axes.scatter(*points.T, s=9, c=colour, marker=marker, linewidths=0.7, zorder=3)
    if box is None:
        low, high = vertices.min(axis=0), vertices.max(axis=0)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_aspect("equal")
    axes.axis("off")


def sheet(path: Path, rows: list[tuple], views=("front", "side")) -> None:
    """A grid of views; rows of (title, mesh, truth, ours or None, box or None)."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    columns = min(len(rows) * len(views), 6 // len(views) * len(views))
    lines = -(-len(rows) * len(views) // columns)
    figure = Figure(figsize=(2.4 * columns, 4.2 * lines), dpi=90)
    FigureCanvasAgg(figure)
    for number, (title, mesh, truth, ours, box) in enumerate(rows):
        for step, view in enumerate(views):
            place = number * len(views) + step + 1
            axes = figure.add_subplot(lines, columns, place)
            draw(axes, mesh, truth, ours, view, box)
            if step == 0:
                axes.set_title(title, fontsize=7, loc="left")
    figure.tight_layout()
    figure.savefig(path)
