"""Legs that are blocks stuck into one another are told by their pieces."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.measure.piece_legs import with_legs_of_pieces
from autoplace.measure.solid import fill_solid
from autoplace.measure.trunk_ends import parting_of_legs
from autoplace.mesh.load import character_from_arrays
from autoplace.pipeline import place
from tests.measure.blocks import CELL
from tests.mesh.capsule_figures import Mesh, box, joined

HIP = 0.36
"""Where the trunk's block ends and those of the legs, which go on up into it, are seen."""
DEEP = 0.06


def blocks(over: float = 0.02) -> dict[str, Mesh]:
    """A figure of eight blocks whose legs reach over the middle by `over`."""
    parts = {
        "chest": box((-0.13, HIP, -DEEP), (0.13, 0.68, DEEP)),
        "head": box((-0.13, 0.68, -0.13), (0.13, 1.0, 0.13)),
    }
    for side, sign in (("left", 1.0), ("right", -1.0)):
        for name, low, high in (
            ("arm", (0.15, 0.36, -0.05), (0.25, 0.66, 0.05)),
            ("shoulder", (0.12, 0.58, -0.04), (0.16, 0.66, 0.04)),
            ("leg", (-over, 0.0, -0.055), (0.12, HIP + 0.02, 0.055)),
        ):
            x = sorted((sign * low[0], sign * high[0]))
            parts[f"{name}_{side}"] = box((x[0], *low[1:]), (x[1], *high[1:]))
    return parts


def pieces_of(parts: dict[str, Mesh]) -> list[np.ndarray]:
    return [vertices[faces] for vertices, faces in parts.values()]


def test_legs_stuck_into_one_another_part_at_the_trunk():
    """The cells show one column down to the floor; by their pieces the legs part at the chest."""
    parts = blocks()
    solid = fill_solid(*joined(*parts.values()), CELL)
    assert parting_of_legs(solid) is None
    apart = with_legs_of_pieces(solid, pieces_of(parts))
    assert parting_of_legs(apart) == pytest.approx(HIP, abs=1.5 * CELL)


def test_what_stands_between_the_legs_keeps_them_together():
    """A block in the middle from the floor up is a gown, and soles are no legs."""
    parts = blocks()
    gown = parts | {"gown": box((-0.1, 0.01, -DEEP), (0.1, HIP, DEEP))}
    raised = {name: mesh for name, mesh in parts.items() if not name.startswith("leg")}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        x = sorted((sign * 0.005, sign * 0.11))
        raised[f"sole_{side}"] = box((x[0], 0.0, -0.05), (x[1], 0.05, 0.1))
    for others in (gown, raised):
        solid = fill_solid(*joined(*others.values()), CELL)
        assert with_legs_of_pieces(solid, pieces_of(others)) is solid


@pytest.mark.parametrize("over", [-0.01, 0.0, 0.02])
def test_a_figure_of_blocks_has_both_legs(over):
    """Both legs are placed, each in its block, with a gap between them, touching, or stuck into one
    another."""
    parts = blocks(over)
    skeleton = place(character_from_arrays(parts)).skeleton
    for side, sign in (("left", 1.0), ("right", -1.0)):
        leg = [skeleton[f"{side}_{name}"].position for name in ("hip", "knee", "ankle")]
        assert all(0.0 < sign * at[0] < 0.12 for at in leg)
        assert HIP + 0.15 > leg[0][1] > leg[1][1] > leg[2][1] > 0.0


def test_arms_of_two_layers_with_hands_against_the_legs_are_arms():
    """A hand that is a block and touches the leg is parted from it, and a second layer of the arm
    leaves the shoulder joined: the arm hangs from there to the hand."""
    parts = {name: mesh for name, mesh in blocks().items() if not name.startswith("shoulder")}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        for name, low, high in (
            ("arm", (0.12, 0.4, -0.05), (0.22, 0.67, 0.05)),
            ("sleeve", (0.11, 0.41, -0.06), (0.23, 0.68, 0.06)),
            ("hand", (0.11, 0.3, -0.06), (0.23, 0.42, 0.06)),
        ):
            x = sorted((sign * low[0], sign * high[0]))
            parts[f"{name}_{side}"] = box((x[0], *low[1:]), (x[1], *high[1:]))
    skeleton = place(character_from_arrays(parts), roles=dict.fromkeys(parts, "body")).skeleton
    for side in ("left", "right"):
        shoulder, elbow, wrist = (
            skeleton[f"{side}_{name}"].position[1] for name in ("shoulder", "elbow", "wrist")
        )
        assert 0.7 > shoulder > 0.55 > elbow > wrist > 0.32
