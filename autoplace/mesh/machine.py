"""Is a figure built of rigid pieces, limbs and their joints alike, with nothing draped over it?

On a machine, a jointed doll or a suit of plates the covers are the figure: what lies under them is
not skin but works. That a piece lies close over others then says nothing of what it is.
"""

from __future__ import annotations

from collections.abc import Sequence

from autoplace.mesh.figure_scene import FigureScene

__all__ = ["is_machine"]

PAIRED = 20
"""Sizeable pieces with a twin, at least: a limb whose joints are pieces has five, as ball, upper
arm, elbow, forearm and hand (own invented robots); figures of blocks have three and their sleeves
or boots."""
SEGMENT = 0.31
"""Height of the tallest piece but the head at most, fraction of the figure's: shank and foot have
.285, a trunk from hip to shoulder .288 (Drillis & Contini in Winter 2009), and some overlap."""


def is_machine(scene: FigureScene, islands: list[int], sizeable: Sequence[int]) -> bool:
    """Do most pieces of the limbs come in pairs, and does none reach over more than a segment, as a
    skin, a cape and a gown do?

    Args:
        scene: the figure. islands: all that are judged. sizeable: those of them that are large.
    """
    size = scene.measures.high[:, 1] - scene.measures.low[:, 1]
    if any(size[i] > SEGMENT for i in islands if i not in scene.face):
        return False
    return sum(scene.has_twin(i, islands) for i in sizeable) >= PAIRED
