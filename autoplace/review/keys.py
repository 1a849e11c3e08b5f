"""Keys of the page: nudging the selected joint, views, history and switches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from autoplace.review.page import Page
    from autoplace.review.panel_head import HeadPanel
    from autoplace.review.panel_joint import JointPanel

__all__ = ["add_keys", "screen_axis"]

FloatArray = NDArray[np.float64]

NUDGES = {
    "J": ("left", -1.0, 0),
    "L": ("right", 1.0, 0),
    "I": ("up", 1.0, 1),
    "K": ("down", -1.0, 1),
    "U": ("toward you", 1.0, 2),
    "O": ("away from you", -1.0, 2),
}
"""Key -> what it says, sign, and along which direction of the screen: right, up, toward the eye.
The scene library moves the camera with W, A, S, D, Q, E and the arrows."""


def add_keys(page: Page, head: HeadPanel, joint: JointPanel) -> None:
    """Give the page its keys; they are listed in the command palette that the page opens."""
    gui = page.server.gui

    def on(label: str, key: str, modifier: Any, act: Any) -> None:
        gui.add_command(label, hotkey=key, modifier=modifier).on_trigger(act)  # type: ignore[arg-type]

    for key, (where, sign, direction) in NUDGES.items():
        on(
            f"Nudge the joint {where} on the screen",
            key,
            None,
            lambda event, s=sign, d=direction: _nudge(page, joint, event.client, s, d),
        )
    on("Undo", "Z", "cmd/ctrl", lambda _: page.correct(page.session.undo))
    on("Redo", "Z", "cmd/ctrl+shift", lambda _: page.correct(page.session.redo))
    on("Save", "S", "cmd/ctrl", lambda _: head.save())
    on("Lock the joint, or let it go", "P", None, lambda _: _toggle_lock(page))
    on("Select no joint", "escape", None, lambda _: page.choose(None))
    for number, name in enumerate(page.views(), 1):
        on(
            f"View: {name}",
            str(number),
            None,
            lambda event, name=name: page.fly(event.client, page.views().get(name)),
        )


def screen_axis(rotation: FloatArray, direction: int) -> FloatArray:
    """(3,) the axis of the working frame nearest to a direction of the screen, with its sign.

    Args:
        rotation: (3, 3) columns are the screen's right, down and away, in the working frame.
        direction: 0 right, 1 up, 2 toward the eye.
    """
    wanted = rotation[:, direction] * (1.0, -1.0, -1.0)[direction]
    nearest = int(np.argmax(np.abs(wanted)))
    axis = np.zeros(3)
    axis[nearest] = np.sign(wanted[nearest])
    return axis


def _nudge(page: Page, joint: JointPanel, client: Any, sign: float, direction: int) -> None:
    from scipy.spatial.transform import Rotation

    if page.chosen is None or client is None:
        return
    w, x, y, z = client.camera.wxyz
    axis = screen_axis(Rotation.from_quat([x, y, z, w]).as_matrix(), direction)
    step = sign * float(joint.nudge.value) * page.frame.direction_to_input(axis)
    page.move(page.chosen, page.session.skeleton[page.chosen].position + step)


def _toggle_lock(page: Page) -> None:
    if page.chosen is not None:
        page.lock(not page.session.skeleton[page.chosen].locked)
