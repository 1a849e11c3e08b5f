"""Small sound files of every format that is read, made by our own writers, to be damaged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from autoplace.files.bvh_writer import write_bvh
from autoplace.files.convention_file import load_convention
from autoplace.files.edits_json import read_edits, write_edits
from autoplace.files.gltf import write_glb
from autoplace.files.open_skeleton import open_skeleton
from autoplace.files.read_looks import read_looks
from autoplace.files.skeleton_json import write_skeleton
from autoplace.files.usd_writer import write_usd
from autoplace.files.x3d_writer import write_x3d
from autoplace.mesh.character import Character
from autoplace.mesh.load import load
from autoplace.skeleton.edits import Edits, JointEdit
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.name_tables import load_names
from tests.bad_input.shapes import cube, write_obj
from tests.figures import without
from tests.files.foreign_files import bvh_text, gltf_of
from tests.files.textured_cube import write_cube
from tests.placed_figure import placed_figure
from tests.tubes import part, tube

CONVENTION = """description = "aims along +Y"
aim = "+Y"
bend = "+X"
mirror = "motion"
eyes = "together"
[facing]
hand = "back_of_hand"
[aims]
wrist = ["middle_1", "index_1"]
"""
NAMES = """description = "names of another kind"
both_sides = "{name}.{side}"
pelvis = "root"
side_knee = "{side}Knee"
[side]
left = "l"
right = "r"
[chains.spine]
2 = ["back", "upper_back"]
[segments]
root = "hips"
"""
FINGERS = ("index", "middle", "ring", "pinky", "thumb")


@dataclass(frozen=True)
class SmallFile:
    """A file that is damaged, and the one that is opened then, both by their names."""

    damaged: str
    opened: str


@dataclass(frozen=True)
class Reader:
    """A public function that reads files, and the small files that it is given."""

    read: Callable[[Path], Any]
    files: tuple[SmallFile, ...]


def readers() -> dict[str, Reader]:
    """Every reader by its name."""
    skeletons = ("bvh", "gltf", "glb", "x3d", "usda", "usdc", "usdz")
    alone = ("a.skeleton.json", *(f"a.{e}" for e in skeletons), "b.gltf", "b.bvh", "mesh.glb")
    meshes = ("mesh.obj", "text.ply", "mesh.ply", "quads.ply", "text.stl", "mesh.stl", "mesh.glb")
    looks = ("cube.obj", "cube.mtl", "pictures/skin one.png")
    return {
        "load": Reader(_loaded, _each(*meshes, "mesh.gltf", "cube.glb")),
        "open_skeleton": Reader(_opened, _each(*alone)),
        "read_edits": Reader(read_edits, _each("a.edits.json")),
        "load_convention": Reader(load_convention, _each("a.convention.toml")),
        "load_names": Reader(load_names, _each("a.names.toml")),
        "read_looks": Reader(
            _looks, (*(SmallFile(name, "cube.obj") for name in looks), *_each("cube.glb"))
        ),
    }


def _each(*names: str) -> tuple[SmallFile, ...]:
    return tuple(SmallFile(name, name) for name in names)


def _loaded(path: Path) -> None:
    """What is loaded must be numbers, and triangles of vertices that are there."""
    for piece in load(path).parts:
        if not (np.isfinite(piece.vertices).all() and len(piece.faces)):
            raise AssertionError("a part was loaded that is not finite or empty")
        if piece.faces.min() < 0 or piece.faces.max() >= len(piece.vertices):
            raise AssertionError("a part was loaded whose triangles use missing vertices")


def _opened(path: Path) -> None:
    """Joints must stand at finite places, posed or baked."""
    skeleton = open_skeleton(path, refuse_posed=False).skeleton
    if not (np.isfinite(skeleton.positions()).all() and len(skeleton)):
        raise AssertionError("a skeleton was opened that is not finite or empty")
    open_skeleton(path, bake=True)


def _looks(path: Path) -> None:
    read_looks(load(path))


def write_small_files(folder: Path) -> None:
    """Writes all of them into the folder; the same bytes each time."""
    skeleton = _figure()
    character = _character()
    write_obj(folder / "mesh.obj", [(p.name, p.vertices, p.faces) for p in character.parts])
    whole = trimesh.util.concatenate(
        [trimesh.Trimesh(p.vertices, p.faces, process=False) for p in character.parts]
    )
    for name, options in (("text", {"encoding": "ascii"}), ("mesh", {})):
        (folder / f"{name}.ply").write_bytes(whole.export(file_type="ply", **options))
    (folder / "quads.ply").write_bytes(_quads())
    (folder / "text.stl").write_text(whole.export(file_type="stl_ascii"))
    (folder / "mesh.stl").write_bytes(whole.export(file_type="stl"))
    for name in ("mesh.glb", "mesh.gltf"):
        write_glb(character, skeleton, folder / name)
    write_glb(load(write_cube(folder)), skeleton, folder / "cube.glb")

    write_skeleton(skeleton, folder / "a.skeleton.json")
    for name in ("a.glb", "a.gltf"):
        write_glb(None, skeleton, folder / name)
    gltf_of(skeleton).save(str(folder / "b.gltf"))
    write_bvh(skeleton, folder / "a.bvh")
    (folder / "b.bvh").write_text(bvh_text(skeleton, frames=[{"left_knee": (1.0, 2.0, 3.0)}]))
    write_x3d(skeleton, folder / "a.x3d", character)
    for ending in ("usda", "usdc", "usdz"):
        write_usd(skeleton, folder / f"a.{ending}", character)

    joints = (
        JointEdit("left_knee", np.array([0.1, 0.25, 0.0]), locked=True),
        JointEdit("neck_1", locked=True),
    )
    write_edits(Edits(skeleton.source, joints, spine=4), folder / "a.edits.json")
    (folder / "a.convention.toml").write_text(CONVENTION, encoding="utf-8")
    (folder / "a.names.toml").write_text(NAMES, encoding="utf-8")


def _figure() -> Skeleton:
    """The placed figure without fingers, so that its files stay small."""
    figure = placed_figure()
    names = [n for n in figure.names if any(f in n for f in FINGERS)]
    return without(figure, *names)


def _character() -> Character:
    """A body of a few coarse tubes, and two eyeballs in one part."""
    bones = [((0, 0.5, 0), (0, 0.95, 0), 0.08)]
    for side in (-1, 1):
        bones += [((side * 0.1, 0.5, 0), (side * 0.1, 0.02, 0), 0.05)]
        bones += [((side * 0.1, 0.8, 0), (side * 0.45, 0.8, 0), 0.03)]
    body = [tube(np.array(a, float), np.array(b, float), r, 3, 5) for a, b, r in bones]
    eyes = [
        tube(np.array([x, 0.9, 0.07]), np.array([x, 0.9, 0.09]), 0.01, 2, 4) for x in (-0.03, 0.03)
    ]
    return Character("figure", (part("body", body), part("eyes", eyes)))


def _quads() -> bytes:
    """A binary PLY, most significant byte first, whose faces have different numbers of corners."""
    (_, vertices, faces) = cube()[0]
    head = (
        "ply\nformat binary_big_endian 1.0\ncomment mixed\nelement vertex 8\nproperty double x\n"
        "property double y\nproperty double z\nproperty uchar red\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    body = b"".join(v.astype(">f8").tobytes() + b"\x07" for v in vertices)
    for index, face in enumerate(faces.tolist()):
        row = face if index % 2 else [*face, face[0]]
        body += bytes([len(row)]) + np.array(row, dtype=">i4").tobytes()
    return head.encode() + body
