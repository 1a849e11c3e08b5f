"""Textures beside exported files, through the runs that write all files together."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.errors import OutputError
from autoplace.files.skeleton_json import write_skeleton
from autoplace.jobs.convert import run_convert
from autoplace.skeleton.model import Joint, Skeleton
from autoplace.skeleton.orient import orient
from tests.files.textured_cube import picture, write_cube

pytest.importorskip("pxr")


@pytest.fixture
def cube(tmp_path):
    """A skeleton and a mesh with one texture, in a folder of their own."""
    skeleton = orient(Skeleton((Joint("only", None, np.array([0.5, 0.1, 0.5])),)))
    write_skeleton(skeleton, tmp_path / "cube.skeleton.json")
    return tmp_path / "cube.skeleton.json", write_cube(tmp_path)


def everything(folder):
    return {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_textures_come_into_place_with_their_file(cube, tmp_path):
    """The folder has the picture with the rights of any file, is named in the file, is told, and
    nothing else is left; a second run writes the same."""
    from pxr import Sdf

    skeleton, mesh = cube
    for _ in range(2):
        job = run_convert(skeleton, tmp_path / "out.usda", mesh=mesh)
        (texture,) = (tmp_path / "out.textures").iterdir()
        assert texture.read_bytes() == picture()
        assert texture.stat().st_mode & 0o777 == (tmp_path / "out.usda").stat().st_mode & 0o777
        assert f"@./out.textures/{texture.name}@" in (tmp_path / "out.usda").read_text()
        assert Sdf.Layer.FindOrOpen(str(tmp_path / "out.usda"))
        assert any("'out.textures'" in note for note in job.notes)
        assert not list(tmp_path.glob(".autoplace-*"))


def test_a_folder_of_somebody_elses_stops_the_run(cube, tmp_path):
    """Before anything comes into place; also with --overwrite, which is about the file that is
    named."""
    skeleton, mesh = cube
    (tmp_path / "out.textures").mkdir()
    (tmp_path / "out.textures" / "mine.png").write_bytes(b"mine")
    before = everything(tmp_path)
    with pytest.raises(OutputError, match=r"out\.textures' holds 'mine\.png'.*\.usdz"):
        run_convert(skeleton, tmp_path / "out.usda", mesh=mesh, overwrite=True)
    assert everything(tmp_path) == before
    run_convert(skeleton, tmp_path / "out.usdz", mesh=mesh)  # which holds its textures
    assert {p for p in everything(tmp_path)} - set(before) == {tmp_path / "out.usdz"}
