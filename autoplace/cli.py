"""The command line: arguments in, plain-data reports out; no geometry here.

Built on argparse, by measurement: on a 2-core machine `autoplace place --help` answers in 0.05 s,
where typer needed 0.15 to 0.3 s (it loads pydantic for any option), and each command would have
paid that. Numpy, rich and the rest are loaded when a command runs.
"""

from __future__ import annotations

import argparse
import difflib
import json
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace import __version__
from autoplace.errors import AutoplaceError, SettingsError
from autoplace.progress import Progress

if TYPE_CHECKING:
    from autoplace.job import Job
    from autoplace.result import Settings

__all__ = ["main", "parser"]

DONE, OUR_ERROR, USER_ERROR, INTERRUPTED = 0, 1, 2, 130


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: Without the program's name; None takes those of the process.

    Returns:
        The exit code: 0 done, 2 something for the user to mend, 1 a fault of the program.

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
            options.run(options, progress)
            sys.stdout.flush()
    except AutoplaceError as error:
        progress.interrupt()
        _show_traceback(options.traceback)
        print(f"autoplace: {error}", file=sys.stderr)
        return USER_ERROR
    except BrokenPipeError:
        # the reader of our output went away; hush the interpreter's own complaint at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OUR_ERROR
    except KeyboardInterrupt:
        progress.interrupt()
        print("autoplace: stopped; nothing was written.", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:
        progress.interrupt()
        _show_traceback(options.traceback)
        print(_fault(error, shown=options.traceback), file=sys.stderr)
        return OUR_ERROR
    return DONE


def parser() -> argparse.ArgumentParser:
    """The parser of all commands; `run` of what it returns is the function to call."""
    top = argparse.ArgumentParser(
        prog="autoplace",
        usage="autoplace COMMAND [options]",
        description="Places, orients and checks an animation skeleton in a character mesh.",
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"autoplace {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_place(commands)
    _add_demo(commands)
    return top


def _add_place(commands: Any) -> None:
    place = commands.add_parser(
        "place",
        usage="autoplace place MESH [options]",
        help="place a skeleton in a character mesh",
        description="Place a skeleton in the character MESH. Prints what was found and writes "
        "the skeleton (*.skeleton.json) and a picture sheet (*.sheet.png) beside the mesh.",
        allow_abbrev=False,
    )
    place.set_defaults(run=_run_place, parser=place)
    place.add_argument("mesh", metavar="MESH", type=Path, help="OBJ, PLY, STL, GLB or glTF file")

    files = place.add_argument_group("files")
    files.add_argument(
        "-o", "--out", metavar="JSON", type=Path, help="where the skeleton goes (file or folder)"
    )
    files.add_argument(
        "--export", metavar="GLB", type=Path, help="also write mesh and joints as binary glTF"
    )
    sheet = files.add_mutually_exclusive_group()
    sheet.add_argument("--sheet", metavar="PNG", type=Path, help="where the picture sheet goes")
    sheet.add_argument("--no-sheet", action="store_true", help="draw no picture sheet")
    files.add_argument(
        "--overwrite",
        action="store_true",
        help="replace even a skeleton with joints placed by hand, or a file of another program",
    )

    known = place.add_argument_group("what you know better than the measurement")
    known.add_argument("--template", metavar="NAME", help="proportions to start from")
    known.add_argument(
        "--leave-out",
        metavar="PART",
        action="append",
        default=[],
        help="part not to measure, by name or pattern such as 'cloak*'; repeatable",
    )
    known.add_argument(
        "--role",
        metavar="PART=ROLE",
        action="append",
        default=[],
        help="what a part is: body, eyeball, inner_mouth, hair, garment, accessory, left_out or "
        "unknown; repeatable",
    )
    known.add_argument("--up", metavar="AXIS", help="where up is in the file, such as +Y or +Z")
    known.add_argument("--forward", metavar="AXIS", help="where the character faces, such as -Y")
    known.add_argument(
        "--spine",
        metavar="N",
        type=int,
        default=3,
        help="joints from above the pelvis to the chest (default: 3)",
    )
    known.add_argument(
        "--neck", metavar="N", type=int, default=1, help="joints of the neck (default: 1)"
    )

    telling = place.add_argument_group("what is printed")
    telling.add_argument(
        "--json", action="store_true", help="the report as JSON on standard output"
    )
    _add_telling(telling)


def _add_demo(commands: Any) -> None:
    demo = commands.add_parser(
        "demo",
        help="copy the demo characters out and place a skeleton in one",
        description="Copy the demo characters into DIR and place a skeleton in one of them.",
        allow_abbrev=False,
    )
    demo.set_defaults(run=_run_demo, parser=demo)
    demo.add_argument(
        "folder",
        metavar="DIR",
        type=Path,
        nargs="?",
        default=Path("autoplace-demo"),
        help="made if it is missing (default: autoplace-demo)",
    )
    _add_telling(demo)


def _add_telling(group: Any) -> None:
    group.add_argument("-q", "--quiet", action="store_true", help="no progress and no report")
    group.add_argument(
        "--traceback", action="store_true", help="show where in the program an error arose"
    )


def _run_place(options: argparse.Namespace, progress: Progress) -> None:
    from autoplace.job import run_job
    from autoplace.outputs import plan_outputs

    settings = _settings(options)
    outputs = plan_outputs(
        options.mesh,
        options.out,
        export=options.export,
        sheet=options.sheet,
        no_sheet=options.no_sheet,
    )
    job = run_job(options.mesh, outputs, settings, overwrite=options.overwrite, progress=progress)
    seconds = progress.finish()
    if options.json:
        print(json.dumps(_as_data(job, progress.timings), indent=2, default=_plain))
    elif not options.quiet:
        _print_report(job, seconds)


def _run_demo(options: argparse.Namespace, progress: Progress) -> None:
    from autoplace.demo import FIRST, copy_characters
    from autoplace.job import run_job
    from autoplace.outputs import plan_outputs
    from autoplace.result import Settings

    characters = copy_characters(options.folder)
    mesh = options.folder / FIRST
    outputs = plan_outputs(mesh, export=mesh.with_suffix(".glb"))
    job = run_job(mesh, outputs, Settings(), progress=progress)
    seconds = progress.finish()
    if options.quiet:
        return
    _print_report(job, seconds)
    print(f"\nLook at the picture first: {outputs.sheet}")
    others = [path for path in characters if path.name != FIRST]
    if others:
        print(f"Then try another:          autoplace place {others[0]}")


def _settings(options: argparse.Namespace) -> Settings:
    from autoplace.result import Settings

    roles: dict[str, str] = {}
    for text in options.role:
        part, _, name = text.rpartition("=")
        if not (part and name):
            raise SettingsError(
                f"--role {text!r} is not of the form PART=ROLE; write for instance "
                "--role boots=body."
            )
        roles[part] = name
    return Settings(
        template=options.template,
        leave_out=tuple(options.leave_out),
        roles=roles,
        up=options.up,
        forward=options.forward,
        spine=options.spine,
        neck=options.neck,
    )


def _print_report(job: Job, seconds: float) -> None:
    from autoplace.report_text import console_for, job_text

    console_for(sys.stdout).print(job_text(job, seconds))


def _as_data(job: Job, timings: dict[str, float]) -> dict[str, Any]:
    """The report with the joints, the files and the seconds per stage."""
    files = {
        kind: str(path)
        for kind, path in vars(job.written).items()  # skeleton, sheet, export
        if path is not None
    }
    return {
        "mesh": job.result.skeleton.source.mesh,
        **job.result.report,
        "joint_names": list(job.result.skeleton.names),
        "notes": list(job.notes),
        "files": files,
        "kept": [str(path) for path in job.kept],
        "timings": {stage: round(seconds, 4) for stage, seconds in timings.items()},
    }


def _plain(value: Any) -> Any:
    """Numpy scalars and arrays as JSON values."""
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"{type(value).__name__} has no place in a report")


def _join_axes(arguments: Sequence[str]) -> list[str]:
    """Write `--up -Y` as `--up=-Y`, since argparse would take -Y for an option."""
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in ("--up", "--forward") and re.fullmatch("-[a-zA-Z]", argument):
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
