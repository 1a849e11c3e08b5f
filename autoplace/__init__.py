"""Places, orients and checks an animation skeleton in a character mesh.

    import autoplace

    character = autoplace.load("keeper.obj")
    result = autoplace.place(character)
    autoplace.write_skeleton(result.skeleton, "keeper.skeleton.json")

Importing is cheap: a name is fetched from its module when it is first used.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from autoplace.bend_character import bend
    from autoplace.errors import (
        AutoplaceError,
        BadGeometry,
        FileMissing,
        InputError,
        NotACharacter,
        NotAMesh,
        OutputError,
        SettingsError,
        SkeletonError,
        TemplateError,
    )
    from autoplace.files.convention_file import load_convention
    from autoplace.files.edits_json import read_edits, write_edits
    from autoplace.files.export import export_skeleton
    from autoplace.files.gltf import write_glb
    from autoplace.files.open_skeleton import OpenedSkeleton, open_skeleton
    from autoplace.files.skeleton_json import read_skeleton, write_skeleton
    from autoplace.keep.locked_joints import KeepResult, place_keeping
    from autoplace.mesh.character import Character, Part
    from autoplace.mesh.load import load
    from autoplace.mesh_facts import mesh_facts
    from autoplace.pipeline import place
    from autoplace.refit.eyes import refit_eyes
    from autoplace.refit.hands import refit_hands
    from autoplace.refit.lone_hands import place_lone_hands
    from autoplace.refit.recorded import RefitResult
    from autoplace.result import PlaceResult, Settings
    from autoplace.show.axes_sheet import render_axes_sheet
    from autoplace.show.face_sheet import render_face_sheet
    from autoplace.show.hand_sheet import render_hand_sheet
    from autoplace.show.sheet import render_sheet, write_sheet
    from autoplace.skeleton.bending.records import BendReport
    from autoplace.skeleton.checks import check, survey
    from autoplace.skeleton.convention import Convention
    from autoplace.skeleton.edits import Edits, JointEdit, apply_edits, edits_of
    from autoplace.skeleton.mend import mend
    from autoplace.skeleton.model import Finding, Joint, Skeleton
    from autoplace.skeleton.orient import orient

__version__ = "0.1.0"

_WHERE = {
    "AutoplaceError": "errors",
    "BadGeometry": "errors",
    "BendReport": "skeleton.bending.records",
    "Character": "mesh.character",
    "Convention": "skeleton.convention",
    "Edits": "skeleton.edits",
    "FileMissing": "errors",
    "Finding": "skeleton.model",
    "InputError": "errors",
    "Joint": "skeleton.model",
    "JointEdit": "skeleton.edits",
    "KeepResult": "keep.locked_joints",
    "NotACharacter": "errors",
    "NotAMesh": "errors",
    "OpenedSkeleton": "files.open_skeleton",
    "OutputError": "errors",
    "Part": "mesh.character",
    "PlaceResult": "result",
    "RefitResult": "refit.recorded",
    "Settings": "result",
    "SettingsError": "errors",
    "Skeleton": "skeleton.model",
    "SkeletonError": "errors",
    "TemplateError": "errors",
    "apply_edits": "skeleton.edits",
    "bend": "bend_character",
    "check": "skeleton.checks",
    "edits_of": "skeleton.edits",
    "export_skeleton": "files.export",
    "load": "mesh.load",
    "load_convention": "files.convention_file",
    "mend": "skeleton.mend",
    "mesh_facts": "mesh_facts",
    "open_skeleton": "files.open_skeleton",
    "orient": "skeleton.orient",
    "place": "pipeline",
    "place_keeping": "keep.locked_joints",
    "place_lone_hands": "refit.lone_hands",
    "read_edits": "files.edits_json",
    "read_skeleton": "files.skeleton_json",
    "refit_eyes": "refit.eyes",
    "refit_hands": "refit.hands",
    "render_axes_sheet": "show.axes_sheet",
    "render_face_sheet": "show.face_sheet",
    "render_hand_sheet": "show.hand_sheet",
    "render_sheet": "show.sheet",
    "survey": "skeleton.checks",
    "write_edits": "files.edits_json",
    "write_glb": "files.gltf",
    "write_sheet": "show.sheet",
    "write_skeleton": "files.skeleton_json",
}

__all__ = [
    "AutoplaceError",
    "BadGeometry",
    "BendReport",
    "Character",
    "Convention",
    "Edits",
    "FileMissing",
    "Finding",
    "InputError",
    "Joint",
    "JointEdit",
    "KeepResult",
    "NotACharacter",
    "NotAMesh",
    "OpenedSkeleton",
    "OutputError",
    "Part",
    "PlaceResult",
    "RefitResult",
    "Settings",
    "SettingsError",
    "Skeleton",
    "SkeletonError",
    "TemplateError",
    "apply_edits",
    "bend",
    "check",
    "edits_of",
    "export_skeleton",
    "load",
    "load_convention",
    "mend",
    "mesh_facts",
    "open_skeleton",
    "orient",
    "place",
    "place_keeping",
    "place_lone_hands",
    "read_edits",
    "read_skeleton",
    "refit_eyes",
    "refit_hands",
    "render_axes_sheet",
    "render_face_sheet",
    "render_hand_sheet",
    "render_sheet",
    "survey",
    "write_edits",
    "write_glb",
    "write_sheet",
    "write_skeleton",
]


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """Keeps `autoplace.place` the function.

    Importing the sub-package of that name would otherwise put the folder in its place, and whether
    it had been imported would decide what a user gets. `from autoplace.place.x import y` still
    works.
    """

    def __setattr__(self, name: str, value: Any) -> None:
        if not (name in _WHERE and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
