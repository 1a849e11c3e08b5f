"""A pair of open hand meshes with known joints, made by others for the WebXR standard.

The npm package `@webxr-input-profiles/assets` (MIT, 2019, Amazon) carries two rigged hands with the
25 joints of the W3C recommendation WebXR Hand Input. It is fetched once, never installed, and only
the hands are kept. Joint positions are those of the inverse bind matrices.
"""

from __future__ import annotations

import json
import shutil
import tarfile
import tempfile
from functools import cache
from pathlib import Path

import numpy as np
import pygltflib

from tests.kept_files import cache_folder, only_one, run_npm, skip_loudly

PACKAGE = "@webxr-input-profiles/assets@1.0.20"
INSIDE = "package/dist/profiles/generic-hand/"
BONES = ("phalanx-proximal", "phalanx-intermediate", "phalanx-distal", "tip")
THUMB_BONES = ("metacarpal", "phalanx-proximal", "phalanx-distal", "tip")
"""A joint of the standard is named after the bone that follows it."""


@cache
def _folder() -> tuple[Path | None, str]:
    """The folder with both hands, or None and why not."""
    folder = cache_folder() / "open-hands-1.0.20"
    with only_one("open-hands"):
        if (folder / "right.glb").exists():
            return folder, ""
        if not shutil.which("npm"):
            return None, "npm is not installed"
        with tempfile.TemporaryDirectory() as work:
            why = run_npm(["pack", "--silent", PACKAGE], Path(work), 300)
            if why:
                return None, why
            folder.mkdir(parents=True, exist_ok=True)
            with tarfile.open(next(Path(work).glob("*.tgz"))) as package:
                for side in ("left", "right"):
                    found = package.extractfile(f"{INSIDE}{side}.glb")
                    assert found is not None
                    (folder / f"{side}.glb").write_bytes(found.read())
    return folder, ""


def open_hand(side: str) -> Path:
    """The file of one hand; the test is skipped loudly where it cannot be had, and fails in CI."""
    folder, why = _folder()
    if folder is None:
        skip_loudly("pair of open hands", why)
    return folder / f"{side}.glb"


def known_joints(path: Path) -> dict[str, np.ndarray]:
    """(3,) metres, the file's frame, by our names without the side."""
    scene = pygltflib.GLTF2().load(str(path))
    skin = scene.skins[0]
    accessor = scene.accessors[skin.inverseBindMatrices]
    view = scene.bufferViews[accessor.bufferView]
    start = (view.byteOffset or 0) + (accessor.byteOffset or 0)
    numbers = np.frombuffer(scene.binary_blob(), "<f4", 16 * accessor.count, start)
    bind = np.linalg.inv(numbers.reshape(-1, 4, 4).transpose(0, 2, 1))
    by_theirs = {scene.nodes[j].name: m[:3, 3] for j, m in zip(skin.joints, bind, strict=True)}
    joints = {"wrist": by_theirs["wrist"]}
    for finger in ("thumb", "index", "middle", "ring", "pinky"):
        theirs = finger if finger == "thumb" else f"{finger}-finger"
        bones = THUMB_BONES if finger == "thumb" else BONES
        for bone, ours in zip(bones, ("1", "2", "3", "tip"), strict=True):
            joints[f"{finger}_{ours}"] = by_theirs[f"{theirs}-{bone}"]
    return joints


def placed_joints(skeleton: Path, side: str) -> dict[str, np.ndarray]:
    """(3,) by name without the side, of a skeleton file of ours."""
    record = json.loads(skeleton.read_text(encoding="utf-8"))
    return {
        joint["name"].removeprefix(f"{side}_"): np.array(joint["position"])
        for joint in record["joints"]
    }
