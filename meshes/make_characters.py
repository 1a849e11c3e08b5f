"""Makes the demo characters of this folder: `python -m meshes.make_characters [NAME ...]`.

The scene is a small island with a lighthouse, at the hour when the night boat is due:

* `keeper` looks after the lamp. Ordinary adult proportions, T-pose, five fingers, palms down. Parts
  `body`, `hair`, `belt`, and both eyeballs as one object `eyes`. Metres, +Y up, facing +Z.

Each character is written as `NAME.obj` (one object per part, triangles) with `NAME.truth.json`: the
joints in the frame and units of the mesh. They are not measured on the mesh: they are the points
around which the construction in `bones.py` bends, and the flesh is modelled around them in
`body.py`, `hands.py`, `feet.py` and `faces.py`. The files carry no colours; part names say what is
what. The same version of the libraries writes the same bytes.
"""

from __future__ import annotations

import json
import os
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

if __package__ in (None, ""):  # run as a plain script
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
    __package__ = "meshes"

from meshes.figures import Part, build_figure
from meshes.params import FigureParams

__all__ = ["CHARACTERS", "Character", "make", "obj_text", "truth_record"]

FloatArray = NDArray[np.float64]

_NOTES = (
    "joints are where the construction bends",
    "pelvis: between the hips, a little above and behind the line that joins them",
    "spine_1: base of the spine (L5/S1); spine_2: T12/L1; chest: middle of the rib cage; "
    "neck: C7/T1; head: between skull and neck; head_top: a little inside the vertex",
    "knuckles (_1) lie inside the palm, 28 % of knuckle to tip behind the web; thumb_1 at the wrist",
    "tips lie a little inside the end of the skin",
)


@dataclass(frozen=True)
class Character:
    """A demo character and the frame its file is written in."""

    params: FigureParams
    up: str = "+Y"
    forward: str = "+Z"
    digits: int = 4
    """Decimals written for a coordinate."""


CHARACTERS: dict[str, Character] = {
    "keeper": Character(FigureParams(name="keeper", height=1.74, hair="swept")),
}


def _to_file_frame(points: FloatArray, character: Character) -> FloatArray:
    """Points (N, 3) from +Y up, +Z forward to the character's own axes."""
    if (character.up, character.forward) == ("+Y", "+Z"):
        return points
    if (character.up, character.forward) == ("+Z", "-Y"):
        return np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)
    raise ValueError(f"no rule for up {character.up}, forward {character.forward}")


def obj_text(parts: list[Part], digits: int = 4) -> str:
    """The parts as an OBJ file, one object each."""
    lines, base = [], 1
    for part in parts:
        lines.append(f"o {part.name}")
        lines += [f"v {x:.{digits}f} {y:.{digits}f} {z:.{digits}f}" for x, y, z in part.vertices]
        lines += [f"f {a} {b} {c}" for a, b, c in part.faces + base]
        base += len(part.vertices)
    return "\n".join(lines) + "\n"


def truth_record(
    character: Character, parts: list[Part], joints: dict[str, FloatArray]
) -> dict[str, object]:
    """What is known of a built character, in the frame of its file."""
    axis = "XYZ".index(character.up[1])
    level = np.concatenate([part.vertices[:, axis] for part in parts])
    return {
        "name": character.params.name,
        "height": round(float(level.max() - level.min()), character.digits),
        "up": character.up,
        "forward": character.forward,
        "fingers_per_hand": len(character.params.hand.fingers),
        "joints": {n: [round(float(x), character.digits) for x in at] for n, at in joints.items()},
        "notes": list(_NOTES),
    }


def make(name: str, folder: Path, detail: str = "full") -> list[Path]:
    """Build one character and write its two files into `folder`."""
    character = CHARACTERS[name]
    parts, joints = build_figure(character.params, detail=detail)
    parts = [Part(p.name, _to_file_frame(p.vertices, character), p.faces) for p in parts]
    joints = {n: _to_file_frame(at[None], character)[0] for n, at in joints.items()}
    truth = json.dumps(truth_record(character, parts, joints), indent=1) + "\n"
    out = []
    for path, text in (
        (folder / f"{name}.obj", obj_text(parts, character.digits)),
        (folder / f"{name}.truth.json", truth),
    ):
        temporary = path.with_suffix(path.suffix + ".part")
        temporary.write_text(text, encoding="utf-8", newline="\n")
        os.replace(temporary, path)
        out.append(path)
    return out


def main() -> None:
    """Make the characters named on the command line, or all of them."""
    names = sys.argv[1:] or list(CHARACTERS)
    for name in names:
        for path in make(name, Path(__file__).resolve().parent):
            print(f"{path.name}: {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
