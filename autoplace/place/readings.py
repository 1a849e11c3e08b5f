"""What the measured shape of a limb or trunk says about the joints in it, learned from figures.

People and invented figures are two families: in like shapes their joints lie elsewhere, so each is
learned by itself, and a shape is read by both, as far as each knows such shapes. A shape is
described by how far it is along the main ways in which known ones differ (principal components),
and a joint is read from these by a linear regression. How sure the reading is falls with how far
the shape is from known ones, in a way that they differ or in any other.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from autoplace.data import data_folder
from autoplace.place.evidence import CENTRELINE_SPREAD, OFF_CENTRELINE, Cue, cue

__all__ = ["UNREAD", "KnownShapes", "Reader", "Reading", "Shape", "known_shapes", "read_joint"]

FloatArray = NDArray[np.float64]

STRANGE = 4.0
"""A shape stranger than this is not read: boots, wide trousers, huge heads (common practice, no
source)."""
FADING = 3.0
"""From this strangeness on a shape is read less and less, so that nothing jumps where it is read no
more (common practice, no source)."""
KINDS_OF_FIGURES = ("", "_invented")
"""Endings of the files of a kind of shape, as met on people and on invented figures; of some kinds
there are only people's."""
GROWTH = 2.0
"""Power of the strangeness with which a reading's spread grows (own synthetic characters: 2 to 4
serve them alike; the least of these trusts readings of very thin and very fat people most)."""
FARTHEST = 3.0
"""Standard deviations up to which a single value is believed: one that lies farther off must not
pull the joint with it (common practice, no source)."""
LEAST_SPREAD = 0.002
"""No coordinate is surer than this, in the shape's own unit: what is learned from bodies that are
the same on both sides knows nothing of those that are not (common practice, no source)."""
DEFERENCE = 2.0
"""How much less sure a template is of a shape that a reading knows well: the reading was learned
from whole bodies, of which the template's shares are but a mean (common practice, no source)."""

LEAST_DOUBT = 0.05
"""No rule is made less sure than by this, so that the sum of beliefs stays sound."""


class Shape(Protocol):
    """A measured shape with coordinates of its own for the joints in it."""

    @property
    def values(self) -> FloatArray:
        """(n,) free of size, place and side."""

    def point(self, coordinates: FloatArray) -> FloatArray:
        """(3,) working frame."""

    def coordinates(self, point: FloatArray) -> FloatArray:
        """(3,) of a point in the working frame."""

    def axes(self, coordinates: FloatArray) -> FloatArray:
        """(3, 3) columns: how the point moves with each coordinate."""


@dataclass(frozen=True)
class Reader:
    """How one joint is read from the components of a shape."""

    weight: FloatArray
    """(3, k) change of the joint's coordinates for one unit of each component."""
    middle: FloatArray
    """(3,) coordinates of the joint in the mean shape."""
    spread: FloatArray
    """(3,) one standard deviation of the reading, for shapes like the known ones."""


@dataclass(frozen=True)
class KnownShapes:
    """One kind of shape as it was met on known bodies."""

    mean: FloatArray
    """(n,) of the values."""
    scale: FloatArray
    """(n,) their standard deviation."""
    basis: FloatArray
    """(k, n) orthonormal rows: the main ways in which the standardised values differ together."""
    deviation: FloatArray
    """(k,) standard deviation along these."""
    rest: float
    """What usually remains of a standardised shape beside the components, root mean square over
    its values."""
    reach: float
    """How far a shape usually is along the components, in standard deviations, root mean square."""
    joints: Mapping[str, Reader]
    source: str

    def components(self, values: FloatArray) -> FloatArray:
        """(..., k) of shapes (..., n)."""
        standard = np.clip((values - self.mean) / self.scale, -FARTHEST, FARTHEST)
        return np.asarray(standard @ self.basis.T)

    def strangeness(self, values: FloatArray) -> FloatArray:
        """(...) how unlike the known ones shapes (..., n) are; 1 for a usual one."""
        standard = (values - self.mean) / self.scale
        along = standard @ self.basis.T
        rest = np.sqrt(np.mean((standard - along @ self.basis) ** 2, axis=-1))
        reach = np.sqrt(np.mean((along / self.deviation) ** 2, axis=-1))
        return np.asarray(np.maximum(rest / self.rest, reach / self.reach))

    def read(self, joint: str, values: FloatArray) -> tuple[FloatArray, FloatArray, float]:
        """Coordinates (3,) of a joint in a shape (n,), one standard deviation of each, and how
        well such shapes are known, 0 to 1."""
        reader = self.joints[joint]
        strange = max(float(self.strangeness(values)), 1.0)
        fades = np.clip((STRANGE - strange) / (STRANGE - FADING), 1e-6, 1.0)
        knows = float(strange**-GROWTH * fades)
        at = reader.middle + reader.weight @ self.components(values)
        return at, np.maximum(reader.spread, LEAST_SPREAD) / knows, knows


