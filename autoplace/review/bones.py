"""The skeleton in the page's scene: joints, bones, axes, spreads, names and what is selected.

The scene is in the working frame: +Y up, +Z where the character faces, +X its left, height 1.
Nodes are added once and then changed in place, so that a drag sends only what moves.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from autoplace.review.shapes import ball, block, quaternions
from autoplace.show.evidence_words import joint_words, sureness_colour
from autoplace.show.palette import side_colour
from autoplace.skeleton.names import SIDES, finger_of, side_of
from autoplace.skeleton.structure import parent_indices

if TYPE_CHECKING:
    from viser import SceneApi

    from autoplace.measure.frame_record import Frame
    from autoplace.skeleton.model import Skeleton

__all__ = ["Bones", "bead_radii"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BEAD = 0.12
"""Radius of a joint's bead, share of the shortest bone that meets in it."""
SMALLEST, LARGEST = 0.0022, 0.008
"""Of a bead's radius, heights: those of a finger stay apart, and none hides a limb."""
LINE = 3.5
"""Width of a bone, pixels."""
AXIS_REACH = 3.0
"""Length of a local axis, in radii of its joint's bead."""
PINNED = 1.35
"""Half the edge of the block that marks a locked joint, in radii of its bead."""
CHOSEN = 1.9
"""Radius of the halo around the selected joint, in radii of its bead."""
HALO = (255, 196, 0)
BLOCK = (40, 36, 48)
SPREAD = (204, 84, 0)


