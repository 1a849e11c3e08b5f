"""The page as its panels see it, on a real server that nobody looks at."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from autoplace.files.edits_json import read_edits
from autoplace.files.export import export_skeleton
from autoplace.files.skeleton_json import read_skeleton
from autoplace.jobs.review import open_review
from autoplace.jobs.review_page import serve
from autoplace.review import drawn
from autoplace.review.panel_bend import BendPanel
from autoplace.review.panel_findings import FindingsPanel
from autoplace.review.panel_head import HeadPanel
from autoplace.review.panel_joint import JointPanel
from autoplace.review.panel_look import LookPanel
from tests.bent_files import tube_character, write_character
from tests.review.served import as_opened

SOMEBODY = SimpleNamespace()
"""A client, as an event names it; None would be the page itself."""
ASIDE = np.array([0.0, 0.004, 0.006])


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    page = serve(open_review(*write_character(tmp_path_factory.mktemp("page"))))
    yield page
    page.stop()


@pytest.fixture
def served(shared):
    """The page that the tests look at in turn, as it was opened."""
    as_opened(shared)
    return shared


@pytest.fixture
def served_alone(tmp_path):
    """A page of a test's own."""
    page = serve(open_review(*write_character(tmp_path)))
    yield page
    page.stop()


def panel(served, kind):
    (found,) = [p for p in served.page._panels if isinstance(p, kind)]
    return found


def event(control, value=None, client=SOMEBODY):
    """What the server tells a callback when a person has changed a control."""
    if value is not None:
        control._impl.value = value
    return SimpleNamespace(client=client, target=control)


def at(served, name):
    return served.session.skeleton[name].position


def test_only_this_machine_is_served(served):
    """The address is the loopback's, and no relay is ever asked for a public one."""
    assert served.address.startswith("http://127.0.0.1:")
    assert served.server.get_host() == "127.0.0.1"
    assert served.server.request_share_url() is None


def test_the_selected_joint_is_told(served):
    """Its evidence, place and lock stand in the panel."""
    joint = panel(served, JointPanel)
    served.page.choose("left_elbow")
    served.page.wait()
    assert joint._joint.value == "left_elbow"
    assert "left elbow" in joint._words.content
    assert np.allclose(joint._place.value, at(served, "left_elbow"))
    served.page.choose(None)
    served.page.wait()
    assert joint._joint.value == "(none)"


def test_a_typed_place_moves_both_sides(served):
    """A place in the file's units is taken to the last digit, and the other side is its image."""
    joint = panel(served, JointPanel)
    served.page.choose("left_elbow")
    wanted = at(served, "left_elbow") + ASIDE
    joint._typed(event(joint._place, tuple(wanted)))
    assert np.array_equal(at(served, "left_elbow"), wanted)
    assert np.allclose(at(served, "right_elbow"), wanted * [-1.0, 1.0, 1.0], atol=1e-12)


def test_what_the_page_sets_is_no_correction(served):
    """Showing a joint's place in the panel must not count as typing it."""
    joint = panel(served, JointPanel)
    served.page.choose("left_elbow")
    joint._typed(event(joint._place, (0.0, 0.0, 0.0), client=None))
    served.page.wait()
    assert served.session.is_saved


def test_lock_reset_and_number_of_spine_joints(served):
    """The other controls do what they say."""
    joint = panel(served, JointPanel)
    served.page.choose("left_wrist")
    joint._lock(event(joint._locked, True))
    assert served.session.skeleton["right_wrist"].locked
    joint._reset(event(SimpleNamespace(value="This joint")))
    assert not served.session.skeleton["left_wrist"].locked
    joint._respace("spine", event(SimpleNamespace(value=5)))
    assert "spine_4" in served.session.skeleton
    served.page.wait()
    assert "spine_4" in joint._names
    joint._reset(event(SimpleNamespace(value="All joints")))
    assert "spine_4" not in served.session.skeleton


@pytest.mark.parametrize("kind", ["Section", "Centreline"])
def test_snapping_moves_into_the_flesh(served, kind):
    """An elbow beside its tube comes back to the middle of it."""
    joint = panel(served, JointPanel)
    right = at(served, "left_elbow")
    served.page.choose("left_elbow")
    served.page.move("left_elbow", right + np.array([0.0, 0.012, 0.012]))
    joint._snapped(event(SimpleNamespace(value=kind)))
    bone = at(served, "left_wrist") - right
    off = at(served, "left_elbow") - right
    across = off - (off @ bone) * bone / (bone @ bone)
    assert np.linalg.norm(across) < 0.004


def test_an_eye_snaps_to_its_ball(served):
    """An eye joint beside its eyeball comes back to the centre."""
    joint = panel(served, JointPanel)
    served.page.choose("left_eye")
    served.page.move("left_eye", at(served, "left_eye") + np.array([0.003, 0.0, 0.002]))
    joint._snapped(event(SimpleNamespace(value="Eyeball")))
    assert np.allclose(at(served, "left_eye"), served.review.placed["left_eye"].position, atol=1e-4)


