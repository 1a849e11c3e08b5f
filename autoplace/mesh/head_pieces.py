"""Small islands at the head: teeth and tongue inside it, brows, lashes and beard on it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from autoplace.mesh.eyeballs import Eyeball
from autoplace.mesh.layers import layer_grid
from autoplace.mesh.slices import HeadBox
from autoplace.mesh.spheres import IslandMeasures
from autoplace.mesh.verdict import Verdict

__all__ = ["judge_head_pieces"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HEAD_CELLS = 48
"""Cells over the height of the head: fine enough to tell teeth from the lips before them."""
HIDDEN_SIDES = 5
HIDDEN_SHARE = 0.75
"""A piece is inside the head when this share of it is hidden on five of six sides: the open mouth
is the sixth..."""
BARE_SIDES = 3
BARE_SHARE = 0.05
"""...and no more than this share is hidden on fewer than three, as a nose's tip or an ear is."""
MOUTH_AREA = 0.35
"""Share of the head's surface that an inner mouth has at most; more is an inner head."""
THIN = 0.6
"""Brows and lashes are wider than this share of their height inverted: longer than tall."""


def judge_head_pieces(
    islands: list[int],
    face: Collection[int],
    measures: IslandMeasures,
    corners: FloatArray,
    label: IntArray,
    head: HeadBox,
    eyes: Sequence[Eyeball],
    hints: Sequence[str | None],
) -> dict[int, Verdict]:
    """Verdicts for the islands that are an inner mouth, brows or lashes; nothing for the others.

    `face` are the islands that carry the face: only they hide an inner mouth.
    All in the working frame; `corners` (m, 3, 3) and `label` (m,) of all triangles.
    """
    margin = 0.05 * (head.high - head.low)
    at_head = [
        i
        for i in islands
        if i not in face
        and np.all(measures.low[i] > head.low - margin)
        and np.all(measures.high[i] < head.high + margin)
    ]
    if not at_head:
        return {}
    middle = corners.mean(axis=1)
    near = np.all((middle > head.low - margin) & (middle < head.high + margin), axis=1)
    near &= np.isin(label, islands)
    if not near.any():
        return {}
    cell = float(head.high[1] - head.low[1]) / HEAD_CELLS
    grid = layer_grid(corners[near], measures.face_area[near], label[near], cell)
    head_area = float(measures.face_area[near].sum())
    if eyes:
        eye_height = float(np.mean([eye.centre[1] for eye in eyes]))
        eye_radius = float(np.mean([eye.radius for eye in eyes]))
    else:
        # eyes at half the head height (references section 6)
        eye_height = float(0.5 * (head.low[1] + head.high[1]))
        eye_radius = 0.0
    verdicts: dict[int, Verdict] = {}
    shell = grid.occupied(sorted(face))
    for island in at_head:
        if _is_brow(island, measures, head, eyes, eye_height):
            verdicts[island] = Verdict("hair", "a narrow strip on the face at the eyes", 0.7)
            continue
        hidden = grid.covered([island], shell)
        if len(hidden) == 0:
            continue
        inside = float((hidden.sum(axis=1) >= HIDDEN_SIDES).mean())
        share = measures.area[island] / max(head_area, 1e-12)
        limit = HIDDEN_SHARE * (0.7 if hints[island] == "inner_mouth" else 1.0)
        bare = float((hidden.sum(axis=1) < BARE_SIDES).mean())
        if inside <= limit or share >= MOUTH_AREA or bare > BARE_SHARE:
            continue
        sureness = float(np.clip(0.4 + 0.5 * inside, 0.0, 0.95))
        if measures.centroid[island, 1] < eye_height - 0.5 * eye_radius:
            verdicts[island] = Verdict("inner_mouth", "inside the head below the eyes", sureness)
        else:
            verdicts[island] = Verdict("unknown", "hidden inside the head", sureness)
    return verdicts


def _is_brow(
    island: int,
    measures: IslandMeasures,
    head: HeadBox,
    eyes: Sequence[Eyeball],
    eye_height: float,
) -> bool:
    """A strip, wider than tall and small against the head, above or on an eye at the front."""
    size = measures.high[island] - measures.low[island]
    head_size = head.high - head.low
    if size[1] > THIN * size[0] or size[0] > 0.7 * head_size[0] or size[1] > 0.2 * head_size[1]:
        return False
    centre = 0.5 * (measures.high[island] + measures.low[island])
    forward = (centre[2] - head.low[2]) / max(head_size[2], 1e-9) > 0.5
    if not eyes:
        return bool(forward and eye_height < centre[1] < eye_height + 0.25 * head_size[1])
    for eye in eyes:
        offset = centre - eye.centre
        if abs(offset[0]) < 1.5 * eye.radius + 0.5 * size[0] and -eye.radius < offset[1]:
            return bool(forward and offset[1] < 5 * eye.radius)
    return False
