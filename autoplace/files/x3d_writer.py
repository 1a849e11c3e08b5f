"""A skeleton, with its character if there is one, as X3D 4 (ISO/IEC 19775-1) in XML: an HAnim
humanoid (ISO/IEC 19774-1:2019).

HAnim stands on +Y, faces +Z and counts in metres, so the figure is turned and scaled to that. A
joint is its centre, in the humanoid's space, and is unturned at rest: the format has no place for
axes of its own. Unsaid, joints have the standard's names. Tip helpers are sites of the segment
that they end. The parts share one list of points, the skin's, and every joint lists which of
these it moves and by which weight.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import OutputError
from autoplace.files.bound_mesh import BoundMesh, bind_character
from autoplace.files.export_notes import lost_axes, lost_judgement, names_or_own, unit_note
from autoplace.files.looks import NO_MATERIALS, Looks, has_materials
from autoplace.files.marks import MARK
from autoplace.files.read_looks import read_looks
from autoplace.files.texture_folder import texture_folder, write_with_textures
from autoplace.files.units import metres_per_unit_of
from autoplace.files.x3d_looks import X3dShapes
from autoplace.files.x3d_text import numbers, rows
from autoplace.mesh.character import Character
from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.name_tables import load_names, named_by_table
from autoplace.skeleton.names import SIDES, is_tip
from autoplace.skeleton.orient import body_directions
from autoplace.skeleton.structure import parent_indices

__all__ = ["write_x3d"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HUMANOID = "hanim"
"""Name of the humanoid, and what the ids of its nodes begin with, as in the standard's examples."""
ROOT = "humanoid_root"
SKIN = f"{HUMANOID}_skin_points"
HANGING = 0.94
"""Cosine of 20 degrees, within which an arm hangs; common practice, no source."""
FORBIDDEN = re.compile(r"[^\w.\-]")
"""In names: XML's name tokens have no such sign, but for a colon, which parts namespaces."""
HEAD = f"""<?xml version="1.0" encoding="UTF-8"?>
<X3D profile="Immersive" version="4.0">
 <head>
  <component name="HAnim" level="1"/>
  <meta name="generator" content="{MARK}"/>
 </head>
 <Scene>
"""
TAIL = " </Scene>\n</X3D>\n"


def write_x3d(
    skeleton: Skeleton,
    path: str | Path,
    character: Character | None = None,
    *,
    names: Sequence[str] | None = None,
    metres_per_unit: float | None = None,
) -> tuple[str, ...]:
    """Writes an .x3d file with its textures, all or nothing.

    `names` are what the joints, in order, are called in the file; unsaid, by the standard. Gives
    notes: the unit that was taken, what the standard does not name, and what it cannot carry.

    Raises SkeletonError for a broken tree; OutputError for a name that X3D forbids, when the mesh
    has no triangles, when a file of somebody else's lies in the folder for textures, and when the
    file cannot be written.
    """
    path = Path(path)
    parent_indices(skeleton)
    unnamed: tuple[str, ...] = ()
    if names is None:
        names, unnamed = named_by_table(skeleton, skeleton.names, load_names("hanim"))
    given = names_or_own(skeleton, names)
    scale = metres_per_unit or metres_per_unit_of(skeleton.source.height)
    mesh = None if character is None else bind_character(character, skeleton)
    looks = None if character is None else read_looks(character)
    shapes = X3dShapes(HUMANOID, SKIN, texture_folder(path).name)
    text = _text(skeleton, given, scale, mesh, looks, shapes)
    write_with_textures(path, text.encode("utf-8"), shapes.files)

    notes = [unit_note(skeleton.source.height, scale, guessed=metres_per_unit is None), *unnamed]
    roots = [n for n, joint in zip(given, skeleton, strict=True) if joint.parent is None]
    if roots != [ROOT]:
        shown = ", ".join(f"'{name}'" for name in roots[:3])
        notes.append(f"HAnim wants one root, '{ROOT}'; this skeleton has {shown}.")
    notes += _rest_note(skeleton)
    notes += [*lost_axes("HAnim", skeleton), *lost_judgement("HAnim", skeleton)]
    if mesh is not None:
        notes += () if looks is None else looks.notes
        notes += shapes.lost if has_materials(looks) else (NO_MATERIALS,)
        if shapes.files:
            notes.append(f"Textures are in the folder '{texture_folder(path).name}' beside it.")
        notes += mesh.notes
    return tuple(notes)


def _text(
    skeleton: Skeleton,
    names: Sequence[str],
    metres_per_unit: float,
    mesh: BoundMesh | None,
    looks: Looks | None,
    shapes: X3dShapes,
) -> str:
    """The text of the file; `mesh` is bound to the skeleton's joints. Raises as `write_x3d`."""
    for name in names:
        if FORBIDDEN.search(name):
            raise OutputError(
                f"The joint '{name}' cannot be written as X3D, whose names are letters, digits, "
                "underscores, dots and hyphens: give it another name, or rename it by a table "
                "(--names)."
            )
    turn = body_directions(skeleton) * metres_per_unit
    figure = _Figure(skeleton, names, skeleton.positions() @ turn.T)
    height = f'"height={skeleton.source.height * metres_per_unit:.4g}"'
    lines = [
        f'  <HAnimHumanoid DEF="{HUMANOID}" name="{HUMANOID}" version="2.0" '
        f"info={quoteattr(height)}>"
    ]
    weights: list[str] | None = None
    if mesh is not None:
        points = mesh.vertices @ turn.T
        lines.append(
            f'   <Coordinate DEF="{SKIN}" containerField="skinCoord" point="{rows(points)}"/>'
        )
        weights = figure.weights(mesh)
    lines += figure.tree(weights)
    if mesh is not None:
        for index, part in enumerate(mesh.parts):
            lines += shapes.part(part.name, part.faces + mesh.starts[index], looks, index)
    lines += [
        f'   <{kind} USE="{HUMANOID}_{name}" containerField="{where}"/>'
        for kind, where, listed in figure.lists()
        for name in listed
    ]
    return HEAD + "\n".join([*lines, "  </HAnimHumanoid>"]) + "\n" + TAIL


