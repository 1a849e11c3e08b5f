"""What the commands have in common: options, settings from them, and how a report is printed."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplace.errors import SettingsError

if TYPE_CHECKING:
    from rich.console import RenderableType

__all__ = [
    "add_directions",
    "add_export_options",
    "add_hand_options",
    "add_overwrite",
    "add_part_options",
    "add_report_options",
    "add_skeleton",
    "add_telling",
    "file_names",
    "fingers",
    "print_data",
    "print_text",
    "roles",
]


def add_telling(group: Any) -> None:
    """Options for how much is printed."""
    group.add_argument("-q", "--quiet", action="store_true", help="no progress and no report")
    group.add_argument(
        "--traceback", action="store_true", help="show where in the program an error arose"
    )


def add_report_options(command: Any) -> None:
    """Options for what a command prints of its report."""
    telling = command.add_argument_group("what is printed")
    telling.add_argument(
        "--json", action="store_true", help="the report as JSON on standard output"
    )
    add_telling(telling)


def add_part_options(group: Any) -> None:
    """Options for what the parts of the mesh are."""
    group.add_argument(
        "--leave-out",
        metavar="PART",
        action="append",
        default=[],
        help="part not to measure, by name or pattern such as 'cloak*'; repeatable",
    )
    group.add_argument(
        "--role",
        metavar="PART=ROLE",
        action="append",
        default=[],
        help="what a part is: body, eyeball, inner_mouth, hair, garment, accessory, left_out or "
        "unknown; repeatable",
    )


def add_export_options(group: Any) -> None:
    """Options for what joints are called in an exported file, and what its unit is."""
    group.add_argument(
        "--names",
        metavar="TABLE",
        help="what joints are called in the exported file: own (this program's), hanim (ISO/IEC "
        '19774-1), webxr (hands by W3C WebXR), or a TOML file with rows like left_knee = "knee_l" '
        "(default: names stay; in .x3d hanim)",
    )
    group.add_argument(
        "--metres-per-unit",
        metavar="X",
        type=float,
        help="what one unit is, for exported files that count in metres (default: what the "
        "skeleton's file says, else told by the height)",
    )


def add_skeleton(command: Any, *, optional: bool = False) -> None:
    """The skeleton that a command works on, as its argument."""
    command.add_argument(
        "skeleton",
        metavar="SKELETON",
        type=Path,
        nargs="?" if optional else None,
        help="*.skeleton.json, or a glTF, USD, X3D or BVH file",
    )


def add_directions(command: Any, *, bake: bool) -> None:
    """Options for what a skeleton's file does not say: up, forward, and what its rest is."""
    known = command.add_argument_group("what you know of the skeleton")
    known.add_argument("--up", metavar="AXIS", help="where up is in the file, such as +Y or +Z")
    known.add_argument("--forward", metavar="AXIS", help="where the character faces, such as -Y")
    if bake:
        known.add_argument(
            "--bake",
            action="store_true",
            help="make the way the joints stand their rest, where they are rotated or scaled",
        )


def add_overwrite(group: Any) -> None:
    """The option to replace what would else be kept."""
    group.add_argument(
        "--overwrite",
        action="store_true",
        help="replace even another skeleton with joints placed by hand, or a file of another "
        "program",
    )


def add_hand_options(group: Any) -> None:
    """Options for the names of the fingers and the joints of the palm."""
    group.add_argument(
        "--fingers",
        metavar="NAMES",
        action="append",
        default=[],
        help="names from the thumb on, such as thumb,index,middle,pinky; of one hand with "
        "left=thumb,middle; repeatable",
    )
    group.add_argument(
        "--metacarpals",
        action="store_true",
        help="also a joint at the base of each finger's metacarpal, to cup the palm",
    )


def roles(options: argparse.Namespace) -> dict[str, str]:
    """Part to role, from `--role PART=ROLE`; raises SettingsError for another form."""
    found: dict[str, str] = {}
    for text in options.role:
        part, _, name = text.rpartition("=")
        if not (part and name):
            raise SettingsError(
                f"--role {text!r} is not of the form PART=ROLE; write for instance "
                "--role boots=body."
            )
        found[part] = name
    return found


def fingers(options: argparse.Namespace) -> dict[str, tuple[str, ...]]:
    """Finger names by side, from `--fingers`; a side's own go before those for both."""
    both: dict[str, tuple[str, ...]] = {}
    own: dict[str, tuple[str, ...]] = {}
    for text in options.fingers:
        side, equals, names = text.rpartition("=")
        listed = tuple(name.strip() for name in names.split(","))
        if equals:
            own[side.strip()] = listed
        else:
            both = {"left": listed, "right": listed}
    return both | own


def print_data(data: Any) -> None:
    """A report as JSON on standard output."""
    print(json.dumps(data, indent=2, default=_plain))


def print_text(text: RenderableType) -> None:
    """A report for a person on standard output."""
    from autoplace.reports.blocks import console_for

    console_for(sys.stdout).print(text)


def file_names(outputs: Any) -> dict[str, str]:
    """The paths of the files that a run wrote, by kind."""
    return {kind: str(path) for kind, path in vars(outputs).items() if isinstance(path, Path)}


def _plain(value: Any) -> Any:
    """Numpy scalars and arrays as JSON values."""
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"{type(value).__name__} has no place in a report")
