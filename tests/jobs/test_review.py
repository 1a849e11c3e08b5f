"""What a review opens, and what saving and exporting write."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from autoplace import cli
from autoplace.data import data_folder
from autoplace.errors import OutputError, SkeletonError
from autoplace.files.edits_json import read_edits, write_edits
from autoplace.files.skeleton_json import read_skeleton
from autoplace.jobs.review import open_review
from autoplace.skeleton.edit_moves import lock_joint, move_joint, respace
from autoplace.skeleton.edits import Edits, apply_edits
from tests.bent_files import write_character

ASIDE = np.array([0.0, 0.004, 0.006])


@pytest.fixture
def files(tmp_path):
    return write_character(tmp_path)


def corrected(review):
    elbow = review.placed["left_elbow"].position
    edits = move_joint(review.placed, review.edits, "left_elbow", elbow + ASIDE)
    return apply_edits(review.placed, edits), edits


def test_the_skeleton_beside_the_mesh_is_opened(files):
    """A skeleton made in this very mesh is reviewed; nothing is placed."""
    mesh, path = files
    whole = read_skeleton(path)
    from autoplace.mesh.load import load

    ours = replace(whole, source=replace(whole.source, mesh=mesh.name, sha256=load(mesh).sha256))
    from autoplace.files.skeleton_json import write_skeleton

    write_skeleton(ours, path)
    stages: list[str] = []
    review = open_review(mesh, progress=stages.append)
    assert review.placed.names == ours.names
    assert "solid" not in stages
    assert review.skeleton_path == path


def test_saving_writes_skeleton_and_edits(files):
    """Both files hold the correction, the findings are those of the corrected skeleton, and opening
    again goes on from there."""
    mesh, path = files
    review = open_review(mesh, path)
    skeleton, edits = corrected(review)
    written = review.save(skeleton, edits)
    assert sorted(p.name for p in written) == ["tubes.edits.json", "tubes.skeleton.json"]
    assert read_edits(mesh.with_name("tubes.edits.json")) == edits
    again = open_review(mesh, path)
    assert again.edits.joints == edits.joints
    assert np.allclose(again.placed.positions(), review.placed.positions(), atol=1e-12)
    elbow = apply_edits(again.placed, again.edits)["left_elbow"].position
    assert np.array_equal(elbow, skeleton["left_elbow"].position)


def test_saving_forgets_the_draft(files):
    """What was kept while it was made is gone once it is saved."""
    mesh, path = files
    review = open_review(mesh, path)
    skeleton, edits = corrected(review)
    review.draft.keep(edits)
    assert review.draft.path.name == "tubes.unsaved.edits.json"
    assert review.draft.path.is_file()
    review.save(skeleton, edits)
    assert not review.draft.path.exists()


def test_what_was_not_saved_is_found_again(files):
    """A page that ended without saving leaves its corrections to the next one."""
    mesh, path = files
    review = open_review(mesh, path)
    edits = corrected(review)[1]
    review.draft.keep(edits)
    assert open_review(mesh, path).unsaved == edits
    review.draft.keep(replace(edits, source=replace(edits.source, sha256="0" * 64)))
    assert open_review(mesh, path).unsaved is None  # of another mesh


def test_a_broken_draft_stops_nobody(files):
    """Half a draft, as a full disk may leave it, is passed over."""
    mesh, path = files
    mesh.with_name("tubes.unsaved.edits.json").write_text('{"format": "autoplace.edits", ')
    assert open_review(mesh, path).unsaved is None


def test_edits_of_another_mesh_are_refused(files):
    """Corrections made in another mesh would put joints anywhere."""
    mesh, path = files
    review = open_review(mesh, path)
    edits = corrected(review)[1]
    write_edits(
        replace(edits, source=replace(edits.source, sha256="0" * 64)),
        mesh.with_name("tubes.edits.json"),
    )
    with pytest.raises(OutputError, match="of another mesh"):
        open_review(mesh, path)


def test_an_edit_of_no_joint_is_refused(files):
    """A misspelt joint in the corrections is told with the nearest names."""
    mesh, path = files
    review = open_review(mesh, path)
    bad = Edits(review.edits.source, corrected(review)[1].joints)
    write_edits(bad, mesh.with_name("tubes.edits.json"))
    text = mesh.with_name("tubes.edits.json").read_text()
    mesh.with_name("tubes.edits.json").write_text(text.replace("left_elbow", "left_elbou"))
    with pytest.raises(SkeletonError, match="left_elbow"):
        open_review(mesh, path)


def test_edits_that_are_not_ours_are_not_replaced(files):
    """A file of that name that somebody else wrote stops the review before any work."""
    mesh, path = files
    mesh.with_name("tubes.edits.json").write_text('{"cuts": []}')
    with pytest.raises(OutputError, match="move it away"):
        open_review(mesh, path)


@pytest.mark.parametrize("ending", [".glb", ".bvh", ".csv"])
def test_export_stands_beside_the_skeleton(files, ending):
    """An export is written under the skeleton's name, and again over the one before."""
    mesh, path = files
    review = open_review(mesh, path)
    for _ in range(2):
        written, _notes = review.export(review.placed, ending)
        assert written == mesh.with_name(f"tubes{ending}")
        assert written.stat().st_size > 100


def test_an_export_never_replaces_what_is_not_ours(files):
    """A file of somebody else's at that place is left alone."""
    mesh, path = files
    review = open_review(mesh, path)
    mesh.with_name("tubes.bvh").write_text("HIERARCHY\nROOT mine\n")
    with pytest.raises(OutputError, match="not written by autoplace"):
        review.export(review.placed, ".bvh")


@pytest.mark.usefixtures("placing_once")
def test_what_is_saved_is_what_placing_with_the_edits_gives(tmp_path):
    """Corrections are inputs: placing again with the saved ones gives the saved skeleton, joint for
    joint and finding for finding."""
    mesh = Path(shutil.copy(data_folder("meshes") / "keeper.obj", tmp_path))
    review = open_review(mesh)
    edits = respace(review.placed, review.edits, "spine", 4)
    for name in ("left_index_1", "right_knee"):
        place = apply_edits(review.placed, edits)[name].position
        edits = move_joint(review.placed, edits, name, place + ASIDE, follow=True)
    edits = lock_joint(review.placed, edits, "left_index_1", True)
    review.save(apply_edits(review.placed, edits), edits)
    again = tmp_path / "again.skeleton.json"
    options = ["--edits", str(review.edits_path), "-o", str(again), "--no-sheet", "-q"]
    assert cli.main(["place", str(mesh), *options]) == 0
    assert again.read_bytes() == review.skeleton_path.read_bytes()
