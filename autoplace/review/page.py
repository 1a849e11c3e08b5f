"""The review page: what is shown, what is selected, and what the panels do to the session.

Panels and scene never talk to one another; they call this page, and it shows the outcome in both.
A drag runs on the server's event loop, so that its places arrive in order; whatever takes longer
(checks, panels) is left to one worker that skips states nobody waits for any more.
"""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import AutoplaceError
from autoplace.review.bones import Bones
from autoplace.review.chains import column_joints, whole_chain
from autoplace.review.handle import DragHandle
from autoplace.review.surface import Surface, SurfacePart
from autoplace.review.views import FIELD_OF_VIEW, CameraPlace, camera_places, near_joint
from autoplace.skeleton.model import Finding

if TYPE_CHECKING:
    from viser import ClientHandle, ViserServer

    from autoplace.measure.frame_record import Frame
    from autoplace.review.session import Session
    from autoplace.skeleton.pose import Posed

__all__ = ["Page", "Panel"]

FloatArray = NDArray[np.float64]

CLOSE = 0.09
"""How far around a joint is seen when the camera flies to it, in heights, at least."""


class Panel(Protocol):
    """A group of controls on the page."""

    def refresh(self, page: Page) -> None:
        """Show the session as it is."""


class Page:
    """One character under review, on one server."""

    def __init__(
        self, server: ViserServer, session: Session, frame: Frame, parts: Sequence[SurfacePart]
    ) -> None:
        """
        Args:
            server: shows the page.
            session: what is corrected.
            frame: where the character stands in its file.
            parts: what is drawn of it.
        """
        self.server, self.session, self.frame = server, session, frame
        self.chosen: str | None = None
        self.mirror, self.follow = True, False
        self.posed: Posed | None = None
        self.findings: tuple[Finding, ...] = ()
        self._panels: list[Panel] = []
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="review")
        self._waiting = threading.Event()
        # clicks, keys and the worker come on threads of their own, and a scene is drawn by one
        self._drawing = threading.RLock()
        points = frame.to_working(session.skeleton.positions())
        corners = np.vstack([points, *(part.vertices for part in parts if len(part.vertices))])
        self._low, self._high = corners.min(axis=0), corners.max(axis=0)
        self.surface = Surface(server.scene, parts)
        self.bones = Bones(server.scene, frame, self.choose)
        self.handle = DragHandle(server.scene, self.drag, self._dropped)
        start = self.views()["perspective"]
        server.initial_camera.fov = FIELD_OF_VIEW
        server.initial_camera.near, server.initial_camera.far = 0.005, 60.0
        server.initial_camera.look_at = start.look_at
        server.initial_camera.position = start.position(1.2)
        self.redraw()

    def add(self, panel: Panel) -> None:
        """Refresh this panel, too, whenever something has changed."""
        self._panels.append(panel)

    def views(self) -> dict[str, CameraPlace]:
        """The views there are of this character."""
        skeleton = self.session.skeleton
        points = self.frame.to_working(skeleton.positions())
        return camera_places(skeleton.names, points, self._low, self._high)

    def choose(self, name: str | None) -> None:
        """Select a joint, or none."""
        self.chosen = name
        self.redraw()
        self.refresh()

    def fly(self, client: ClientHandle | None, place: CameraPlace | None) -> None:
        """Move a client's camera to a view."""
        if client is None or place is None:
            return
        with client.atomic():
            client.camera.position = place.position(client.camera.aspect)
            client.camera.look_at = place.look_at

    def fly_to_joint(self, client: ClientHandle | None, name: str) -> None:
        """Select a joint and look at it from the side where the camera is."""
        self.choose(name)
        skeleton = self.session.skeleton
        if client is None or name not in skeleton:
            return
        at = self.frame.to_working(skeleton[name].position)
        toward = np.asarray(client.camera.position) - np.asarray(client.camera.look_at)
        self.fly(client, near_joint(at, toward, max(CLOSE, 12.0 * self.bones.radius(name))))

    def move(self, name: str, position: FloatArray) -> None:
        """Put a joint at a place (3,) in the file's frame and units."""
        self.correct(
            lambda: self.session.move(name, position, mirror=self.mirror, follow=self.follow)
        )

    def lock(self, locked: bool) -> None:
        """Lock the selected joint where it is, or let it go."""
        chosen = self.chosen
        if chosen is not None:
            self.correct(lambda: self.session.lock(chosen, locked, mirror=self.mirror))

    def count(self, chain: str) -> int:
        """How many joints the 'spine' or the 'neck' has."""
        return len(column_joints(self.session.skeleton, chain))

    def chain_of_chosen(self) -> frozenset[str]:
        """The joints that bend together with the selected one, itself included."""
        chosen, skeleton = self.chosen, self.session.skeleton
        if chosen is None or chosen not in skeleton:
            return frozenset()
        return frozenset(whole_chain(skeleton, chosen))

    def correct(self, change: Callable[[], object]) -> None:
        """Make a change to the session and show what comes of it; the pose goes back to rest."""
        self.rest()
        try:
            change()
        except AutoplaceError as reason:
            self.say("That was not possible", str(reason))
        self.redraw()
        self.refresh()

    def bend(self, posed: Posed) -> None:
        """Show the skeleton in a pose; the surface follows where it is bound."""
        self.posed = posed
        self.redraw()

    def rest(self) -> None:
        """Show the skeleton and the surface as they are."""
        if self.posed is not None:
            self.posed = None
            self.surface.rest()

    def redraw(self, *, handle: bool = True) -> None:
        """Show the skeleton as it is, and the handle, which a hand may have elsewhere."""
        skeleton = self.session.skeleton
        if self.chosen is not None and self.chosen not in skeleton:
            self.chosen = None
        positions, axes = skeleton.positions(), np.array([joint.axes for joint in skeleton])
        if self.posed is not None:
            positions, axes = self.posed.positions, self.posed.axes
        with self._drawing, self.server.atomic():
            self.bones.chosen = self.chosen
            self.bones.show(skeleton, positions, axes)
            if not handle:
                return
            if self.chosen is None or self.posed is not None:
                self.handle.hide()
            else:
                at = self.frame.to_working(skeleton[self.chosen].position)
                self.handle.show(at, self.bones.radius(self.chosen))

    def refresh(self) -> None:
        """Let the worker check the skeleton and refresh all panels, soon."""
        if not self._waiting.is_set():
            self._waiting.set()
            self._worker.submit(self._refresh).add_done_callback(_tell_fault)

    def wait(self) -> None:
        """Return when everything that was asked for is shown."""
        self._worker.submit(lambda: None).result()

    def say(self, title: str, body: str, *, lasting: bool = False) -> None:
        """Tell every client something; what is `lasting` stays until it is closed."""
        for client in self.server.get_clients().values():
            client.add_notification(title, body, auto_close_seconds=None if lasting else 6.0)

    def close(self) -> None:
        """End the worker; nothing is refreshed any more."""
        self._worker.shutdown(wait=True, cancel_futures=True)

    def _refresh(self) -> None:
        self._waiting.clear()
        try:
            self.findings = self.session.findings()
        except AutoplaceError as reason:
            self.findings = (Finding("checks", None, "error", str(reason), "Undo the last step."),)
        with self.server.atomic():
            for panel in self._panels:
                panel.refresh(self)

    def drag(self, at: FloatArray) -> None:
        """Show the selected joint at a place (3,) of the working frame, until it is dropped."""
        if self.chosen is None:
            return
        place = self.frame.to_input(at)
        try:
            self.session.drag(self.chosen, place, mirror=self.mirror, follow=self.follow)
        except AutoplaceError:
            return
        self.redraw(handle=False)

    def _dropped(self) -> None:
        self.session.drop()
        self.redraw()
        self.refresh()


def _tell_fault(done: Future[None]) -> None:
    """A fault in a panel must not vanish with the worker's task."""
    if not done.cancelled() and done.exception() is not None:
        traceback.print_exception(done.exception())
