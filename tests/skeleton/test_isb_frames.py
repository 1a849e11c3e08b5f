"""Our axes beside the joint coordinate systems of Wu et al. 2002 and 2005, where those fix an axis.

Those systems have X forward, Y up, Z to the right; they are built here from invented landmarks by
their own definitions. Left sides are mirrored to right ones first, as the papers say. Mapping:

- trunk: our X (left) is their -Z, our Y their Y, our Z their X.
- right elbow and finger joints: our X, about which a positive turn flexes, is their Z, about which
  it does, too; our Y (away from the child on the right, since both sides move in mirror image) is
  their Y, which they draw toward the body; our Z is their -X.
- knee: flexion is negative about their Z and positive about our X, which is their -Z.
"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.orient import orient
from tests.figures import X, Y, Z, angle, standard_skeleton


def unit(v):
    return v / np.linalg.norm(v)


def test_vertebrae():
    """Y through the centres of the endplates, Z to the right: our spine's Y and -X."""
    figure = orient(standard_skeleton())
    for name, above in (("spine_1", "spine_2"), ("spine_2", "chest"), ("neck", "head")):
        y = unit(figure[above].position - figure[name].position)
        z = -X  # parallel to the line between the pedicles, which mirror each other
        x = np.cross(y, z)
        assert np.allclose(figure[name].axes, [-z, y, x], atol=1e-12)


def test_second_humerus_frame_and_the_forearms_hinge():
    """Y from elbow to shoulder; Z at right angles to it and the forearm's Y; right and left arm."""
    for pose in ("A", "hanging"):
        figure = orient(standard_skeleton(pose, elbow=30))
        for side, to_right in (("right", np.eye(3)), ("left", np.diag([-1.0, 1, 1]))):
            shoulder, elbow, wrist = (
                to_right @ figure[f"{side}_{n}"].position for n in ("shoulder", "elbow", "wrist")
            )
            humerus_y, forearm_y = unit(shoulder - elbow), unit(elbow - wrist)
            z = unit(np.cross(humerus_y, forearm_y))
            axes = figure[f"{side}_elbow"].axes @ to_right
            hinge = axes[0] * np.linalg.det(to_right)  # a turning axis mirrors reversed
            assert angle(hinge, z) < 1e-6, (pose, side)
            bone = figure[f"{side}_shoulder"].axes[1] @ to_right
            drawn = bone if side == "right" else -bone  # ours aims away from the child on the right
            assert np.allclose(drawn, humerus_y, atol=1e-9)


def test_clavicle():
    """Z from the inner end to the shoulder; X at right angles to it and the thorax's Y, forward."""
    figure = orient(standard_skeleton("A"))
    z = unit(figure["right_shoulder"].position - figure["right_clavicle"].position)
    x = unit(np.cross(Y, z))
    assert x @ Z > 0.9
    # our third axis points where a positive turn carries the shoulder; reversed on the right
    assert np.allclose(figure["right_clavicle"].axes[2], -x, atol=1e-12)


def test_finger_bones():
    """Y toward the body, X palmar in the bone's own plane, Z to the right: right index finger."""
    figure = orient(standard_skeleton("T", curl=25))
    for number, child in (("1", "2"), ("2", "3"), ("3", "tip")):
        joint = figure[f"right_index_{number}"]
        y = unit(joint.position - figure[f"right_index_{child}"].position)
        x = -joint.axes[2]
        assert np.allclose(joint.axes[1], y, atol=1e-9)
        assert x @ -Y > 0.5
        assert angle(np.cross(x, y), joint.axes[0]) < 1e-6


def test_knee():
    """Z to the right in the plane of the leg's own joints' normal; flexion is negative about it."""
    figure = orient(standard_skeleton("A", knee=20))
    hip, knee, ankle = (figure[f"right_{n}"].position for n in ("hip", "knee", "ankle"))
    z = unit(np.cross(unit(knee - ankle), unit(hip - knee)))
    assert z @ -X > 0.99
    assert angle(figure["right_knee"].axes[0], -z) < 1e-6
