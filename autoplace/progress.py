"""Tells on the error stream which stage runs and how long each took."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TextIO

__all__ = ["Progress"]


class Progress:
    """Call it with a stage's name when the stage starts; `finish` ends the last one.

    On a terminal the running stage is shown at once and its time is filled in after; elsewhere a
    line is written when the stage is over.
    """

    def __init__(
        self, stream: TextIO | None, clock: Callable[[], float] = time.perf_counter
    ) -> None:
        """`stream` None keeps the timings but writes nothing."""
        self.timings: dict[str, float] = {}
        self._stream = stream
        self._live = stream is not None and stream.isatty()
        self._clock = clock
        self._begin = self._since = clock()
        self._stage: str | None = None

    def __call__(self, stage: str) -> None:
        """A stage starts, so the one before is over."""
        self._close()
        self._stage, self._since = stage, self._clock()
        if self._live and self._stream is not None:
            self._stream.write(f"  {stage}")
            self._stream.flush()

    def finish(self) -> float:
        """Everything is done; returns the seconds since this object was made."""
        self._close()
        total = self._clock() - self._begin
        self._write(f"  {'in all':<14}{total:6.2f} s\n")
        return total

    def interrupt(self) -> None:
        """End the line of a stage that failed, so that the message stands on its own line."""
        if self._stage is not None and self._live:
            self._write("\n")
        self._stage = None

    def _close(self) -> None:
        if self._stage is None:
            return
        seconds = self._clock() - self._since
        self.timings[self._stage] = self.timings.get(self._stage, 0.0) + seconds
        self._write(f"{chr(13) if self._live else ''}  {self._stage:<14}{seconds:6.2f} s\n")
        self._stage = None

    def _write(self, text: str) -> None:
        if self._stream is not None:
            self._stream.write(text)
            self._stream.flush()
