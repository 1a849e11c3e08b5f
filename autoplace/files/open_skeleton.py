"""Opens a skeleton that a file holds, whoever made it, as one of ours.

Our own `*.skeleton.json` is taken as it is. In what comes from elsewhere each joint is given the
name that we call such a joint by, as far as it can be told, so that orientation, checks and the
bend test know what they look at; `under_own_names` gives the file's names back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import FileMissing, SkeletonError
from autoplace.files.foreign_skeleton import RecognisedSkeleton, recognise, recognise_record, unlike
from autoplace.files.joint_record import JointRecord
from autoplace.files.skeleton_json import read_skeleton
from autoplace.skeleton.convention import axis_vector
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.renaming import renamed
from autoplace.skeleton.roles import RoleGuess
from autoplace.skeleton.structure import parent_indices

__all__ = ["OpenedSkeleton", "RoleGuess", "open_skeleton"]

FloatArray = NDArray[np.float64]
Direction = str | Sequence[float] | FloatArray | None

FORMATS = (".json", ".glb", ".gltf", ".usda", ".usdc", ".usd", ".usdz", ".x3d", ".bvh")
"""Endings of the files that are read."""
UNIT = 1e-6
"""A row of axes is of length one, and at right angles to another, to the rounding of
single-precision files; common practice, no source."""
NAMED = 3
"""How many joints a message lists before it only counts them."""


@dataclass(frozen=True)
class OpenedSkeleton:
    """A skeleton from a file, and what the file said of it."""

    skeleton: Skeleton
    """Joints as they stand in the file, in its frame and units; under our names where a joint was
    recognised, else under its own, made unlike all others."""
    format: str
    """'skeleton.json', 'glTF', 'USD', 'X3D' or 'BVH'."""
    own_names: Mapping[str, str] = field(default_factory=dict)
    """Name in `skeleton` -> the file's name, for every joint."""
    guess: tuple[RoleGuess, ...] = ()
    """One row a joint where names had to be guessed, else empty."""
    notes: tuple[str, ...] = ()
    """What was passed over or taken for granted, one sentence each."""
    turned: Mapping[str, float] = field(default_factory=dict)
    """Joint -> degrees that it is turned by on top of its rest orientation; only joints that are.
    Empty after baking."""
    scaled: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    """Joint -> factors along its X, Y, Z where they are not one; empty after baking."""
    metres_per_unit: float | None = None
    """What one unit of the file is, where the file or its format says it."""

    def under_own_names(self, skeleton: Skeleton) -> Skeleton:
        """A skeleton made from this one, its joints under the file's own names again.

        Aims and findings are renamed too, also where a finding names a joint in quotes. Names that
        repeat in the file are numbered. A joint that the file did not have keeps the name it was
        given, made unlike the file's.
        """
        back: dict[str, str] = {}
        taken: set[str] = set()
        for known in (True, False):  # the file's own names go before those of joints that are new
            for joint in skeleton:
                if joint.name not in back and (joint.name in self.own_names) == known:
                    back[joint.name] = unlike(self.own_names.get(joint.name, joint.name), taken)
                    taken.add(back[joint.name])
        return renamed(skeleton, back)


def open_skeleton(
    path: str | Path,
    *,
    bake: bool = False,
    up: Direction = None,
    forward: Direction = None,
    require_tree: bool = True,
    refuse_posed: bool = True,
) -> OpenedSkeleton:
    """Reads the skeleton in a file.

    `up` and `forward`, an axis name such as '+Z' or a vector (3,) in the file's frame, go before
    what the file says. With `bake`, how the joints stand becomes their rest: positions stay, axes
    become unit rows, and nothing is turned or scaled any more. Without it a skeleton with turned
    or scaled joints is refused, unless `refuse_posed` is off (then it is only told).
    `require_tree=False` lets a broken tree through, so that the checks can report on it.

    Raises FileMissing when the file cannot be opened; SkeletonError when it holds no skeleton we
    can use, or one that is posed and not to be baked, or that no baking can mend.
    """
    path = Path(path)
    _refuse_unknown(path)
    if path.name.lower().endswith(".json"):
        opened = _open_ours(path, require_tree)
        opened = replace(opened, skeleton=_with_directions(opened.skeleton, up, forward))
    else:
        opened = _open_foreign(path, up, forward)
    if bake:
        return _baked(opened, path)
    if refuse_posed:
        _refuse_posed(opened, path)
    return opened


def _open_ours(path: Path, require_tree: bool) -> OpenedSkeleton:
    skeleton = read_skeleton(path, require_tree=require_tree)
    try:
        parent_indices(skeleton)
    except SkeletonError:  # let through to be checked
        known = RecognisedSkeleton(skeleton, {name: name for name in skeleton.names})
    else:
        known = recognise(skeleton)
    return OpenedSkeleton(
        known.skeleton,
        "skeleton.json",
        known.own_names,
        known.guess,
        known.notes,
        scaled=_row_lengths(known.skeleton),
    )


def _open_foreign(path: Path, up: Direction, forward: Direction) -> OpenedSkeleton:
    try:
        record = _read(path)
        known = recognise_record(record, path, up=up, forward=forward)
    except SkeletonError as reason:
        raise SkeletonError(f"'{path}' holds no skeleton we can use: {reason}") from reason
    return OpenedSkeleton(
        known.skeleton,
        record.format,
        known.own_names,
        known.guess,
        known.notes,
        known.turned,
        known.scaled,
        metres_per_unit=record.metres_per_unit,
    )


