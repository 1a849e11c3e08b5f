"""The selected joint: what speaks for it, and everything a person can decide about it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from autoplace.measure.not_found import NotFound
from autoplace.review.plain_text import plain
from autoplace.show.evidence_words import evidence_words, joint_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from autoplace.review.page import Page
    from autoplace.review.snaps import Snap

    FloatArray = NDArray[np.float64]
    SnapTo = Callable[[str, str], Snap | NotFound]

__all__ = ["SNAPS", "JointPanel"]

SNAPS = {"Section": "section", "Eyeball": "eyeball", "Centreline": "centreline"}
"""What the buttons say, and which snap it is."""
NUDGE = 1.0 / 500.0
"""What a key press moves a joint by unless told otherwise, heights: 3.5 mm of an adult."""
CHAINS = {"spine": "Spine joints", "neck": "Neck joints"}
MOST_IN_CHAIN = 12


class JointPanel:
    """Controls of the selected joint and of its chain."""

    def __init__(self, page: Page, snap: SnapTo) -> None:
        """`snap(kind, joint)` gives the place to snap to."""
        self._page, self._snap = page, snap
        gui, height = page.server.gui, page.frame.height
        self._names = tuple(page.session.skeleton.names)
        self._joint: Any = gui.add_dropdown("Joint", ("(none)", *self._names))
        self._joint.on_update(self._choose)
        self._words: Any = gui.add_markdown("Click a joint in the picture.")
        self._place: Any = gui.add_vector3("Place", (0.0, 0.0, 0.0), step=height / 1000.0)
        self._place.on_update(self._typed)
        self._locked: Any = gui.add_checkbox(
            "Locked", False, hint="keeps this place when the skeleton is placed again"
        )
        self._locked.on_update(self._lock)
        self._mirror: Any = gui.add_checkbox(
            "Other side too", page.mirror, hint="the joint across the body moves in mirror image"
        )
        self._mirror.on_update(self._options)
        self._follow: Any = gui.add_checkbox(
            "Children follow", page.follow, hint="what hangs on the joint moves along with it"
        )
        self._follow.on_update(self._options)
        self.nudge: Any = gui.add_number(
            "Key step", NUDGE * height, min=0.0, step=height / 10000.0, hint="in units of the file"
        )
        self._snaps = gui.add_button_group("Snap to", list(SNAPS))
        self._snaps.on_click(self._snapped)
        self._back = gui.add_button_group("Put back", ["This joint", "All joints"])
        self._back.on_click(self._reset)
        self._counts: dict[str, Any] = {}
        with gui.add_folder("Chains", expand_by_default=False):
            for chain, label in CHAINS.items():
                if page.count(chain):
                    number = gui.add_number(
                        label, page.count(chain), min=1, max=MOST_IN_CHAIN, step=1
                    )
                    number.on_update(partial(self._respace, chain))
                    self._counts[chain] = number

    def refresh(self, page: Page) -> None:
        """Show the selected joint as it is."""
        skeleton, chosen = page.session.skeleton, page.chosen
        if skeleton.names != self._names:
            self._names = skeleton.names
            self._joint.options = ("(none)", *self._names)
        self._joint.value = chosen or "(none)"
        for chain, number in self._counts.items():
            number.value = page.count(chain)
        self._mirror.value, self._follow.value = page.mirror, page.follow
        for control in (self._place, self._locked):
            control.disabled = chosen is None
        if chosen is None:
            self._words.content = "Click a joint in the picture."
            return
        joint = skeleton[chosen]
        self._words.content = plain(evidence_words(joint, skeleton))
        self._place.value = tuple(float(x) for x in joint.position)
        self._locked.value = joint.locked

    def _choose(self, event: Any) -> None:
        if event.client is not None:  # a person chose, not the page
            name = event.target.value
            self._page.choose(None if name == "(none)" else name)

    def _typed(self, event: Any) -> None:
        if event.client is not None and self._page.chosen is not None:
            self._page.move(self._page.chosen, np.array(event.target.value, dtype=np.float64))

    def _lock(self, event: Any) -> None:
        if event.client is not None:
            self._page.lock(bool(event.target.value))

    def _options(self, event: Any) -> None:
        if event.client is not None:
            self._page.mirror, self._page.follow = self._mirror.value, self._follow.value

    def _snapped(self, event: Any) -> None:
        chosen = self._page.chosen
        if chosen is None:
            return
        target = self._snap(SNAPS[event.target.value], chosen)
        if isinstance(target, NotFound):
            self._page.say(f"{joint_words(chosen)} stays".capitalize(), f"{target}.")
        else:
            self._page.move(chosen, target.position)
            self._page.say(f"{joint_words(chosen)} snapped".capitalize(), f"{target.words}.")

    def _reset(self, event: Any) -> None:
        page = self._page
        if event.target.value == "All joints":
            page.correct(page.session.reset_all)
        elif page.chosen is not None:
            chosen = page.chosen
            page.correct(lambda: page.session.reset(chosen, mirror=page.mirror))

    def _respace(self, chain: str, event: Any) -> None:
        if event.client is not None:
            count = int(event.target.value)
            self._page.correct(lambda: self._page.session.respace(chain, count))
