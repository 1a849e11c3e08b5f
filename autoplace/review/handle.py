"""The handle by which the selected joint is dragged."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from viser import SceneApi

__all__ = ["DragHandle"]

FloatArray = NDArray[np.float64]

REACH = 9.0
"""Length of the handle's arrows, in radii of the joint's bead."""


class DragHandle:
    """Arrows along the character's own axes and squares between them, working frame."""

    def __init__(
        self,
        scene: SceneApi,
        on_drag: Callable[[FloatArray], None],
        on_drop: Callable[[], None],
    ) -> None:
        """
        Args:
            scene: where it stands.
            on_drag: called with each place (3,) that it is dragged to.
            on_drop: called when it is let go.
        """
        self._scene, self._on_drag, self._on_drop = scene, on_drag, on_drop
        self._node: Any = None
        self._size = 0.0

    def show(self, at: FloatArray, radius: float) -> None:
        """Stand at a joint (3,) whose bead has this radius."""
        if self._node is None or radius != self._size:
            self.hide()
            self._size = radius
            self._node = self._scene.add_transform_controls(
                "/handle",
                REACH * radius,
                disable_rotations=True,
                depth_test=False,
                opacity=0.9,
                line_width=3.0,
                position=at,
            )
            self._node.on_update(self._moved)
        self._node.position = at

    def hide(self) -> None:
        """Take the handle away."""
        if self._node is not None:
            self._node.remove()
            self._node = None

    async def _moved(self, event: Any) -> None:
        # a coroutine, so that places come in order; it does not wait for anything
        if event.phase != "start":
            self._on_drag(np.array(event.target.position, dtype=np.float64))
        if event.phase == "end":
            self._on_drop()
