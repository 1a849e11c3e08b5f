"""What all checks look at: a skeleton in the character's own directions, measured once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from autoplace.skeleton.aims import Bones, find_bones
from autoplace.skeleton.bend_axes import BendAxes, find_bend_axes
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.convention_guess import GuessedConvention, guess_convention
from autoplace.skeleton.model import Finding, Skeleton
from autoplace.skeleton.names import mirror_name
from autoplace.skeleton.orient import Direction, body_directions, in_body_directions
from autoplace.skeleton.structure import parent_indices
from autoplace.skeleton.symmetry_plane import middle_along_left

__all__ = ["Eyeball", "Figure", "Limit", "finding", "percent", "prepare"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Limit:
    """A bound of a check, with where it comes from."""

    value: float
    unit: str
    """'deg', 'height' (a fraction of the character's), 'radius' (of the eyeball) or '' for a ratio
    or a number."""
    source: str

    def __str__(self) -> str:
        """The bound in words, for a message."""
        if self.unit == "height":
            return f"{percent(self.value)} ({self.source})"
        if self.unit == "radius":
            return f"{100 * self.value:.2g} % of the eyeball's radius ({self.source})"
        unit = {"": "", "deg": " degree" if self.value == 1 else " degrees"}[self.unit]
        return f"{self.value:g}{unit} ({self.source})"


@dataclass(frozen=True)
class Eyeball:
    """An eyeball as fitted in the mesh; lengths in the skeleton's units."""

    center: FloatArray
    """(3,) in the skeleton's own frame."""
    radius: float
    spread: float
    """One standard deviation of the centre."""


@dataclass(frozen=True)
class Figure:
    """A sound tree of joints with positions and axes along the character's directions.

    Frame: +X the character's left, +Y up, +Z forward; origin and units of the skeleton.
    """

    skeleton: Skeleton
    """Turned into this frame."""
    at: FloatArray
    """(n, 3) positions."""
    axes: FloatArray
    """(n, 3, 3) axes."""
    parents: IntArray
    index: dict[str, int]
    bones: Bones
    bends: BendAxes
    height: float
    convention: Convention | None
    """None when nothing says how the skeleton was oriented, and its axes do not show it."""
    middle: float
    """Where the symmetry plane stands along X."""
    depth_at: Callable[[FloatArray], FloatArray] | None
    """Depth under the surface as a fraction of height, of points (n, 3) in the skeleton's frame."""
    own_positions: FloatArray
    """(n, 3) positions in the skeleton's own frame."""
    symmetry_residual: float | None
    floor: float | None
    """Where the floor is along Y; None when unknown."""
    whole_residual: float | None = None
    """As `symmetry_residual`, of nearly all of the mesh, limbs included."""
    mesh_middle: float | None = None
    """Where the mesh's symmetry plane stands along X; None without a mesh."""
    eyeballs: Mapping[str, Eyeball] | None = None
    """The eyeballs of the mesh by the names of their joints; None without a mesh."""
    guessed: GuessedConvention | None = None
    """Set when `convention` was told from the axes."""
    turned: Mapping[str, float] = field(default_factory=dict)
    """Joint -> degrees that the file turns it by on top of its rest."""
    scaled: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    """Joint -> scales that the file sets on it."""

    def place(self, name: str) -> FloatArray:
        """(3,) position of a joint."""
        return np.asarray(self.at[self.index[name]], dtype=np.float64)

    def pairs(self) -> list[tuple[int, int]]:
        """Indices of the left and right joint of every pair that is whole."""
        return [
            (i, self.index[mirror_name(name)])
            for name, i in self.index.items()
            if name.startswith("left_") and mirror_name(name) in self.index
        ]

    def mirrored(self, point: FloatArray) -> FloatArray:
        """(3,) the point's image in the symmetry plane."""
        return np.array([2.0 * self.middle - point[0], point[1], point[2]])


def prepare(
    skeleton: Skeleton,
    *,
    convention: Convention | None = None,
    up: Direction = None,
    forward: Direction = None,
    depth_at: Callable[[FloatArray], FloatArray] | None = None,
    symmetry_residual: float | None = None,
    floor: float | None = None,
    whole_residual: float | None = None,
    mesh_middle: float | None = None,
    eyeballs: Mapping[str, Eyeball] | None = None,
    turned: Mapping[str, float] | None = None,
    scaled: Mapping[str, tuple[float, float, float]] | None = None,
) -> Figure:
    """The figure of a skeleton whose tree is sound; raises SkeletonError as `orient` does.

    Without a `convention` it is told from the axes, where most of them follow one.
    """
    parents = parent_indices(skeleton)
    body = body_directions(skeleton, forward=forward, up=up)
    local = in_body_directions(skeleton, body)
    at = local.positions()
    bones = find_bones(local, parents, at, convention.aims if convention else {})
    with np.errstate(invalid="ignore", over="ignore"):  # axes that are no numbers are told later
        axes = np.array([np.asarray(j.axes, dtype=np.float64) for j in skeleton]) @ body.T
    index = {name: i for i, name in enumerate(skeleton.names)}
    height = skeleton.source.height
    if not (np.isfinite(height) and height > 0):
        height = float(np.ptp(at[:, 1])) or 1.0
    bends = find_bend_axes(local, parents, at, bones)
    guessed = None
    if convention is None:
        guessed = guess_convention(skeleton.names, axes, bones.direction, bends.axis)
        convention = None if guessed is None else guessed.convention
    return Figure(
        skeleton=local,
        at=at,
        axes=axes,
        parents=parents,
        index=index,
        bones=bones,
        bends=bends,
        height=height,
        convention=convention,
        middle=middle_along_left(dict(zip(index, at[:, 0].tolist(), strict=True)), height),
        depth_at=depth_at,
        own_positions=skeleton.positions(),
        symmetry_residual=symmetry_residual,
        floor=floor,
        whole_residual=whole_residual,
        mesh_middle=mesh_middle,
        eyeballs=eyeballs,
        guessed=guessed,
        turned=turned or {},
        scaled=scaled or {},
    )


def finding(
    check: str,
    joint: str | None,
    level: str,
    message: str,
    fix: str,
    measured: float | None = None,
    limit: Limit | None = None,
) -> Finding:
    """A finding; here only so that the checks read alike."""
    if limit is None:
        return Finding(check, joint, level, message, fix, measured)
    return Finding(
        check, joint, level, message, fix, measured, limit.value, limit.unit, limit.source
    )


def percent(fraction: float) -> str:
    """A fraction of the height in words: '0.42 % of the height'."""
    value = 100 * fraction
    return f"{value:.2g} % of the height" if value < 10 else f"{value:.0f} % of the height"
