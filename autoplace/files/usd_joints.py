"""The joints of an OpenUSD file: those of its `UsdSkel` skeleton.

`bindTransforms` say, in the world, how the joints stood when the mesh was bound to them, and
`restTransforms`, each in its parent's frame, how they stand without an animation; a joint is turned
by what the two differ by (UsdSkel schema, "Skeleton"). The library that reads these files is an
optional one.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError
from autoplace.files.joint_record import (
    JointRecord,
    file_size,
    from_frames,
    parents_first,
    refuse_too_many,
)
from autoplace.files.usd_claims import refuse_false_claims

__all__ = ["hushed", "read_usd_joints"]

FloatArray = NDArray[np.float64]

BEGINNINGS: dict[str, tuple[bytes, ...]] = {
    ".usda": (b"#usda ",),
    ".usdc": (b"PXR-USDC",),
    ".usdz": (b"PK\x03\x04",),
}
BEGINNINGS[".usd"] = (*BEGINNINGS[".usda"], *BEGINNINGS[".usdc"])
MOST_PRIMS = 1_000_000
"""Things in a scene that are looked through; common practice."""
EXTRA = "reading USD needs the library usd-core: pip install usd-core."


def read_usd_joints(path: Path) -> JointRecord:
    """Reads the joints of a .usda, .usdc, .usd or .usdz file, in the frame of its stage.

    Raises FileMissing when the file cannot be opened, SkeletonError when it is broken, holds no
    skeleton, or the library is not there, in words that go on after a colon.
    """
    file_size(path)
    with path.open("rb") as file:
        head = file.read(8)
    if not any(head.startswith(start) for start in BEGINNINGS[path.suffix.lower()]):
        raise SkeletonError(f"it does not begin as a {path.suffix.lower()} file does.")
    refuse_false_claims(path)
    try:
        from pxr import Tf, Usd, UsdGeom, UsdSkel
    except ImportError as missing:
        raise SkeletonError(EXTRA) from missing
    try:
        with hushed():
            stage = Usd.Stage.Open(str(path))
            if stage is None:
                raise SkeletonError("it cannot be opened; export it again.")
            prim, skeletons = _largest(stage, Usd, UsdSkel)
            return _record(stage, prim, skeletons, UsdGeom, UsdSkel, Usd)
    except Tf.ErrorException as reason:
        raise SkeletonError("it is broken or breaks off; export it again.") from reason


def _largest(stage: Any, usd: Any, usd_skel: Any) -> tuple[Any, int]:
    """The skeleton with the most joints, and how many skeletons there are."""
    best, most, found = None, 0, 0
    for count, prim in enumerate(stage.Traverse(usd.TraverseInstanceProxies())):
        if count > MOST_PRIMS:
            raise SkeletonError("it holds a whole scene; export only the character.")
        if prim.IsA(usd_skel.Skeleton):
            found += 1
            joints = usd_skel.Skeleton(prim).GetJointsAttr().Get()
            if joints is not None and len(joints) > most:
                best, most = prim, len(joints)
    if best is None:
        raise SkeletonError("it holds no UsdSkel skeleton with joints.")
    refuse_too_many(most)
    return best, found


def _record(
    stage: Any, prim: Any, skeletons: int, usd_geom: Any, usd_skel: Any, usd: Any
) -> JointRecord:
    skeleton = usd_skel.Skeleton(prim)
    tokens = [str(joint) for joint in skeleton.GetJointsAttr().Get()]
    if len(set(tokens)) < len(tokens) or not all(tokens):
        raise SkeletonError(f"'{prim.GetPath()}' lists a joint twice, or one without a name.")
    parents = _parents(tokens)
    order = parents_first(parents)
    place_of = {old: new for new, old in enumerate(order)} | {-1: -1}
    sorted_parents = np.array([place_of[parents[i]] for i in order], dtype=np.int64)
    names = _names(skeleton, tokens)
    names = [names[i] for i in order]

    rest = _matrices(skeleton.GetRestTransformsAttr().Get(), len(tokens))
    bind = _matrices(skeleton.GetBindTransformsAttr().Get(), len(tokens))
    notes = []
    if rest is None and bind is None:
        raise SkeletonError(
            f"'{prim.GetPath()}' says neither how its {len(tokens)} joints rest nor how they were "
            "bound; export it again."
        )
    if rest is None:
        notes.append("The skeleton has no rest transforms, so the joints stand as they were bound.")
    if bind is None:
        notes.append("The skeleton has no bind transforms, so how the joints stand is their rest.")
    world = usd_geom.XformCache(usd.TimeCode.Default()).GetLocalToWorldTransform(prim)
    now = bind[order] if bind is not None else None
    if rest is not None:
        now = _composed(rest[order], sorted_parents, np.array(world).T)
    assert now is not None
    if not np.all(np.isfinite(now)):
        raise SkeletonError("its joints scale one another beyond all numbers; export it again.")
    own = rest[order] if rest is not None else None
    record = from_frames(
        "USD",
        names,
        sorted_parents,
        now,
        rest=now if bind is None else bind[order],
        local_factors=None if own is None else np.linalg.norm(own[:, :3, :3], axis=1),
    )
    if skeletons > 1:
        notes.append(
            f"The file has {skeletons} skeletons; '{prim.GetPath()}' with the most joints is taken."
        )
    if any(p.IsA(usd_skel.Animation) for p in stage.Traverse(usd.TraverseInstanceProxies())):
        notes.append(
            "The animation was passed over; the joints stand as their rest transforms say."
        )
    return replace(
        record,
        up=f"+{usd_geom.GetStageUpAxis(stage)}",
        metres_per_unit=float(usd_geom.GetStageMetersPerUnit(stage)),
        notes=(*notes, *record.notes),
    )


def _parents(tokens: list[str]) -> list[int]:
    """For each path the place of the nearest path above it that is listed, or -1.

    Told by the texts alone: joints may have signs in their names that paths of prims may not.
    """
    place_of = {token.strip("/"): place for place, token in enumerate(tokens)}
    parents = []
    for token in tokens:
        above = token.strip("/").rpartition("/")[0]
        while above and above not in place_of:
            above = above.rpartition("/")[0]
        parents.append(place_of.get(above, -1))
    return parents


def _names(skeleton: Any, tokens: list[str]) -> list[str]:
    """The joints' own names if there are any for all, else the last parts of their paths."""
    given = skeleton.GetJointNamesAttr().Get()
    if given is not None and len(given) == len(tokens) and all(str(name) for name in given):
        return [str(name) for name in given]
    return [token.strip("/").rsplit("/", 1)[-1] for token in tokens]


def _matrices(given: Any, count: int) -> FloatArray | None:
    """(count, 4, 4) for column vectors; None if there are none."""
    if given is None or len(given) == 0:
        return None
    if len(given) != count:
        raise SkeletonError(f"it has {len(given)} transforms for {count} joints; export it again.")
    matrices = np.swapaxes(np.array(given, dtype=np.float64).reshape(count, 4, 4), 1, 2)
    if not np.all(np.isfinite(matrices)) or np.abs(matrices).max() > 1e30:
        raise SkeletonError("it has a transform with a value out of range.")
    return matrices


def _composed(local: FloatArray, parents: NDArray[np.int64], world: FloatArray) -> FloatArray:
    frames = np.zeros_like(local)
    for index, parent in enumerate(parents):
        frames[index] = (frames[parent] if parent >= 0 else world) @ local[index]
    return frames


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Keeps what the library writes straight to the error stream off the terminal."""
    sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
