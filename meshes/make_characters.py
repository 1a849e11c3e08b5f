"""Makes the demo characters of this folder: `python -m meshes.make_characters [NAME ...]`.

The scene is a small island with a lighthouse, at the hour when the night boat is due:

* `keeper` looks after the lamp. Ordinary adult proportions, T-pose, five fingers, palms down. Parts
  `body` (with jersey and trousers as one skin), `hair`, `belt`, and both eyeballs as one object
  `eyes`. Metres, +Y up, facing +Z.
* `bell_child` rings the fog bell. Four heads tall, big eyes in two objects, a thumb and three
  fingers, arms 45 degrees down. There is no body: `head`, `left_arm`, `right_arm`, `left_leg` and
  `right_leg` end inside `shirt` and `shorts`. Centimetres, +Y up, facing +Z.
* `lamplighter` trims the wicks nobody else can reach. Lanky: long arms, neck and fingers, arms 22
  degrees below level. `body`, `waistcoat`, `scarf`, `hair` with a tail, two eye objects. Metres,
  +Z up, facing -Y.
* `ferryman` brings the night boat. Stout, in mittens (thumb and one broad `middle` finger) and
  boots; `cloak` hangs over the body to the shins; `belt`, `hair`, `beard`, one `eyes`. Metres, +Y
  up, facing +Z.

Each takes about a minute. A figure is described by the numbers in `params.py`; `build_figure` in
`figures.py` makes it, also posed otherwise, and in a light version for tests.

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
from meshes.params import FigureParams, Hand, Head, mirrored_pose

__all__ = ["CHARACTERS", "Character", "make", "obj_text", "to_file_frame", "truth_record"]

FloatArray = NDArray[np.float64]

_NOTES = (
    "joints are where the construction bends",
    "pelvis: between the hips, a little above and behind the line that joins them",
    "spine_1: base of the spine (L5/S1); spine_2: T12/L1; chest: middle of the rib cage; "
    "neck: C7/T1; head: between skull and neck; head_top: a little inside the vertex",
    "knuckles (_1) lie inside the palm, 28 % of knuckle to tip behind the web",
    "thumb_1: at the root of the thumb, beside the wrist",
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
    "keeper": Character(
        FigureParams(
            name="keeper",
            height=1.74,
            hair="swept",
            bust=0.2,
            head=Head(eye_radius=0.062, eye_open=1.15, smile=0.3),
            outfit=("jersey", "trousers", "belt"),
        )
    ),
    "bell_child": Character(
        FigureParams(
            name="bell_child",
            height=112.0,
            heads=4.0,
            hip=0.415,
            crotch=0.375,
            knee=0.220,
            ankle=0.040,
            neck_gap=0.012,
            shoulder_drop=0.032,
            shoulder_x=0.092,
            hip_x=0.047,
            upper_arm=0.140,
            forearm=0.125,
            foot_length=0.155,
            foot_breadth=1.12,
            trunk_width=0.96,
            trunk_depth=1.0,
            chest=0.95,
            waist=1.06,
            hips=0.97,
            belly=0.004,
            bust=0.0,
            arm_girth=1.14,
            leg_girth=1.06,
            neck_girth=0.98,
            joint_knobs=0.9,
            shoes="shoe",
            hand=Hand(
                length=0.112,
                fingers=("thumb", "index", "middle", "pinky"),
                breadth=1.06,
                thickness=1.12,
                finger_length=0.94,
                nails=False,
            ),
            head=Head(
                width=1.08,
                depth=1.0,
                jaw_width=0.98,
                soft=1.7,
                chin=0.55,
                cheeks=0.25,
                eye_radius=0.086,
                eye_x=0.160,
                eye_y=0.415,
                eye_open=1.45,
                nose_length=0.55,
                nose_width=0.85,
                lips=0.95,
                smile=0.9,
                mouth_width=1.1,
                brow=0.35,
                ear=0.90,
            ),
            pose=mirrored_pose(arm_raise=45.0, elbow=10.0, leg_out=5.0, finger_curl=1.6),
            skin="pieces",
            hair="tousled",
            outfit=("tee", "shorts"),
            eyes="apart",
        ),
        digits=2,
    ),
    "lamplighter": Character(
        FigureParams(
            name="lamplighter",
            height=2.06,
            heads=8.7,
            hip=0.535,
            crotch=0.495,
            knee=0.290,
            ankle=0.038,
            neck_gap=0.050,
            shoulder_drop=0.040,
            shoulder_x=0.095,
            hip_x=0.043,
            upper_arm=0.192,
            forearm=0.186,
            foot_length=0.160,
            foot_breadth=0.90,
            trunk_width=0.80,
            trunk_depth=0.82,
            chest=0.98,
            waist=0.92,
            bust=0.1,
            shoulders=0.80,
            arm_girth=0.74,
            leg_girth=0.76,
            neck_girth=0.62,
            joint_knobs=1.15,
            shoes="shoe",
            hand=Hand(length=0.124, finger_length=1.22, finger_girth=0.82, breadth=0.86),
            head=Head(
                width=0.90,
                depth=0.98,
                jaw_width=0.86,
                chin=1.15,
                eye_radius=0.070,
                eye_x=0.136,
                eye_open=1.15,
                nose_length=1.30,
                smile=0.4,
                nose_width=0.95,
                brow=1.2,
                ear=1.18,
            ),
            pose=mirrored_pose(arm_raise=68.0, arm_forward=6.0, elbow=12.0, finger_curl=1.5),
            hair="tail",
            outfit=("tunic", "trousers", "waistcoat", "scarf"),
            eyes="apart",
        ),
        up="+Z",
        forward="-Y",
    ),
    "ferryman": Character(
        FigureParams(
            name="ferryman",
            height=1.66,
            heads=6.0,
            hip=0.470,
            crotch=0.415,
            knee=0.255,
            ankle=0.045,
            neck_gap=0.016,
            shoulder_drop=0.050,
            shoulder_x=0.132,
            hip_x=0.062,
            upper_arm=0.158,
            forearm=0.145,
            foot_length=0.172,
            foot_breadth=1.10,
            trunk_width=1.32,
            trunk_depth=1.38,
            chest=1.02,
            waist=1.12,
            hips=1.02,
            belly=0.050,
            bust=0.4,
            shoulders=1.25,
            arm_girth=1.28,
            leg_girth=1.25,
            neck_girth=1.25,
            joint_knobs=0.7,
            shoes="boot",
            hand=Hand(
                length=0.112, fingers=("thumb", "middle"), breadth=0.95, thickness=1.25, nails=False
            ),
            head=Head(
                width=1.08,
                jaw_width=1.12,
                chin=1.05,
                cheeks=0.9,
                eye_radius=0.060,
                eye_y=0.505,
                nose_length=1.05,
                nose_width=1.5,
                brow=1.25,
                ear=1.05,
            ),
            pose=mirrored_pose(arm_raise=42.0, elbow=14.0, leg_out=5.0, toe_out=14.0),
            hair="shaggy",
            beard="full",
            outfit=("tunic", "breeches", "cuffs", "belt", "cloak"),
        )
    ),
}


def to_file_frame(points: FloatArray, character: Character) -> FloatArray:
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
    parts = [Part(p.name, to_file_frame(p.vertices, character), p.faces) for p in parts]
    joints = {n: to_file_frame(at[None], character)[0] for n, at in joints.items()}
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
