"""The known joints of real bodies have nothing wrong with them, whatever the pose."""

from __future__ import annotations

import pytest

from autoplace.mesh_facts import mesh_facts
from tests.dataset.bodies import BodySpec, build, report_list
from tests.known_skeleton import known_skeleton

pytestmark = pytest.mark.usefixtures("_dataset")

TEMPLATES = {"baby": "toddler", "child": "child"}


def complaints(spec: BodySpec) -> list[str]:
    """Errors and warnings about the joints that the dataset gives, in its own mesh."""
    body = build(spec)
    skeleton = known_skeleton(body.joints, body.height, TEMPLATES.get(spec.age, "adult"))
    result = mesh_facts(body.character, skeleton).survey(skeleton)
    assert result.not_run == {}
    return [f"{spec.name}: {f.message}" for f in result.findings if f.level != "note"]


@pytest.mark.parametrize("spec", report_list()[::14], ids=lambda spec: spec.name)
def test_known_joints_of_some_bodies_give_no_error_and_no_warning(spec):
    """Notes may tell that sides are posed differently, or that a hand is drawn otherwise."""
    assert complaints(spec) == []


@pytest.mark.dataset
def test_known_joints_of_all_bodies_give_no_error_and_no_warning():
    """The same for every body that is reported on."""
    assert [told for spec in report_list() for told in complaints(spec)] == []