class _Figure:
    """The joints, the segments that they move, and the sites on these."""

    def __init__(self, skeleton: Skeleton, names: Sequence[str], at: FloatArray) -> None:
        self.names = names
        self.at = at
        self.parents = parent_indices(skeleton)
        has_children = set(self.parents.tolist())
        self.site = [
            is_tip(joint.name) and joint.parent is not None and i not in has_children
            for i, joint in enumerate(skeleton)
        ]
        self.children: list[list[int]] = [[] for _ in names]
        for index, above in enumerate(self.parents):
            if above >= 0:
                self.children[above].append(index)
        known = load_names("hanim").segments
        taken = set(names)
        self.segments: dict[int, str] = {}
        for i, name in enumerate(names):
            ends = any(self.site[child] for child in self.children[i])
            segment = known.get(name) or (f"{name}_segment" if ends else None)
            if segment is not None and not self.site[i] and segment not in taken:
                self.segments[i] = segment
                taken.add(segment)

    def tree(self, weights: Sequence[str] | None) -> list[str]:
        """The lines of all joints, each within its parent, with `weights` in its attributes."""
        lines: list[str] = []
        waiting = [(i, 3) for i in reversed(range(len(self.names))) if self.parents[i] < 0]
        while waiting:
            index, depth = waiting.pop()
            pad = " " * depth
            if index < 0:
                lines.append(f"{pad}</HAnimJoint>")
                continue
            name = self.names[index]
            where = "skeleton" if self.parents[index] < 0 else "children"
            moves = "" if weights is None else weights[index]
            lines.append(
                f'{pad}<HAnimJoint DEF="{HUMANOID}_{name}" name="{name}" '
                f'containerField="{where}" center="{numbers(self.at[index])}"{moves}>'
            )
            lines += self._segment(index, pad + " ")
            waiting.append((-1, depth))
            waiting += [(c, depth + 1) for c in reversed(self.children[index]) if not self.site[c]]
        return lines

    def _segment(self, index: int, pad: str) -> list[str]:
        """The lines of what a joint moves; every tip below a joint has a segment to be on."""
        if index not in self.segments:
            return []
        segment = self.segments[index]
        head = f'{pad}<HAnimSegment DEF="{HUMANOID}_{segment}" name="{segment}"'
        sites = [
            f'{pad} <HAnimSite DEF="{HUMANOID}_{self.names[c]}" name="{self.names[c]}" '
            f'translation="{numbers(self.at[c])}"/>'
            for c in self.children[index]
            if self.site[c]
        ]
        return [f"{head}>", *sites, f"{pad}</HAnimSegment>"] if sites else [f"{head}/>"]

    def lists(self) -> list[tuple[str, str, list[str]]]:
        """Node, field and names of what the humanoid lists."""
        joints = [n for n, site in zip(self.names, self.site, strict=True) if not site]
        sites = [n for n, site in zip(self.names, self.site, strict=True) if site]
        return [
            ("HAnimJoint", "joints", joints),
            ("HAnimSegment", "segments", list(self.segments.values())),
            ("HAnimSite", "sites", sites),
        ]

    def weights(self, mesh: BoundMesh) -> list[str]:
        """Which points each joint moves and how much, as attributes; a site's go to its joint."""
        binding = mesh.binding
        to = np.where(self.site, self.parents, np.arange(len(self.names)))
        joint = to[binding.joints].reshape(-1)
        point = np.repeat(np.arange(len(binding.joints)), binding.joints.shape[1])
        share = binding.weights.reshape(-1)
        told = []
        for index in range(len(self.names)):
            mine = (joint == index) & (share > 0)
            points, place = np.unique(point[mine], return_inverse=True)
            sums = np.bincount(place, share[mine], minlength=len(points))
            told.append(
                f' skinCoordIndex="{" ".join(map(str, points.tolist()))}"'
                f' skinCoordWeight="{numbers(sums)}"'
                if len(points)
                else ""
            )
        return told


def _rest_note(skeleton: Skeleton) -> list[str]:
    """A note if the arms do not hang, as they do on the standard's figure at rest."""
    body = body_directions(skeleton)
    for side in SIDES:
        if f"{side}_shoulder" in skeleton and f"{side}_elbow" in skeleton:
            arm = body @ (
                skeleton[f"{side}_elbow"].position - skeleton[f"{side}_shoulder"].position
            )
            if -arm[1] < HANGING * float(np.linalg.norm(arm)):
                return [
                    "HAnim's figure rests with its arms at its sides, so motions made for it turn "
                    "the arms of this one too far."
                ]
    return []
