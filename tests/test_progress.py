"""`autoplace.progress`: stages and their seconds on a stream."""

from __future__ import annotations

import io

from autoplace.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def ticking(*times: float):
    rest = iter(times)
    return lambda: next(rest)


def test_each_stage_gets_a_line_with_its_seconds():
    """A stage's line is written when the next one starts, the total at the end."""
    stream = io.StringIO()
    progress = Progress(stream, ticking(0.0, 0.0, 0.5, 0.5, 2.0, 2.0))
    progress("read")
    progress("frame")
    assert progress.finish() == 2.0
    assert progress.timings == {"read": 0.5, "frame": 1.5}
    assert [line.split() for line in stream.getvalue().splitlines()] == [
        ["read", "0.50", "s"],
        ["frame", "1.50", "s"],
        ["in", "all", "2.00", "s"],
    ]


def test_terminal_shows_the_running_stage():
    """On a terminal the name stands there while the stage runs."""
    stream = Terminal()
    progress = Progress(stream)
    progress("read")
    assert stream.getvalue() == "  read"


def test_quiet_still_measures():
    """Without a stream nothing is written and the timings are kept."""
    progress = Progress(None)
    progress("read")
    progress.finish()
    assert list(progress.timings) == ["read"]


def test_interrupting_ends_the_line():
    """An error message after a failed stage starts on a line of its own."""
    stream = Terminal()
    progress = Progress(stream)
    progress("read")
    progress.interrupt()
    assert stream.getvalue().endswith("\n")