class Bones:
    """Signs for a skeleton, drawn once and moved with it."""

    def __init__(self, scene: SceneApi, frame: Frame, on_click: Callable[[str], None]) -> None:
        """`on_click` is called with the name of a joint that was clicked."""
        self._scene, self._frame, self._on_click = scene, frame, on_click
        self._nodes: dict[str, Any] = {}
        self._names: tuple[str, ...] = ()
        self._radii = np.zeros(0)
        self._labelled: tuple[str | None, bool] = (None, False)
        self.chosen: str | None = None
        self.axes_of: Collection[str] | None = ()
        """Joints whose local axes are shown; None for all."""
        self.show_spread = False
        self.show_names = False

    def show(self, skeleton: Skeleton, positions: FloatArray, axes: FloatArray) -> None:
        """Draw the skeleton with its joints at positions (n, 3), axes (n, 3, 3) unit rows.

        Both are in the skeleton's frame and units; they are its own, or those of a pose.
        """
        points = self._frame.to_working(positions)
        parents = parent_indices(skeleton)
        if skeleton.names != self._names:
            self._start(skeleton, points, parents)
        self._draw_joints(skeleton, points)
        self._draw_bones(points, parents)
        self._draw_axes(points, axes)
        self._draw_chosen(points)
        self._draw_names(points)

    def radius(self, name: str) -> float:
        """Of a joint's bead, heights."""
        return float(self._radii[self._names.index(name)])

    def _start(self, skeleton: Skeleton, points: FloatArray, parents: IntArray) -> None:
        """Everything anew, for another set of joints."""
        for node in list(self._nodes):
            self._drop(node)
        self._names = skeleton.names
        self._radii = bead_radii(self._names, points, parents)
        self._labelled = (None, False)

    def _draw_joints(self, skeleton: Skeleton, points: FloatArray) -> None:
        height = self._frame.height
        colours = np.array([sureness_colour(j, height) for j in skeleton], dtype=np.uint8)
        beads = self._instances("/skeleton/joints", ball(), points, self._radii, colours)
        if not np.array_equal(beads.batched_colors, colours):
            beads.batched_colors = colours
        locked = np.array([joint.locked for joint in skeleton], dtype=bool)
        self._instances(
            "/skeleton/locked", block(), points[locked], self._radii[locked] * PINNED, BLOCK, 0.45
        )
        spread = np.array([joint.spread for joint in skeleton]) / height
        seen = (spread > 0.0) & self.show_spread
        self._instances("/skeleton/spread", ball(), points[seen], spread[seen], SPREAD, 0.16)

    def _draw_bones(self, points: FloatArray, parents: IntArray) -> None:
        children = np.flatnonzero(parents >= 0)
        ends = np.stack([points[parents[children]], points[children]], axis=1).astype(np.float32)
        node = self._nodes.get("/skeleton/bones")
        if node is not None:
            node.points = ends
        elif len(ends):
            inks = np.array([side_colour(self._names[child]) for child in children], dtype=np.uint8)
            self._nodes["/skeleton/bones"] = self._scene.add_line_segments(
                "/skeleton/bones",
                ends,
                np.repeat(inks[:, None], 2, axis=1),
                thickness=LINE,
                thickness_units="screen",
            )

    def _draw_axes(self, points: FloatArray, axes: FloatArray) -> None:
        node = "/skeleton/axes"
        wanted = [
            i for i, name in enumerate(self._names) if self.axes_of is None or name in self.axes_of
        ]
        if not wanted:
            self._drop(node)
            return
        # the rows are where the local axes point: the columns of the turn that takes them there
        columns = self._frame.direction_to_working(axes[wanted]).swapaxes(1, 2)
        turns, at = quaternions(columns).astype(np.float32), points[wanted].astype(np.float32)
        sizes = (self._radii[wanted] * AXIS_REACH).astype(np.float32)
        there = self._nodes.get(node)
        if there is not None and np.array_equal(there.batched_scales, sizes):
            there.batched_wxyzs, there.batched_positions = turns, at
            return
        self._drop(node)
        self._nodes[node] = self._scene.add_batched_axes(
            node, turns, at, sizes, axes_length=1.0, axes_radius=0.06
        )

    def _draw_chosen(self, points: FloatArray) -> None:
        halo = "/skeleton/chosen"
        if self.chosen is None or self.chosen not in self._names:
            self._drop(halo)
            return
        at, radius = points[self._names.index(self.chosen)], self.radius(self.chosen) * CHOSEN
        there = self._nodes.get(halo)
        if there is None:
            there = self._nodes[halo] = self._scene.add_icosphere(
                halo, 1.0, color=HALO, opacity=0.45, cast_shadow=False, receive_shadow=False
            )
        there.position, there.scale = at, radius

    def _draw_names(self, points: FloatArray) -> None:
        """Names of all joints when asked for, and in any case that of the selected one."""
        wanted = (self.chosen, self.show_names)
        if wanted != self._labelled:
            for node in [node for node in self._nodes if node.startswith("/names/")]:
                self._drop(node)
            self._labelled = wanted
        for name, point in zip(self._names, points, strict=True):
            chosen, node = name == self.chosen, f"/names/{name}"
            if not (chosen or self.show_names):
                continue
            if node not in self._nodes:
                small = 0.6 if finger_of(name) else 0.75
                self._nodes[node] = self._scene.add_label(
                    node,
                    joint_words(name) if chosen else name,
                    font_screen_scale=1.05 if chosen else small,
                    anchor="bottom-center" if chosen else "bottom-left",
                )
            above = self.radius(name) * (CHOSEN if chosen else 1.0)
            self._nodes[node].position = point + np.array([0.0, above, 0.0])

    def _instances(
        self,
        node: str,
        shape: tuple[FloatArray, IntArray],
        points: FloatArray,
        sizes: FloatArray,
        colour: tuple[int, int, int] | NDArray[np.uint8],
        opacity: float | None = None,
    ) -> Any:
        """One shape at many points (n, 3), in sizes (n,); the node, None where there are none."""
        there = self._nodes.get(node)
        sizes = sizes.astype(np.float32)
        if there is not None and np.array_equal(there.batched_scales, sizes):
            there.batched_positions = points.astype(np.float32)
            return there
        self._drop(node)
        if not len(points):
            return None
        there = self._nodes[node] = self._scene.add_batched_meshes_simple(
            node,
            *shape,
            np.tile([1.0, 0.0, 0.0, 0.0], (len(points), 1)),
            points.astype(np.float32),
            batched_scales=sizes,
            batched_colors=colour,
            opacity=opacity,
            material="toon3",
            lod="off",
            cast_shadow=False,
            receive_shadow=False,
        )
        if node == "/skeleton/joints":
            there.on_click(self._clicked)
        return there

    async def _clicked(self, event: Any) -> None:
        if event.instance_index is not None and event.instance_index < len(self._names):
            self._on_click(self._names[event.instance_index])

    def _drop(self, node: str) -> None:
        there = self._nodes.pop(node, None)
        if there is not None:
            there.remove()


def bead_radii(names: Sequence[str], points: FloatArray, parents: IntArray) -> FloatArray:
    """(n,) radius of each joint's bead, heights, so that the beads of a chain stay apart.

    The beads of a hand's fingers are all of one size.

    Args:
        names: of the joints.
        points: (n, 3) of the joints, working frame.
        parents: (n,) index of each joint's parent, -1 for none.
    """
    shortest = np.full(len(points), np.inf)
    children = np.flatnonzero(parents >= 0)
    lengths = np.linalg.norm(points[children] - points[parents[children]], axis=1)
    real = lengths > 1e-6
    np.minimum.at(shortest, children[real], lengths[real])
    np.minimum.at(shortest, parents[children[real]], lengths[real])
    for side in SIDES:
        hand = [i for i, name in enumerate(names) if finger_of(name) and side_of(name) == side]
        if hand:
            shortest[hand] = np.median(shortest[hand])
    return np.clip(BEAD * shortest, SMALLEST, LARGEST)
