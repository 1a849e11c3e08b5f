"""The command line: arguments in, plain-data reports out; no geometry here.

Built on argparse, by measurement: on a 2-core machine `autoplace place --help` answers in 0.05 s,
where typer needed 0.15 to 0.3 s (it loads pydantic for any option), and each command would have
paid that. Numpy, rich and the rest are loaded when a command runs.
"""

from __future__ import annotations

import argparse
import difflib
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from autoplace import __version__
from autoplace.commands.bend import add_bend
from autoplace.commands.check import add_check
from autoplace.commands.convert import add_convert
from autoplace.commands.demo import add_demo
from autoplace.commands.orient import add_orient
from autoplace.commands.place import add_place
from autoplace.commands.refit import add_eyes, add_hands
from autoplace.commands.review import add_review
from autoplace.errors import AutoplaceError
from autoplace.progress import Progress

__all__ = ["main", "parser"]

DONE, USER_ERROR, OUR_ERROR = 0, 2, 3
INTERRUPTED, PIPE_CLOSED = 130, 141
"""128 and the number of the signal, as a shell reports a program that a signal ended."""


AXIS_OPTIONS = ("--up", "--forward", "--aim", "--bend")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: Without the program's name; None takes those of the process.

    Returns:
        The exit code: 0 done, 1 done, and what was looked at has errors, 2 something for the user
        to mend, 3 a fault of the program. Ctrl-C gives 130, a closed pipe 141.

    Raises:
        SystemExit: as argparse does, after `--help` (0) or an unknown option (2).
    """
    given = sys.argv[1:] if arguments is None else arguments
    if not given:
        parser().print_help()
        return USER_ERROR
    options, unknown = parser().parse_known_args(_join_axes(given))
    if unknown:
        options.parser.error(_unknown(unknown[0], options.parser))
    progress = Progress(None if options.quiet else sys.stderr)
    try:
        with _libraries_hushed(not options.traceback):
            code: int | None = options.run(options, progress)
            sys.stdout.flush()
    except AutoplaceError as error:
        progress.interrupt()
        _show_traceback(options.traceback)
        print(f"autoplace: {error}", file=sys.stderr)
        return USER_ERROR
    except BrokenPipeError:
        # the reader of our output went away; hush the interpreter's own complaint at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except KeyboardInterrupt:
        progress.interrupt()
        print("autoplace: stopped; nothing was written.", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:
        progress.interrupt()
        _show_traceback(options.traceback)
        print(_fault(error, shown=options.traceback), file=sys.stderr)
        return OUR_ERROR
    return DONE if code is None else code


def parser() -> argparse.ArgumentParser:
    """The parser of all commands; `run` of what it returns is the function to call.

    It may return an exit code; None is 0.
    """
    top = argparse.ArgumentParser(
        prog="autoplace",
        usage="autoplace COMMAND [options]",
        description="Places, orients and checks an animation skeleton in a character mesh.",
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"autoplace {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    add_place(commands)
    add_hands(commands)
    add_eyes(commands)
    add_orient(commands)
    add_check(commands)
    add_bend(commands)
    add_review(commands)
    add_convert(commands)
    add_demo(commands)
    return top


def _join_axes(arguments: Sequence[str]) -> list[str]:
    """Write `--up -Y` as `--up=-Y`, since argparse would take -Y for an option."""
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in AXIS_OPTIONS and re.fullmatch("-[a-zA-Z]", argument):
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined


def _unknown(argument: str, command: argparse.ArgumentParser) -> str:
    known = [option for action in command._actions for option in action.option_strings]
    near = difflib.get_close_matches(argument, known, n=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    return f"unknown argument {argument!r}{hint}"


def _fault(error: Exception, *, shown: bool) -> str:
    said = (str(error).strip().splitlines() or [""])[0]
    what = f"{type(error).__name__}: {said}" if said else type(error).__name__
    advice = "what is printed above" if shown else "what the same command prints with --traceback"
    return f"autoplace: a fault of the program, not of your file ({what}); please report {advice}."


def _show_traceback(wanted: bool) -> None:
    if wanted:
        import traceback

        traceback.print_exc()


@contextmanager
def _libraries_hushed(hushed: bool) -> Iterator[None]:
    """Keep libraries' warnings and log lines, which mean nothing to a user, off the terminal."""
    if not hushed:
        yield
        return
    import logging
    import warnings

    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(before)
