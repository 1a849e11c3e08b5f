"""What a limb's profile says about where its middle joint lies, learned from bodies with joints.

A linear reading (ridge regression) of the standardised profile. How sure it is falls with how far
the profile is from those it was learned from.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from autoplace.data import data_folder

__all__ = ["ProfileReader", "load_reader"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ProfileReader:
    """A learned reading of one joint."""

    shares: FloatArray
    """(k,) shares of the limb at which its profile is read."""
    mean: FloatArray
    """(3 k,) of the profiles it was learned from."""
    scale: FloatArray
    """(3 k,) their standard deviation."""
    weight: FloatArray
    """(3 k,) change of the joint's share for one standard deviation."""
    share: float
    """Of the limb, where the joint lies for the mean profile."""
    spread: float
    """One standard deviation of the reading for profiles like those it was learned from."""
    familiar: float
    """Strangeness up to which the spread holds."""
    growth: float
    """Power of the strangeness, beyond that, with which the spread grows."""
    source: str

    def strangeness(self, values: FloatArray) -> float:
        """How far a (3 k,) profile is from those learned from, in standard deviations (root mean
        square over the profile)."""
        return float(np.sqrt(np.mean(((values - self.mean) / self.scale) ** 2)))

    def read(self, values: FloatArray) -> tuple[float, float]:
        """Share of the limb at which the joint lies, and one standard deviation of it.

        Args:
            values: (3 k,) of a `LimbProfile` read at `shares`.
        """
        share = self.share + float((values - self.mean) / self.scale @ self.weight)
        beyond = max(self.strangeness(values) / self.familiar, 1.0)
        return share, self.spread * beyond**self.growth


@cache
def load_reader(joint: str) -> ProfileReader:
    """The reader of a joint, from `templates/limb_profiles`.

    Raises:
        FileNotFoundError: no reader was learned for the joint.
    """
    path = data_folder("templates") / "limb_profiles" / f"{joint}.toml"
    record = tomllib.loads(path.read_text(encoding="utf-8"))

    def array(name: str) -> FloatArray:
        return np.array(record[name], dtype=np.float64)

    return ProfileReader(
        shares=array("shares"),
        mean=array("mean"),
        scale=array("scale"),
        weight=array("weight"),
        share=float(record["share"]),
        spread=float(record["spread"]),
        familiar=float(record["familiar"]),
        growth=float(record["growth"]),
        source=str(record["source"]),
    )
