"""Puts the page together: scene, panels and keys around one session."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.measure.not_found import NotFound
from autoplace.review.keys import add_keys
from autoplace.review.page import Page
from autoplace.review.panel_bend import BendPanel
from autoplace.review.panel_files import FilesPanel
from autoplace.review.panel_findings import FindingsPanel
from autoplace.review.panel_head import HeadPanel
from autoplace.review.panel_joint import JointPanel
from autoplace.review.panel_look import LookPanel

if TYPE_CHECKING:
    from viser import ViserServer

    from autoplace.measure.frame_record import Frame
    from autoplace.review.deform import Skin
    from autoplace.review.session import Session
    from autoplace.review.snaps import Snap
    from autoplace.review.surface import SurfacePart
    from autoplace.skeleton.model import Skeleton

__all__ = ["Tools", "build_page"]


@dataclass(frozen=True)
class Tools:
    """What the page asks others to do: slow work, and everything about files."""

    files: tuple[Path, ...]
    """That saving writes."""
    save: Callable[[], Sequence[Path]]
    """Writes the corrections and the skeleton; gives the paths."""
    export: Callable[[str], tuple[Path, Sequence[str]]]
    """Writes the skeleton by a file's ending; gives the path and notes."""
    bind: Callable[[Skeleton], Skin]
    """Binds the surface to a skeleton; may take seconds the first time."""
    snap: Callable[[str, str], Snap | NotFound]
    """Kind of snap and joint, to the place that it snaps to."""


def build_page(
    server: ViserServer,
    session: Session,
    frame: Frame,
    parts: Sequence[SurfacePart],
    tools: Tools,
) -> Page:
    """The page with all its panels, ready to be opened in a browser."""
    page = Page(server, session, frame, parts)
    head = HeadPanel(page, tools.save)
    page.add(head)
    tabs = server.gui.add_tab_group()
    with tabs.add_tab("Joint"):
        joint = JointPanel(page, tools.snap)
        page.add(joint)
    with tabs.add_tab("Look"):
        page.add(LookPanel(page))
    with tabs.add_tab("Bend"):
        page.add(BendPanel(page, tools.bind))
    with tabs.add_tab("Files"):
        page.add(FilesPanel(page, tools.files, tools.export))
    page.add(FindingsPanel(page))
    add_keys(page, head, joint)
    page.refresh()
    page.wait()
    return page
