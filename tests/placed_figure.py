"""An invented figure as if it had been placed: with spreads, evidence, findings and a record."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np

from autoplace.skeleton.model import Evidence, Finding, Skeleton, Source
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton

SOURCE = Source("figure.obj", "0123456789abcdef" * 4, height=1.0)


@cache
def placed_figure(pose: str = "T") -> Skeleton:
    """The standard skeleton, oriented; every joint with a spread of its own and two evidences."""
    rng = np.random.default_rng(5)
    joints = []
    for joint in standard_skeleton(pose):
        share, spread = rng.uniform(0.1, 0.9), rng.uniform(0.001, 0.02)
        evidence = (
            Evidence("template_prior", joint.position + 1e-3, 0.02, share, "by the template"),
            Evidence("limb_axis", joint.position - 1e-3, 0.01, 1.0 - share, "by the limb"),
        )
        look = np.array([0.0, 0.0, 1.0]) if joint.name == "left_eye" else None
        joints.append(replace(joint, spread=spread, evidence=evidence, look=look))
    finding = Finding("bend_present", "left_knee", "note", "bent by 5 degrees", "nothing")
    figure = replace(standard_skeleton(pose), source=SOURCE, findings=(finding,))
    return orient(figure.with_joints(tuple(joints)))


def same(first, second) -> bool:
    """Equal records, arrays bit for bit."""
    if isinstance(first, np.ndarray):
        return bool(np.array_equal(first, second))
    if hasattr(first, "__dataclass_fields__"):
        return type(first) is type(second) and all(
            same(getattr(first, f.name), getattr(second, f.name)) for f in fields(first)
        )
    if isinstance(first, tuple):
        return len(first) == len(second) and all(map(same, first, second))
    return first == second
