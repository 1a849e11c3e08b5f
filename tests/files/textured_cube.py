"""A cube with texture seams and two materials, written as OBJ, MTL and a texture."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

PLACES = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
"""Of the vertices, in order."""
SQUARES = [(1, 2, 4, 3), (5, 7, 8, 6), (1, 5, 6, 2), (3, 4, 8, 7), (1, 3, 7, 5), (2, 6, 8, 4)]
"""Vertices of each face, from 1, seen from outside against the clock."""
PAIRS = [
    (0.25 * i + u, v) for i in range(6) for u, v in ((0, 0), (0.25, 0), (0.25, 0.75), (0, 0.5))
]
"""Texture coordinates of the corners of every face: each face has a place of its own."""
MTL = """newmtl skin
Kd 0.5 0.25 1
map_Kd -s 1 1 1 -clamp on pictures\\skin one.png
newmtl cloth
Kd 0.1 0.2 0.3
d 0.5
"""


def picture(kind: str = "PNG") -> bytes:
    """A small picture in which every pixel has a colour of its own."""
    rows = np.arange(8 * 16 * 3, dtype=np.uint8).reshape(8, 16, 3)
    file = io.BytesIO()
    Image.fromarray(rows).save(file, kind)
    return file.getvalue()


def cube_text(
    *, materials: bool = True, pairs: bool = True, head: str = "mtllib cube.mtl\n"
) -> str:
    """OBJ text: four faces under 'skin', two under 'cloth'."""
    lines = [f"v {x} {y} {z}" for x, y, z in PLACES]
    lines += [f"vt {u} {v}" for u, v in PAIRS] if pairs else []
    for index, square in enumerate(SQUARES):
        if materials and index in (0, 4):
            lines.append(f"usemtl {'skin' if index == 0 else 'cloth'}")
        corners = [f"{v}/{4 * index + k + 1}" if pairs else f"{v}" for k, v in enumerate(square)]
        lines.append("f " + " ".join(corners))
    return head + "\n".join(lines) + "\n"


def write_cube(folder: Path, text: str | None = None, mtl: str | None = MTL) -> Path:
    """Writes cube.obj, cube.mtl and pictures/skin one.png into the folder."""
    path = folder / "cube.obj"
    path.write_text(cube_text() if text is None else text)
    if mtl is not None:
        (folder / "cube.mtl").write_text(mtl)
    (folder / "pictures").mkdir(exist_ok=True)
    (folder / "pictures" / "skin one.png").write_bytes(picture())
    return path


def expected_corners() -> set[tuple[float, ...]]:
    """Place and texture coordinates (v up) of every corner of the cube's faces."""
    return {
        (*PLACES[vertex - 1], *PAIRS[4 * index + k])
        for index, square in enumerate(SQUARES)
        for k, vertex in enumerate(square)
    }