@dataclass(frozen=True)
class Reading:
    """What a shape says about a joint."""

    cue: Cue
    knows: float
    """How well such shapes are known, 0 to 1."""

    @property
    def defer(self) -> float:
        """What the spread of a template's own belief is multiplied by beside this reading."""
        return 1.0 + DEFERENCE * self.knows

    @property
    def doubt(self) -> float:
        """What the spread of a bare rule's belief is multiplied by beside this reading, which has
        weighed what the rule goes by already."""
        return 1.0 / max(1.0 - self.knows, LEAST_DOUBT)

    def doubted(self, spread: FloatArray) -> Cue:
        """The same with spread (3,) added along the working axes, where publications contradict
        the bodies learned from."""
        return replace(self.cue, covariance=self.cue.covariance + np.diag(spread**2))

    @property
    def beside(self) -> float:
        """How far off the middle of its limb a joint may lie for all that a rule or template says
        that knows no more than the limb's line, fraction of height."""
        return CENTRELINE_SPREAD + self.knows * (OFF_CENTRELINE - CENTRELINE_SPREAD)


UNREAD = Reading(cue("none", np.zeros(3), 1.0, "not read"), 0.0)
"""Stands in where there is nothing to read: it multiplies by one."""


def read_joint(kind: str, joint: str, shape: Shape | None, note: str) -> Reading | None:
    """Read a joint from a shape.

    Args:
        kind: of the shape, the name of a file in `templates/readings`; one of the same name that
            ends in "_invented" is read as well.
        joint: its name without the side. shape: the measured shape, if there is one.
        note: what to tell about it.

    Returns:
        The reading, or None for no shape or one too strange to read.
    """
    if shape is None:
        return None
    found = [
        known.read(joint, shape.values)
        for known in all_known(kind)
        if float(known.strangeness(shape.values)) < STRANGE
    ]
    if not found:
        return None
    knows = max(knows for _, _, knows in found)
    places = np.array([at for at, _, _ in found])
    # people and invented figures have other joints in like shapes: those who know such shapes
    # better are believed by so much more, beside having the smaller spread
    weights = np.array([spread**-2.0 * own / knows for _, spread, own in found])
    total = weights.sum(axis=0)
    at = (weights * places).sum(axis=0) / total
    excess = (weights * (places - at) ** 2).sum(axis=0) / max(len(found) - 1, 1)
    spread = np.sqrt(np.maximum(excess, 1.0) / total)
    scaled = shape.axes(at) * spread
    return Reading(Cue("learned_shape", shape.point(at), scaled @ scaled.T, note), knows)


@cache
def all_known(kind: str) -> tuple[KnownShapes, ...]:
    """The known shapes of a kind, of people and, where they were learned from, invented figures."""
    folder = data_folder("templates") / "readings"
    kinds = [kind + ending for ending in KINDS_OF_FIGURES]
    return tuple(known_shapes(kind) for kind in kinds if (folder / f"{kind}.json").is_file())


@cache
def known_shapes(kind: str) -> KnownShapes:
    """The known shapes of a kind, from `templates/readings`.

    Raises:
        FileNotFoundError: nothing was learned of this kind.
    """
    path = data_folder("templates") / "readings" / f"{kind}.json"
    record = json.loads(path.read_text(encoding="utf-8"))

    def array(numbers: object) -> FloatArray:
        return np.array(numbers, dtype=np.float64)

    return KnownShapes(
        mean=array(record["mean"]),
        scale=array(record["scale"]),
        basis=array(record["basis"]),
        deviation=array(record["deviation"]),
        rest=float(record["rest"]),
        reach=float(record["reach"]),
        joints={
            joint: Reader(array(told["weight"]), array(told["middle"]), array(told["spread"]))
            for joint, told in record["joints"].items()
        },
        source=str(record["source"]),
    )
