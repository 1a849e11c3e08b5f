"""Runs every reader on damaged files, and tells each that was neither read nor refused.

    python -m tests.bad_input.campaign --seed 1 --rounds 1000 --reader load

Each round damages one small file, by the seed, the reader and the number of the round alone, so
that `--only ROUND --keep FOLDER` makes the same file again. The rounds run in a process of their
own, which may take so much memory and so much of the processor's time for one file; when it dies
or hangs, another goes on after it.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import shutil
import signal
import sys
import tempfile
import traceback
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random
from types import FrameType

from autoplace.errors import AutoplaceError
from tests.bad_input.mutations import mutated
from tests.bad_input.small_files import Reader, readers, write_small_files

__all__ = ["Campaign", "Fault", "run"]

SECONDS = 5.0
"""Of the processor's time for one file of at most two megabytes."""
HUNG = 60.0
"""Seconds of the clock after which a process is taken for hung in something it cannot leave."""
MEMORY = 1 << 30
"""Bytes that reading may claim over what the process has after it has read the sound files."""
GROWTH = 256 << 20
"""Bytes by which the process's peak may grow with one file."""
LONGEST = 600
"""Characters of a sentence, with the path in it."""
NEVER = ("Traceback", "numpy", "trimesh", "array(", "object at 0x", "NoneType", "\n")
"""What no sentence to a user holds."""
READY = "ready"
"""What a process says when it has read the sound files."""


class TimeUp(BaseException):
    """The time of a round is over; no reader that passes over exceptions passes over this."""


@dataclass(frozen=True)
class Fault:
    """A damaged file that was neither read nor refused as it should be."""

    reader: str
    round: int
    file: str
    what: str
    """One line."""
    detail: str = ""
    """The traceback, where there is one."""


@dataclass(frozen=True)
class Campaign:
    """What a number of rounds came to."""

    read: int
    refused: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class _Round:
    reader: str
    number: int


def run(seed: int, rounds: int, names: Sequence[str] = (), only: int | None = None) -> Campaign:
    """So many rounds for each of the named readers; all readers, if none is named."""
    numbers = range(rounds) if only is None else (only,)
    left = [_Round(name, i) for i in numbers for name in (names or readers())]
    read = refused = 0
    faults: list[Fault] = []
    with tempfile.TemporaryDirectory() as folder:
        write_small_files(Path(folder))
        while left:
            done = 0
            for at, outcome in _in_process(seed, Path(folder), left):
                done = at + 1
                if isinstance(outcome, Fault):
                    faults.append(outcome)
                elif outcome:
                    read += 1
                else:
                    refused += 1
            left = left[done:]
    return Campaign(read, refused, tuple(faults))


def damaged(seed: int, reader: str, number: int, folder: Path) -> tuple[str, bytes]:
    """Which of a reader's small files a round damages, and what it makes of it."""
    random = Random(f"{seed} {reader} {number}")
    files = readers()[reader].files
    chosen, other = random.choice(files), random.choice(files)
    content = (folder / chosen.damaged).read_bytes()
    return chosen.damaged, mutated(content, (folder / other.damaged).read_bytes(), random)


