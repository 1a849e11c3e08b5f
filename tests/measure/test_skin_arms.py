"""Arms told by their skin, where the volume does not show them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from autoplace import Skeleton, place
from autoplace.measure.body_limbs import fill_body, find_body_limbs
from autoplace.measure.skin_arms import arms_of_skin
from autoplace.skeleton.names import family
from tests.folded_arms import SIDES, with_turned_arms
from tests.light_figure import HEIGHT, light_figure
from tests.measure.surfaces import area_of, volume_of
from tests.mesh.capsule_figures import box

AGAINST_THE_TRUNK = {"hanging": (92.0, 0.0), "over the belly": (75.0, 90.0)}
"""Degrees by which upper arms are lowered and forearms turned inward."""


def skin(character) -> np.ndarray:
    """(k, 3, 3) the body's triangles, heights."""
    body = next(part for part in character.parts if part.name == "body")
    return body.vertices[body.faces] / HEIGHT


@cache
def figure(pose: str):
    """The invented figure in a pose, and its joints."""
    return with_turned_arms(*light_figure(), *AGAINST_THE_TRUNK[pose])


@cache
def placed(pose: str) -> Skeleton:
    """Its skeleton."""
    return place(figure(pose)[0]).skeleton


def as_mesh(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Triangles as vertices and faces."""
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def edge_uses(corners: np.ndarray) -> np.ndarray:
    """How many triangles share each edge: two, or four where a closed surface touches itself."""
    _, place = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = place.reshape(-1, 3)
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    return np.unique(edges, axis=0, return_counts=True)[1]


@pytest.mark.parametrize("pose", AGAINST_THE_TRUNK)
def test_an_arm_in_the_trunk_is_the_same_skin_as_one_that_stands_off(pose):
    """It is closed, and has the surface and the volume that it has in a T-pose but for a sixth: the
    bend stretches what is about the shoulder."""
    standing = arms_of_skin([skin(light_figure()[0])])
    folded = arms_of_skin([skin(figure(pose)[0])])
    assert list(standing) == list(folded) == ["left", "right"]
    for side in ("left", "right"):
        one, other = as_mesh(standing[side]), as_mesh(folded[side])
        assert (edge_uses(folded[side]) % 2 == 0).all()
        assert area_of(other) == pytest.approx(area_of(one), rel=1.0 / 6.0)
        assert volume_of(other) == pytest.approx(volume_of(one), rel=1.0 / 6.0)


def test_the_volume_alone_does_not_show_hanging_arms():
    """What the skin is for: without it no arm branches off, with it both do, to their finger tips
    within two cells of the body's grid."""
    character, joints = figure("hanging")
    corners = skin(character)
    solid = fill_body(*as_mesh(corners))
    assert not find_body_limbs(solid, ())[1].pair("arm")
    limbs = find_body_limbs(solid, [corners])[1]
    assert [note for note in limbs.notes if note.endswith("by its skin")]
    for arm in limbs.pair("arm"):
        tip = joints[f"{arm.side}_middle_tip"] / HEIGHT
        assert np.linalg.norm(arm.cells - tip, axis=1).min() < 2.0 * solid.cell


def test_skin_without_arms_has_none():
    """A closed box across the middle plane, and one beside it."""
    vertices, faces = box((-0.1, 0.0, -0.1), (0.1, 1.0, 0.1))
    assert arms_of_skin([vertices[faces], vertices[faces] + [0.3, 0.0, 0.0]]) == {}


def test_one_arm_alone_is_left():
    """A skin that shows one arm says nothing: the other may be what hides it."""
    corners = skin(light_figure()[0])
    cut = corners[corners[:, :, 0].min(axis=1) > -0.13]
    assert arms_of_skin([cut]) == {}


@pytest.mark.parametrize("pose", AGAINST_THE_TRUNK)
def test_arms_against_the_trunk_are_placed_with_all_fingers(pose):
    """Shoulder, elbow and wrist within 2 percent of the height and every finger joint within 1:
    on the volume alone the wrists were 15 off and most fingers missing."""
    _, joints = figure(pose)
    skeleton = placed(pose)
    away = {
        name: np.linalg.norm(np.asarray(skeleton[name].position) - at) / HEIGHT
        for name, at in joints.items()
        if name in skeleton
    }
    arms = [away[f"{side}_{stem}"] for side in SIDES for stem in ("shoulder", "elbow", "wrist")]
    fingers = [away[name] for name in joints if family(name) == "finger"]
    assert max(arms) < 0.02
    assert max(fingers) < 0.01
