"""Sliders that bend the skeleton, with the surface following."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from autoplace.review.deform import bones_of
from autoplace.review.sliders import pose_of, sliders_for
from autoplace.skeleton.pose import pose_skeleton

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.review.deform import Skin
    from autoplace.review.page import Page
    from autoplace.skeleton.model import Skeleton
    from autoplace.skeleton.pose import Posed

__all__ = ["BendPanel"]


class BendPanel:
    """A slider for each motion that the skeleton has joints for."""

    def __init__(self, page: Page, bind: Callable[[Skeleton], Skin]) -> None:
        """`bind` binds the surface to a skeleton; it is called when it is first needed, and once
        more for other joints, and may take seconds."""
        self._page, self._bind = page, bind
        self._skeleton = page.session.skeleton
        self._sliders = sliders_for(self._skeleton)
        self._busy = threading.Lock()
        gui = page.server.gui
        gui.add_button("Back to rest").on_click(lambda _: self.rest())
        self._both = gui.add_checkbox("Both sides alike", True)
        self._controls: dict[str, Any] = {}
        groups = list(dict.fromkeys(slider.group for slider in self._sliders))
        for group in groups:
            with gui.add_folder(group, expand_by_default=group == groups[0]):
                for slider in (s for s in self._sliders if s.group == group):
                    control = gui.add_slider(
                        slider.label, slider.low, slider.high, 1.0, 0.0, hint=slider.source
                    )
                    control.on_update(self._moved)
                    self._controls[slider.key] = control

    def refresh(self, page: Page) -> None:
        """After a correction the pose is at rest, so the sliders go there too."""
        if page.posed is None:
            self._all_to_nought()

    def rest(self) -> None:
        """All sliders to nought."""
        self._all_to_nought()
        self._page.rest()
        self._page.redraw()

    def _all_to_nought(self) -> None:
        for control in self._controls.values():
            control.value = 0.0

    def _moved(self, event: Any) -> None:
        if event.client is None:  # set by the page, which shows the pose itself
            return
        if self._both.value:
            key = next(k for k, control in self._controls.items() if control is event.target)
            twin = next(slider.twin for slider in self._sliders if slider.key == key)
            if twin in self._controls:
                self._controls[twin].value = event.target.value
        with self._busy:
            self._show()

    def _show(self) -> None:
        page, skeleton = self._page, self._page.session.skeleton
        if skeleton is not self._skeleton:
            self._skeleton, self._sliders = skeleton, sliders_for(skeleton)
        degrees = {key: float(control.value) for key, control in self._controls.items()}
        if not any(degrees.values()):
            page.rest()
            page.redraw()
            return
        posed = pose_skeleton(skeleton, pose_of(self._sliders, degrees))
        page.bend(posed)
        skin = page.surface.skin
        if skin is None or not skin.fits(skeleton):
            skin = self._bind(skeleton)
            page.surface.bind(skin, page.frame.to_working(skin.rest))
        page.surface.bend(*bones_of(_working(posed, page.frame), page.frame.to_working(skin.rest)))


def _working(posed: Posed, frame: Frame) -> Posed:
    """The same motions for points in the working frame."""
    turn = frame.rotation @ posed.turn @ frame.rotation.T
    shift = frame.to_working(posed.turn @ frame.origin + posed.shift)
    return replace(posed, turn=turn, shift=shift)
