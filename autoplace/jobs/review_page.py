"""The page of an opened review, served until it is stopped."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from autoplace.measure.not_found import NotFound
from autoplace.progress import Progress
from autoplace.review.assembly import Tools, build_page
from autoplace.review.deform import bind_parts
from autoplace.review.drawn import drawn_character, surface_parts
from autoplace.review.recovery import offer_unsaved
from autoplace.review.server import address_of, start_server
from autoplace.review.session import Session
from autoplace.skeleton.edits import apply_edits

if TYPE_CHECKING:
    from viser import ViserServer

    from autoplace.jobs.review import Review
    from autoplace.mesh.character import Character
    from autoplace.review.deform import Skin
    from autoplace.review.page import Page
    from autoplace.review.snaps import Snap, SnapTargets
    from autoplace.skeleton.model import Skeleton

__all__ = ["Served", "run_page", "serve"]


class Served:
    """A page that is being served."""

    def __init__(
        self,
        review: Review,
        server: ViserServer,
        page: Page,
        session: Session,
        binding: threading.Thread,
    ) -> None:
        """Made by `serve`."""
        self.review, self.server, self.page, self.session = review, server, page, session
        self._binding = binding

    @property
    def address(self) -> str:
        """What to type into a browser."""
        return address_of(self.server)

    def stop(self) -> None:
        """End the page and the server; corrections that were not saved stay in the draft."""
        self.page.close()
        self.server.stop()
        # the interpreter must not end while a thread computes
        self._binding.join()


def serve(review: Review, port: int | None = None) -> Served:
    """Start the page of a review and return at once.

    Raises:
        SettingsError: the port is taken.
    """
    session = Session(
        review.placed,
        review.edits,
        saved=review.saved,
        check=review.check,
        keep=review.draft.keep,
    )
    server = start_server(f"{review.character.name} · autoplace", port)
    drawn = drawn_character(review.character)
    bind = _Binding(drawn)
    snap = _Snaps(review, session)

    written: list[Path] = []

    def save() -> Sequence[Path]:
        edits = session.edits
        set_aside = review.replaces_another and not written
        paths = review.save(apply_edits(review.placed, edits), edits, set_aside=set_aside)
        written.extend(paths)
        session.mark_saved(edits)
        return paths

    page = build_page(
        server,
        session,
        review.frame,
        surface_parts(drawn, review.placed, review.frame),
        Tools(
            files=(review.skeleton_path, review.edits_path),
            save=save,
            export=lambda ending: review.export(session.skeleton, ending),
            bind=bind,
            snap=snap,
        ),
    )
    if review.unsaved is not None and review.unsaved != review.edits:
        offer_unsaved(page, review.unsaved, review.draft)
    binding = threading.Thread(target=partial(bind, review.placed), name="binding", daemon=True)
    binding.start()  # so that the first bend need not wait
    return Served(review, server, page, session, binding)


def run_page(
    review: Review,
    *,
    port: int | None = None,
    browser: bool = True,
    quiet: bool = False,
    progress: Progress,
) -> None:
    """Serve the page until Ctrl-C or a signal to end; the address goes to standard output."""
    progress("page")
    served = serve(review, port)
    progress.finish()
    ended = threading.Event()
    before = {
        number: signal.signal(number, lambda *_: ended.set())
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        # told only now: whoever reads the address may end the page at once
        print(f"{served.address}   (Ctrl-C ends it)", flush=True)
        if not quiet:
            for note in review.notes:
                print(note, file=sys.stderr)
        if browser:
            import webbrowser

            webbrowser.open(served.address)
        while not ended.wait(0.5):  # in slices, since some systems wake no thread for a signal
            pass
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        served.stop()
    if not served.session.is_saved:
        kept = review.draft.path
        where = f"; {kept.name} keeps it, to be offered again" if kept.is_file() else ""
        print(f"The corrections are not saved{where}.", file=sys.stderr)


class _Binding:
    """The surface bound to a skeleton, once for each set of joints."""

    def __init__(self, drawn: Character) -> None:
        self._drawn = drawn
        self._done: Skin | None = None
        self._lock = threading.Lock()

    def __call__(self, skeleton: Skeleton) -> Skin:
        with self._lock:
            if self._done is None or not self._done.fits(skeleton):
                self._done = bind_parts(self._drawn, skeleton)
            return self._done


class _Snaps:
    """Where joints may snap to, measured when it is first asked for."""

    def __init__(self, review: Review, session: Session) -> None:
        self._review, self._session = review, session
        self._targets: SnapTargets | None = None
        self._lock = threading.Lock()

    def __call__(self, kind: str, joint: str) -> Snap | NotFound:
        skeleton = self._session.skeleton
        at = np.asarray(skeleton[joint].position, dtype=np.float64)
        with self._lock:
            if self._targets is None:
                self._targets = self._review.snap_targets()
            if kind == "section":
                return self._targets.section_centre(joint, at, skeleton)
            if kind == "eyeball":
                return self._targets.eyeball(joint, at)
            return self._targets.centreline(joint, at)
