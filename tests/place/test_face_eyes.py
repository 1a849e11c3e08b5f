"""Eyes of a figure without eyeballs come from its face, with a finding that says so."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace import place
from tests.eyes.cases import CASES
from tests.eyes.hosts import light_host, plain_host


@pytest.mark.parametrize("case", ["sockets_only", "lids_cut_open"])
def test_sockets_and_openings(case):
    """Both places within half an eyeball's radius and within two of the spreads they claim."""
    made = CASES[case](light_host(), np.random.default_rng(1))
    skeleton = place(made.character).skeleton
    for side in ("left", "right"):
        joint, known = skeleton[f"{side}_eye"], made.eyes[side]
        error = np.linalg.norm(joint.position - known.centre)
        assert error < 0.5 * known.radius
        assert error < 2 * joint.spread
        assert joint.spread > 0.2 * known.radius
        assert [e.kind for e in joint.evidence] == ["face_hollow"]
        assert any(
            f.check == "eye_from_face" and f.joint == joint.name and f.level == "warning"
            for f in skeleton.findings
        )


def test_balls_in_the_skin():
    """Eyes that are one skin with the head are its bulges' centres, flagged as no pieces."""
    made = CASES["one_with_the_skin"](plain_host(1.2), np.random.default_rng(1))
    skeleton = place(made.character).skeleton
    for side in ("left", "right"):
        joint, known = skeleton[f"{side}_eye"], made.eyes[side]
        assert np.linalg.norm(joint.position - known.centre) < 0.1 * known.radius
        assert [e.kind for e in joint.evidence] == ["face_bulge"]
        assert any(f.check == "eye_from_face" and f.joint == joint.name for f in skeleton.findings)


def test_a_smooth_head_falls_back_to_proportions():
    """Where the face shows nothing, published proportions place the eyes, flagged as a guess."""
    made = CASES["nothing_shows"](plain_host(1.0), np.random.default_rng(1))
    skeleton = place(made.character).skeleton
    assert skeleton["left_eye"].evidence[0].kind == "head_proportions"
    assert any(f.check == "missing_eyeball" for f in skeleton.findings)
