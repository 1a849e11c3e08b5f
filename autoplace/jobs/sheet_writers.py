"""The pictures that a run is asked for, drawn, with the functions that write them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from autoplace.jobs.outputs import Outputs

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles
    from autoplace.skeleton.model import Skeleton

__all__ = ["sheet_writers"]


def sheet_writers(
    outputs: Outputs,
    character: Character,
    roles: Roles,
    frame: Frame,
    skeleton: Skeleton,
    progress: Callable[[str], None],
    template_sure: float | None = None,
) -> dict[Path, Callable[[Path], object]]:
    """For each picture in `outputs` its path, and a function that writes it to a path given to it.

    `template_sure` is how sure the choice of the template is, 0 to 1, where it is known.
    """
    writers: dict[Path, Callable[[Path], object]] = {}
    figure = (character, roles, frame, skeleton)
    if outputs.sheet is not None:
        progress("picture")
        from autoplace.show.sheet import render_sheet, write_sheet

        writers[outputs.sheet] = partial(write_sheet, render_sheet(*figure, title=character.name))
    if outputs.hand_sheet is not None:
        progress("hand picture")
        from autoplace.show.hand_sheet import render_hand_sheet
        from autoplace.show.sheet import write_sheet

        hands = render_hand_sheet(*figure, title=character.name)
        writers[outputs.hand_sheet] = partial(write_sheet, hands)
    if outputs.face_sheet is not None:
        progress("face picture")
        from autoplace.show.face_sheet import render_face_sheet
        from autoplace.show.sheet import write_sheet

        face = render_face_sheet(*figure, title=character.name)
        writers[outputs.face_sheet] = partial(write_sheet, face)
    if outputs.page is not None:
        progress("page")
        from autoplace.show.page import render_page, write_page

        page = render_page(*figure, template_sure=template_sure)
        writers[outputs.page] = partial(write_page, page)
    return writers
