"""The eyes of the demo characters against the points they were built around."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from autoplace.measure.frame import find_frame
from autoplace.mesh.load import load
from autoplace.mesh.parts import assign_roles
from autoplace.place.eyes import EyePlace, eye_surfaces, place_eyes

MESHES = sorted((Path(__file__).parents[2] / "meshes").glob("*.obj"))
WORST_PERCENT = 0.05
"""Of the height; what the whole job must reach."""


@pytest.mark.parametrize("path", MESHES, ids=lambda p: p.stem)
def test_eyes_of_a_demo_character(path):
    """Both eye centres within the limit, looking ahead."""
    character = load(path)
    truth = json.loads(path.with_suffix(".truth.json").read_text())["joints"]
    frame = find_frame(character.vertices, character.faces)
    working = [frame.to_working(part.vertices) for part in character.parts]
    roles = assign_roles(character, working)
    eyes = place_eyes(eye_surfaces(character, roles, working))
    for side in ("left", "right"):
        place = eyes.of(side)
        assert isinstance(place, EyePlace)
        known = truth[f"{side}_eye"]
        known = np.array(known["position"] if isinstance(known, dict) else known)
        error = np.linalg.norm(frame.to_input(place.center) - known) / frame.height * 100
        assert error < WORST_PERCENT
        assert place.look is not None
        assert place.look[2] > 0.98
