"""The members of the invented families, and single figures made like them; those that take long are
built once and kept in the user's cache folder."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

import numpy as np

from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays
from meshes.box_family import BoxMember
from meshes.family import Member, build_member
from meshes.figures import Part as FigurePart
from meshes.figures import build_figure
from meshes.params import FigureParams
from tests.kept_files import cache_folder

GENERATOR = Path(__file__).resolve().parents[2] / "meshes"
KEPT = 4
"""Of one member, by as many versions of the generator."""
LIBRARIES = ("numpy", "scipy", "scikit-image", "fast-simplification")
"""Whose versions may change what is built."""
TO_WORKING = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
"""From +Z up, facing -Y, to +Y up, facing +Z."""


@dataclass(frozen=True)
class Built:
    """A member as a user would hand it over, and what is known of it."""

    member: Member | BoxMember
    character: Character
    joints: dict[str, np.ndarray]
    """(3,) by name, frame and units of the mesh."""

    @property
    def height(self) -> float:
        """Of the bare figure, standing; errors are given in percent of it."""
        return self.member.params.height

    @property
    def file_axes(self) -> np.ndarray:
        """(3, 3) columns: where the figure's left, up and forward point in the file."""
        return TO_WORKING.T if self.member.z_up else np.eye(3)


@cache
def rounding_digest() -> str:
    """Of the last digits of what the generator computes with: numpy's functions and products have
    others with other registers of the processor, and a mesh with them."""
    found = hashlib.sha256()
    for kind in (np.float32, np.float64):
        x = np.linspace(0.01, 1.0, 4096, dtype=kind)
        for function in (np.exp, np.log, np.sin, np.cos, np.tan, np.arcsin, np.arccos, np.sqrt):
            found.update(function(x).tobytes())
        for function in (np.arctan2, np.power, np.hypot):
            found.update(function(x, x[::-1]).tobytes())
        square = x.reshape(64, 64)
        for product in (square @ square, square[:, :3] @ square[:3, :3], x @ x, x.sum()):
            found.update(product.tobytes())
    return found.hexdigest()


@cache
def source_digest() -> str:
    """Of the generator's source, the libraries that it rests on and this machine's last digits."""
    found = hashlib.sha256()
    for path in sorted(GENERATOR.glob("*.py")):
        if path.name.startswith("box"):
            continue  # of the other family, which is built anew each time
        found.update(path.name.encode() + path.read_bytes())
    found.update(" ".join(version(name) for name in LIBRARIES).encode())
    found.update(rounding_digest().encode())
    return found.hexdigest()


def _path(name: str, made_of: str) -> Path:
    key = hashlib.sha256((source_digest() + made_of).encode()).hexdigest()[:24]
    folder = cache_folder() / "family"
    folder.mkdir(exist_ok=True)
    return folder / f"{name}.{key}.npz"


def _write(path: Path, arrays: dict[str, np.ndarray]) -> None:
    """Whole or not at all, also when two processes build the same member."""
    temporary = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        with temporary.open("wb") as file:
            np.savez_compressed(file, **arrays)
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    _clear_older(path)


def _clear_older(path: Path) -> None:
    """Leaves this file and the last built by other generators: other branches' may be at work."""
    others = []
    for other in path.parent.glob(f"{path.name.split('.')[0]}.*.npz"):
        with suppress(FileNotFoundError):  # cleared by another process
            others.append((other != path, -other.stat().st_mtime, other))
    for *_, old in sorted(others)[KEPT:]:
        old.unlink(missing_ok=True)


def as_arrays(member: Member) -> dict[str, np.ndarray]:
    """The member built now, as named arrays."""
    return _as_arrays(*build_member(member))


def _as_arrays(parts: Sequence[FigurePart], joints: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    arrays = {"parts": np.array([part.name for part in parts])}
    for number, part in enumerate(parts):
        arrays[f"vertices_{number}"] = part.vertices
        arrays[f"faces_{number}"] = part.faces
    arrays["names"] = np.array(list(joints))
    arrays["joints"] = np.array(list(joints.values()))
    return arrays


def built(member: Member | BoxMember) -> Built:
    """The member from the cache, or built and kept there."""
    if isinstance(member, BoxMember):
        made, joints = member.build()
        parts = {part.name: (part.vertices, part.faces) for part in made}
        return Built(member, character_from_arrays(parts, member.name), joints)
    parts, joints = kept(member.params.name, repr(member), lambda: build_member(member))
    return Built(member, character_from_arrays(parts, member.name), joints)


def built_figure(params: FigureParams, detail: str) -> tuple[Character, dict[str, np.ndarray]]:
    """A figure as `build_figure` makes it and its joints, from the cache, or built and kept there.

    Another figure of the same name takes its place in time."""
    parts, joints = kept(
        f"figure_{params.name}",
        f"{params!r} {detail}",
        lambda: build_figure(params, detail=detail),
    )
    return character_from_arrays(parts, params.name), joints


def kept(
    name: str,
    made_of: str,
    make: Callable[[], tuple[Sequence[FigurePart], dict[str, np.ndarray]]],
) -> tuple[dict[str, tuple[np.ndarray, np.ndarray]], dict[str, np.ndarray]]:
    """Vertices and faces by part, and joints, from the cache, or made and kept there.

    `made_of` tells all that they are made of but for the generator's source."""
    path = _path(name, made_of)
    if not path.exists():
        _write(path, _as_arrays(*make()))
    with np.load(path) as arrays:
        parts = {
            str(name): (arrays[f"vertices_{number}"], arrays[f"faces_{number}"])
            for number, name in enumerate(arrays["parts"])
        }
        names = [str(name) for name in arrays["names"]]
        joints = dict(zip(names, arrays["joints"], strict=True))
    return parts, joints