def _in_process(
    seed: int, folder: Path, rounds: Sequence[_Round]
) -> Iterator[tuple[int, bool | Fault]]:
    """Number and outcome of each round, until all are done or one ends the process."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, seed, folder, rounds), daemon=True)
    process.start()
    theirs.close()
    at = -1
    try:
        if not ours.poll(HUNG) or ours.recv() != READY:
            raise RuntimeError("a sound small file is refused")
        while at < len(rounds) - 1:
            try:
                if not ours.poll(HUNG):
                    what = "hangs where no signal reaches it"
                    break
                outcome = ours.recv()
            except EOFError:
                process.join()
                what = f"ends the process (exit code {process.exitcode})"
                break
            at += 1
            yield at, outcome
        else:
            return
    finally:
        process.kill()
        process.join()
        ours.close()
    at += 1
    lost = rounds[at]
    yield at, Fault(lost.reader, lost.number, damaged_name(seed, lost, folder), what)


def damaged_name(seed: int, lost: _Round, folder: Path) -> str:
    """The file that a round damages."""
    return damaged(seed, lost.reader, lost.number, folder)[0]


def _work(pipe: Connection, seed: int, folder: Path, rounds: Sequence[_Round]) -> None:
    """Does the rounds and sends each outcome: read, refused, or a fault."""
    warnings.simplefilter("ignore")
    known = readers()
    for name in {r.reader for r in rounds}:  # all libraries loaded before memory is bounded
        for small in known[name].files:
            known[name].read(folder / small.opened)
    with open("/proc/self/statm", encoding="ascii") as file:
        claimed = int(file.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (claimed + MEMORY, resource.RLIM_INFINITY))
    signal.signal(signal.SIGPROF, _time_up)
    pipe.send(READY)
    for this in rounds:
        name, content = damaged(seed, this.reader, this.number, folder)
        with _put(folder / name, content):
            outcome = _outcome(this, known[this.reader], name, folder)
        pipe.send(outcome)


def _time_up(number: int, frame: FrameType | None) -> None:
    raise TimeUp


@contextmanager
def _put(path: Path, content: bytes) -> Iterator[None]:
    """Another content in a file, and what was in it afterwards."""
    before = path.read_bytes()
    path.write_bytes(content)
    try:
        yield
    finally:
        path.write_bytes(before)


def _outcome(this: _Round, reader: Reader, name: str, folder: Path) -> bool | Fault:
    """Whether the damaged file was read, not refused; or the fault."""
    opened = next(small.opened for small in reader.files if small.damaged == name)
    peak = _peak()
    read, what, detail = False, "", ""
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        reader.read(folder / opened)
        read = True
    except AutoplaceError as refusal:
        what = _wrong_with(refusal)
    except TimeUp:
        what, detail = f"takes more than {SECONDS:g} seconds", traceback.format_exc()
    except BaseException as error:
        what, detail = f"{type(error).__name__}: {error}"[:200], traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
    if not what and _peak() - peak > GROWTH:
        what = f"takes {(_peak() - peak) >> 20} MB"
    return Fault(this.reader, this.number, name, " ".join(what.split()), detail) if what else read


def _wrong_with(refusal: AutoplaceError) -> str:
    """What is wrong with a refusal; empty if nothing is."""
    said = str(refusal)
    cause: BaseException | None = refusal
    while cause is not None:
        if isinstance(cause, MemoryError):
            return f"runs out of memory, and says: {said}"
        cause = cause.__cause__ or cause.__context__
    if len(said) > LONGEST or not said.endswith((".", "?")):
        return f"says no short sentence: {said[:300]!r}"
    if any(word in said for word in NEVER):
        return f"says what is not for users: {said!r}"
    return ""


def _peak() -> int:
    """Bytes that the process has had in memory at most."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss << 10


def main() -> int:
    """The campaign at the terminal; 1 where there are faults."""
    parser = argparse.ArgumentParser(prog="python -m tests.bad_input.campaign", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=200, metavar="N", help="for each reader")
    parser.add_argument("--reader", choices=tuple(readers()), action="append", default=[])
    parser.add_argument("--only", type=int, metavar="ROUND", help="this round alone")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="put the files at fault here")
    parser.add_argument("--trace", action="store_true", help="with tracebacks")
    options = parser.parse_args()
    found = run(options.seed, options.rounds, options.reader, options.only)
    for fault in found.faults:
        print(f"{fault.reader} {fault.round} {fault.file}: {fault.what}")
        if options.trace:
            print(fault.detail)
    if options.keep is not None and found.faults:
        _keep(options.seed, found.faults, options.keep)
    print(
        f"seed {options.seed}: {found.read} read, {found.refused} refused, "
        f"{len(found.faults)} faults"
    )
    return 1 if found.faults else 0


def _keep(seed: int, faults: Sequence[Fault], folder: Path) -> None:
    """The damaged files, each in a folder with all that it needs beside it."""
    for fault in faults:
        own = folder / f"{fault.reader}_{fault.round}"
        shutil.rmtree(own, ignore_errors=True)
        own.mkdir(parents=True)
        write_small_files(own)
        name, content = damaged(seed, fault.reader, fault.round, own)
        (own / name).write_bytes(content)


if __name__ == "__main__":
    sys.exit(main())
