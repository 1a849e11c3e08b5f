"""What a person has decided so far, with undo and redo, and the skeleton that comes of it.

The session knows no page: the page calls it and shows what it holds. Positions are in the frame and
units of the mesh file.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.edit_moves import (
    lock_joint,
    move_joint,
    reset_all,
    reset_joint,
    respace,
)
from autoplace.skeleton.edits import Edits, apply_edits
from autoplace.skeleton.model import Finding, Skeleton

__all__ = ["Session"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class _State:
    """One step of the history."""

    edits: Edits
    skeleton: Skeleton


class Session:
    """A skeleton under correction.

    All methods may be called from any thread; each change is one step that `undo` takes back, and a
    drag is one step however many places it goes through.
    """

    def __init__(
        self,
        placed: Skeleton,
        edits: Edits,
        *,
        saved: Edits | None = None,
        check: Callable[[Skeleton], tuple[Finding, ...]],
        keep: Callable[[Edits], None] = lambda edits: None,
    ) -> None:
        """
        Args:
            placed: the skeleton without corrections.
            edits: corrections to start from.
            saved: corrections that are in the files; None for those to start from.
            check: findings of a skeleton.
            keep: called with the corrections after every step, so that a crash loses none.
        """
        self.placed = placed
        self._check, self._keep = check, keep
        self._lock = threading.RLock()
        first = _State(edits, apply_edits(placed, edits))
        self._states, self._at = [first], 0
        self._saved = edits if saved is None else saved
        self._dragged: _State | None = None
        self._checked: tuple[Skeleton, tuple[Finding, ...]] | None = None

    @property
    def edits(self) -> Edits:
        """The corrections as they are, a drag under way included."""
        return self._now().edits

    @property
    def skeleton(self) -> Skeleton:
        """The corrected skeleton, oriented; a drag under way included."""
        return self._now().skeleton

    @property
    def is_saved(self) -> bool:
        """Whether nothing has been changed since the corrections were opened or saved."""
        return _same(self.edits, self._saved)

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return self._at > 0

    @property
    def can_redo(self) -> bool:
        """Whether there is a step to do again."""
        return self._at + 1 < len(self._states)

    def findings(self) -> tuple[Finding, ...]:
        """What the checks say of the skeleton as it is; measured once for each state."""
        skeleton = self.skeleton
        if self._checked is None or self._checked[0] is not skeleton:
            self._checked = (skeleton, self._check(skeleton))
        return self._checked[1]

    def drag(self, name: str, position: FloatArray, *, mirror: bool, follow: bool) -> None:
        """Show a joint at a place while it is dragged; `drop` makes it a step."""
        with self._lock:
            base = self._states[self._at].edits
            edits = move_joint(self.placed, base, name, position, mirror=mirror, follow=follow)
            self._dragged = self._state(edits)

    def drop(self) -> None:
        """End a drag where it is."""
        with self._lock:
            dragged, self._dragged = self._dragged, None
            if dragged is not None:
                self._step(dragged)

    def move(
        self, name: str, position: FloatArray, *, mirror: bool = True, follow: bool = False
    ) -> None:
        """Put a joint at a place (3,)."""
        with self._lock:
            self.drag(name, position, mirror=mirror, follow=follow)
            self.drop()

    def lock(self, name: str, locked: bool, *, mirror: bool = True) -> None:
        """Lock a joint where it is, or let it go."""
        self._change(lambda edits: lock_joint(self.placed, edits, name, locked, mirror=mirror))

    def reset(self, name: str, *, mirror: bool = True) -> None:
        """Put a joint back where it was placed."""
        self._change(lambda edits: reset_joint(self.placed, edits, name, mirror=mirror))

    def reset_all(self) -> None:
        """Take all corrections back, in one step."""
        self._change(lambda edits: reset_all(self.placed, edits))

    def respace(self, chain: str, count: int) -> None:
        """Give the 'spine' or the 'neck' another number of joints, evenly along the chain."""
        self._change(lambda edits: respace(self.placed, edits, chain, count))

    def take_up(self, edits: Edits) -> None:
        """Go on from other corrections, as one step."""
        self._change(lambda _: edits)

    def undo(self) -> None:
        """Take the last step back, if there is one."""
        with self._lock:
            self._dragged = None
            if self.can_undo:
                self._at -= 1
                self._keep(self.edits)

    def redo(self) -> None:
        """Do the step again that was taken back last, if there is one."""
        with self._lock:
            if self.can_redo:
                self._at += 1
                self._keep(self.edits)

    def mark_saved(self, edits: Edits) -> None:
        """These corrections have been written; more may have been made since."""
        self._saved = edits

    def _now(self) -> _State:
        with self._lock:
            return self._states[self._at] if self._dragged is None else self._dragged

    def _change(self, change: Callable[[Edits], Edits]) -> None:
        with self._lock:
            self._dragged = None
            edits = change(self.edits)
            if not _same(edits, self.edits):
                self._step(self._state(edits))

    def _state(self, edits: Edits) -> _State:
        return _State(edits, apply_edits(self.placed, edits))

    def _step(self, state: _State) -> None:
        del self._states[self._at + 1 :]
        self._states.append(state)
        self._at += 1
        self._keep(state.edits)


def _same(one: Edits, other: Edits) -> bool:
    """Whether two sets of corrections decide the same."""
    return (one.joints, one.spine, one.neck) == (other.joints, other.spine, other.neck)