def test_bending_moves_the_skeleton_and_a_correction_ends_it(served):
    """A slider bends both sides; moving a joint brings everything back to rest first."""
    bend = panel(served, BendPanel)
    control = bend._controls["left_elbow"]
    bend._moved(event(control, 60.0))
    assert bend._controls["right_elbow"].value == 60.0
    posed = served.page.posed
    assert posed is not None
    names = served.session.skeleton.names
    wrist = posed.positions[names.index("left_wrist")]
    assert np.linalg.norm(wrist - at(served, "left_wrist")) > 0.05
    assert served.page.surface.skin is not None
    served.page.choose("left_elbow")
    served.page.move("left_elbow", at(served, "left_elbow") + ASIDE)
    served.page.wait()
    assert served.page.posed is None
    assert control.value == 0.0


def test_bent_parts_go_where_the_skin_goes(served):
    """The bones that the browser gets are those of the pose, in the page's frame."""
    bend = panel(served, BendPanel)
    bend._moved(event(bend._controls["left_elbow"], 60.0))
    skin, page = served.page.surface.skin, served.page
    part = skin.parts[0]
    (near, _) = page.surface._skinned[0]
    index = list(part.bones).index(skin.names.index("left_wrist"))
    posed = page.frame.to_working(page.posed.positions[skin.names.index("left_wrist")])
    assert np.allclose(near.bones[index].position, posed, atol=1e-9)


def test_other_joints_bend_too(served):
    """With another number of spine joints the surface is bound anew."""
    served.page.correct(lambda: served.session.respace("spine", 5))
    served.page.wait()
    bend = panel(served, BendPanel)
    bend._moved(event(bend._controls["spine_curl"], 40.0))
    assert served.page.surface.skin.fits(served.session.skeleton)


def test_parts_and_looks(served_alone):
    """A part that is hidden stays hidden when the look changes."""
    surface = served_alone.page.surface
    name = surface.parts[1].name
    look = panel(served_alone, LookPanel)
    look._show_part(name, event(SimpleNamespace(value=False)))
    surface.set_look("solid")
    shown = {
        p.name: near.visible for p, (near, _) in zip(surface.parts, surface._rest, strict=True)
    }
    assert not shown[name]
    assert shown[surface.parts[0].name]
    surface.set_look("hidden")
    assert not any(near.visible or far.visible for near, far in surface._rest)


def test_axes_of_the_selected_chain(served):
    """Only the joints of the selected limb show their axes."""
    look = panel(served, LookPanel)
    served.page.choose("left_elbow")
    look._axes._impl.value = "selected chain"
    look._changed(event(look._axes))
    shown = served.page.bones.axes_of
    assert "left_shoulder" in shown
    assert "right_shoulder" not in shown


def test_findings_come_and_go(served):
    """A joint outside the body is told beside, and no longer when that is undone."""
    served.page.wait()
    findings = panel(served, FindingsPanel)
    before = findings._shown
    served.page.move("left_knee", at(served, "left_knee") + np.array([0.2, 0.0, 0.0]))
    served.page.wait()
    assert any(f.joint == "left_knee" for f in findings._shown)
    assert len(findings._rows) > 2
    served.page.correct(served.session.undo)
    served.page.wait()
    assert findings._shown == before


def test_saving_tells_and_is_told(served):
    """The head of the page says what is not saved, and the browser asks only then."""
    head = panel(served, HeadPanel)
    served.page.move("left_elbow", at(served, "left_elbow") + ASIDE)
    served.page.wait()
    assert "not saved" in head._status.content
    assert "preventDefault" in head._asking.content
    assert served.review.draft.path.is_file()
    head.save()
    served.page.wait()
    assert "all saved" in head._status.content
    assert "preventDefault" not in head._asking.content
    saved = read_edits(served.review.edits_path)
    assert {edit.name for edit in saved.joints} == {"left_elbow", "right_elbow"}
    assert not served.review.draft.path.exists()


def test_an_impossible_correction_changes_nothing(served):
    """A correction that is refused leaves the session and the page as they were."""
    served.page.correct(lambda: served.session.respace("spine", 0))
    served.page.wait()
    assert served.session.is_saved


def test_a_skeleton_that_was_not_opened_is_set_aside(tmp_path):
    """Reviewing a file from elsewhere and saving keeps the skeleton that lay there, once."""
    mesh, skeleton = write_character(tmp_path)
    export_skeleton(read_skeleton(skeleton), tmp_path / "rig.bvh")
    (tmp_path / "rig.skeleton.json").write_bytes(skeleton.read_bytes())
    served = serve(open_review(mesh, tmp_path / "rig.bvh"))
    try:
        head = panel(served, HeadPanel)
        for share in (1.0, 2.0):
            served.page.move("left_elbow", at(served, "left_elbow") + share * ASIDE)
            head.save()
    finally:
        served.stop()
    kept = [path.name for path in tmp_path.glob("*previous*")]
    assert kept == ["rig.skeleton.previous.json"]
    assert (tmp_path / kept[0]).read_bytes() == skeleton.read_bytes()


def test_a_large_mesh_is_drawn_lighter(monkeypatch):
    """What travels to the browser is bounded; the parts stay what they are."""
    monkeypatch.setattr(drawn, "MOST_FACES", 2000)
    character, _ = tube_character()
    light = drawn.drawn_character(character)
    assert light.face_count < 0.8 * character.face_count
    assert [part.name for part in light.parts] == [part.name for part in character.parts]
