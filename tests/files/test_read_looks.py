"""Looks as every exporter gets them."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.files.export import export_skeleton
from autoplace.files.read_looks import read_looks
from autoplace.mesh.load import load
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.painted_cube import painted_material, write_painted
from tests.files.textured_cube import write_cube


@pytest.mark.parametrize("name", ["half \ud800", "line\nend\t", "nul \0 and \x1b", "", "a" * 5000])
@pytest.mark.parametrize("ending", ["glb", "gltf", "usda", "usdz", "x3d"])
def test_any_name_of_a_material_can_be_written(tmp_path, name, ending):
    """Half of a character becomes a question mark; the notes can be printed too."""
    if ending.startswith("usd"):
        pytest.importorskip("pxr")
    given = painted_material()
    given.name = name
    given.extensions = {"X_\ud800": {}}
    skeleton = orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))
    notes = export_skeleton(
        skeleton, tmp_path / f"a.{ending}", load(write_painted(tmp_path, given))
    )
    " ".join(notes).encode("utf-8")


def test_notes_are_few(tmp_path):
    """Forty materials with a lost texture each give twenty sentences and how many are left out."""
    names = [f"m{i}" for i in range(40)]
    text = "mtllib cube.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nvt 0 0\nf 1/1 2/1 4/1\n"
    text += "".join(f"usemtl {n}\nf 1/1 2/1 3/1\n" for n in names)
    mtl = "".join(f"newmtl {n}\nmap_Kd {n}.png\n" for n in names)
    looks = read_looks(load(write_cube(tmp_path, text, mtl)))
    assert len(looks.notes) == 21
    assert looks.notes[-1] == "20 other notes on materials are left out."
