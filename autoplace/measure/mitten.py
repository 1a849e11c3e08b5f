"""Hands whose fingers share one sheath, and hands that show no finger at all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from autoplace.measure.cell_graph import CellGraph
from autoplace.measure.finger_branches import Branch
from autoplace.measure.finger_line import FingerLine

__all__ = ["broadness", "lone_finger", "root_cells"]

FloatArray = NDArray[np.float64]

FREE = 0.40
"""The fingers of a hand, share of it (references: ANSUR II palm / hand .60)."""
ROOT_STRETCH = 0.5
"""First part of a mitten's finger that its breadth is taken from: beyond, it may be bent."""


def lone_finger(graph: CellGraph) -> Branch:
    """The outer part of a hand that does not split, as one finger."""
    tip = float(graph.distance.max())
    root = tip - FREE * (tip - _way_at_wrist(graph))
    return Branch(np.flatnonzero(graph.distance >= root), root, tip)


def _way_at_wrist(graph: CellGraph) -> float:
    """How far the wrist lies along the hand, or where the hand begins that a gap parts from it."""
    along, cell = graph.points[:, 1], graph.solid.cell
    beyond = along >= 0.0
    begins = max(cell, float(along[beyond].min()) + 0.5 * cell)
    return float(np.median(graph.distance[beyond & (along < begins)]))


def root_cells(points: FloatArray, line: FingerLine) -> FloatArray:
    """Those of a finger's cells (k, 3) that lie along its first part."""
    place = (points - line.at(0.0)) @ line.root_aim
    near = place < ROOT_STRETCH * line.length
    # a finger closed to a fist comes back beside its root
    gap = np.linalg.norm(points - line.at(0.0), axis=1)
    near &= gap < 1.2 * ROOT_STRETCH * line.length + 2.0 * line.typical_radius()
    return points[near] if near.sum() > 8 else points


def broadness(points: FloatArray, along: FloatArray) -> tuple[FloatArray, float, float]:
    """Broad direction (3,) of cells (k, 3) seen along a direction, breadth and thickness; as of an
    ellipse of the same second moments."""
    other = np.eye(3)[int(np.argmin(np.abs(along)))]
    first = np.cross(along, other)
    first /= np.linalg.norm(first)
    second = np.cross(along, first) / np.linalg.norm(along)
    values, axes = np.linalg.eigh(np.cov(np.stack([points @ first, points @ second])))
    broad = axes[0, 1] * first + axes[1, 1] * second
    return broad, float(4.0 * np.sqrt(values[1])), float(4.0 * np.sqrt(values[0]))