def _read(path: Path) -> JointRecord:
    """The joints of a foreign file; the reader of its format is loaded when it is needed."""
    ending = path.suffix.lower()
    if ending in (".glb", ".gltf"):
        from autoplace.files.gltf_joints import read_gltf_joints

        return read_gltf_joints(path)
    if ending == ".bvh":
        from autoplace.files.bvh import read_bvh_joints

        return read_bvh_joints(path)
    if ending == ".x3d":
        from autoplace.files.x3d_joints import read_x3d_joints

        return read_x3d_joints(path)
    from autoplace.files.usd_joints import read_usd_joints

    return read_usd_joints(path)


def _refuse_unknown(path: Path) -> None:
    if path.is_dir():
        raise FileMissing(f"'{path}' is a folder; name the skeleton file inside it.")
    if not path.name.lower().endswith(FORMATS):
        raise SkeletonError(
            f"'{path}' is not a kind of skeleton file we read: its name should end in "
            f"{', '.join(FORMATS)}."
        )


def _with_directions(skeleton: Skeleton, up: Direction, forward: Direction) -> Skeleton:
    """The skeleton with the user's up and forward, which go before all others."""
    given = {"up": up, "forward": forward}
    named = {k: v for k, v in given.items() if isinstance(v, str)}
    for name in named.values():
        axis_vector(name)
    vectors = {
        key: [float(v) for v in np.asarray(value, dtype=np.float64)]
        for key, value in given.items()
        if value is not None and key not in named
    }
    if not (named or vectors):
        return skeleton
    settings: dict[str, Any] = dict(skeleton.settings)
    record = settings.get("orientation")
    if isinstance(record, Mapping) or vectors:
        earlier = dict(record) if isinstance(record, Mapping) else {}
        vectors |= {key: [float(v) for v in axis_vector(name)] for key, name in named.items()}
        settings["orientation"] = earlier | vectors
    source = replace(
        skeleton.source,
        up=named.get("up", skeleton.source.up),
        forward=named.get("forward", skeleton.source.forward),
    )
    return replace(skeleton, source=source, settings=settings)


def _row_lengths(skeleton: Skeleton) -> dict[str, tuple[float, float, float]]:
    """Joint -> lengths of the rows of its axes, where one of them is not one."""
    found = {}
    for joint in skeleton:
        lengths = np.linalg.norm(joint.axes, axis=1)
        if np.any(np.abs(lengths - 1.0) > UNIT):
            found[joint.name] = (float(lengths[0]), float(lengths[1]), float(lengths[2]))
    return found


def _baked(opened: OpenedSkeleton, path: Path) -> OpenedSkeleton:
    """How the joints stand made their rest; SkeletonError where axes are no turn of a frame."""
    joints = []
    sheared, mirrored = [], []
    for joint in opened.skeleton:
        axes = np.asarray(joint.axes, dtype=np.float64)
        lengths = np.linalg.norm(axes, axis=1)
        own = opened.own_names[joint.name]
        if not np.all(lengths > 0):
            sheared.append(own)
            continue
        rows = axes / lengths[:, None]
        if np.abs(rows @ rows.T - np.eye(3)).max() > UNIT:
            sheared.append(own)
        elif np.linalg.det(rows) < 0:
            mirrored.append(own)
        else:
            exact = np.abs(axes @ axes.T - np.eye(3)).max() <= UNIT
            joints.append(joint if exact else replace(joint, axes=_at_right_angles(rows)))
    for names, what in ((sheared, "not at right angles"), (mirrored, "left-handed")):
        if names:
            raise SkeletonError(
                f"'{path}': the axes of {_listed(names)} are {what}, which no turn can be and "
                "nothing can bake: give these joints three unit rows at right angles, right-handed."
            )
    return replace(
        opened, skeleton=opened.skeleton.with_joints(tuple(joints)), turned={}, scaled={}
    )


def _at_right_angles(rows: FloatArray) -> FloatArray:
    """(3, 3) the rotation nearest to rows that are one but for rounding."""
    left, _, right = np.linalg.svd(rows)
    return left @ right


def _refuse_posed(opened: OpenedSkeleton, path: Path) -> None:
    told = []
    for joint in opened.skeleton:
        said = []
        if joint.name in opened.turned:
            said.append(f"turned {opened.turned[joint.name]:.3g} degrees")
        if joint.name in opened.scaled:
            said.append("scaled " + " ".join(f"{v:.4g}" for v in opened.scaled[joint.name]))
        if said:
            told.append(f"'{opened.own_names[joint.name]}' {' and '.join(said)}")
    if told:
        more = f", and {len(told) - NAMED} more" if len(told) > NAMED else ""
        raise SkeletonError(
            f"'{path}': {len(told)} of {len(opened.skeleton)} joints are rotated or scaled on top "
            f"of their rest ({', '.join(told[:NAMED])}{more}): give --bake to make the way they "
            "stand their rest, or set them to zero where the skeleton was made."
        )


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(f"'{name}'" for name in names[:NAMED])
    return shown + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
