"""What is each piece of a character: body, eyeball, hair, garment, prop? Told by measurement.

The order of the questions: what the user said; eyeballs; a ground plane; what lies inside the
head; then, from the outside in, whatever the figure stays whole without. The rest is the body.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import InputError
from autoplace.mesh.character import Character
from autoplace.mesh.eye_split import split_balls
from autoplace.mesh.eyeballs import Eyeball, find_eyeballs
from autoplace.mesh.islands import Islands, find_islands
from autoplace.mesh.layers import layer_grid
from autoplace.mesh.part_names import hinted_role
from autoplace.mesh.pieces import ROLES, Piece, Roles
from autoplace.mesh.spheres import IslandMeasures, measure_islands
from autoplace.mesh.verdict import Verdict
from autoplace.mesh.worn import find_worn

__all__ = ["assign_roles", "find_pieces", "matching_parts"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def find_pieces(character: Character) -> Roles:
    """The connected pieces of a character, all with the role 'unknown'.

    Seams are joined by position (unwelded triangles do not fall apart); the many tiny pieces of a
    part are put together as one.
    """
    islands = find_islands(character)
    nothing = Verdict("unknown", "not yet judged", 0.0)
    return Roles(_pieces(character, islands, [nothing] * islands.count))


def assign_roles(
    character: Character,
    working_vertices: Sequence[FloatArray],
    *,
    leave_out: Iterable[str] = (),
    forced: Mapping[str, str] | None = None,
    facing_known: bool = False,
    islands: Islands | None = None,
    aside: Mapping[int, str] | None = None,
) -> Roles:
    """The role of every piece of a character, each with a reason and a confidence.

    Args:
        character: the mesh.
        working_vertices: per part its (n, 3) vertices in the working frame (+Y up, +Z where the
            character faces, +X its left, floor y = 0, height = 1; rough values will do).
        leave_out: part names or patterns (`*`, `?`) to leave out of the measurement.
        forced: part name or pattern -> role, which overrides the measurement.
        facing_known: False when +Z is a guess: a pair of eyeballs on the other side of the head
            then tells that the character faces there, and sides are given accordingly, with a note.
        islands: the connected pieces of the character, if known already.
        aside: those of them that are known to be no part of the figure -> why.

    Raises InputError when a name fits no part, or a forced role is not one of `ROLES`.
    """
    said = _said_by_user(character, leave_out, forced or {})
    vertices = np.concatenate(list(working_vertices))
    faces = character.faces
    corners = vertices[faces]
    notes: tuple[str, ...] = ()
    aside = aside or {}
    scene = _scene(character, islands or find_islands(character), vertices, said, aside)
    eyes = find_eyeballs(scene.measures, scene.judged, corners, scene.named, scene.decree)
    if not any(eye.side for eye in eyes) and not facing_known:
        # half a turn about the vertical
        turned = vertices * [-1.0, 1.0, -1.0]
        behind = measure_islands(scene.islands, turned, faces)
        other = find_eyeballs(
            behind, scene.judged, turned[faces], scene.named, scene.decree, sunk_only=True
        )
        if other:
            eyes, corners = other, turned[faces]
            scene = replace(scene, measures=behind)
            notes = ("A pair of eyeballs lies on the side that was taken for the back.",)
    if not any(eye.side for eye in eyes):
        scene, eyes = _cut_free(character, scene, vertices, said, aside, eyes)
    islands, measures, decree = scene.islands, scene.measures, scene.decree
    home, hint_of, beside = scene.home, scene.hint_of, scene.beside
    # islands of parts that the user decided are not judged; what is body by decree still counts as
    # the figure that the others are judged against
    verdicts: list[Verdict | None] = [None] * islands.count
    for island, role in decree.items():
        verdicts[island] = Verdict(role, "named so by the user", 1.0)
    for island, why in aside.items():
        if island not in decree:
            verdicts[island] = Verdict("accessory", why, 0.9)
    given = [_given_eye(i, measures) for i, role in decree.items() if role == "eyeball"]
    for eye in eyes:
        for island in eye.islands:
            verdicts[island] = Verdict("eyeball", eye.reason, eye.confidence, eye.side)
    open_islands = [i for i in range(islands.count) if verdicts[i] is None]
    if open_islands:
        near = np.flatnonzero(~np.isin(islands.label, list(beside)))
        grid = layer_grid(corners[near], measures.face_area[near], islands.label[near])
        grid = replace(grid, face=near[grid.face])
        fixed = [i for i, role in decree.items() if role == "body"]
        found = find_worn(
            open_islands,
            fixed,
            measures,
            grid,
            corners,
            islands.label,
            hint_of,
            home,
            (*eyes, *given),
        )
        for island, verdict in found.items():
            verdicts[island] = verdict
    final = [v or Verdict("body", "part of the figure", 0.5) for v in verdicts]
    return Roles(_pieces(character, islands, final, said, measures.centroid), notes)


@dataclass(frozen=True)
class _Scene:
    """The islands with what is known of them before they are judged."""

    islands: Islands
    measures: IslandMeasures
    home: list[int]
    """Per island, the part that most of it belongs to."""
    hint_of: list[str | None]
    """Per island, the role its part's name hints at."""
    decree: dict[int, str]
    """Islands that the user decided."""
    beside: set[int]
    """Islands that are no part of the figure, and are not judged."""
    judged: IntArray
    """(m,) island of each triangle of the figure, -1 for others."""
    named: list[float]
    """Per island 1 when its part's name says eye, -1 when something else, 0 when nothing."""


def _scene(
    character: Character,
    islands: Islands,
    vertices: FloatArray,
    said: dict[int, str],
    aside: Collection[int],
) -> _Scene:
    measures = measure_islands(islands, vertices, character.faces)
    hints = [hinted_role(part.name) for part in character.parts]
    home = _home_of_islands(islands, len(hints))
    hint_of = [hints[part] for part in home]
    decided = _decided_islands(islands, said)
    decree = {i: said[home[i]] for i in np.flatnonzero(decided).tolist()}
    beside = {i for i in aside if decree.get(i) != "body"}
    standing = np.array(
        [decree.get(i, "body") == "body" and i not in beside for i in range(islands.count)]
    )
    judged = np.where(standing[islands.label], islands.label, -1)
    named = [{"eyeball": 1.0, "body": 0.0, None: 0.0}.get(hint, -1.0) for hint in hint_of]
    return _Scene(islands, measures, home, hint_of, decree, beside, judged, named)


def _cut_free(
    character: Character,
    scene: _Scene,
    vertices: FloatArray,
    said: dict[int, str],
    aside: Collection[int],
    eyes: tuple[Eyeball, ...],
) -> tuple[_Scene, tuple[Eyeball, ...]]:
    """The same, or, where a pair of eyes hung on lashes or teeth, with these cut free."""
    faces = character.faces
    cut = split_balls(
        scene.islands, vertices, faces, scene.measures, {*scene.decree, *scene.beside}
    )
    if cut is scene.islands:
        return scene, eyes
    other = _scene(character, cut, vertices, said, aside)
    found = find_eyeballs(other.measures, other.judged, vertices[faces], other.named, other.decree)
    if any(eye.side for eye in found):
        return other, found
    return scene, eyes


def matching_parts(character: Character, pattern: str) -> list[int]:
    """Indices of the parts whose name is `pattern` or fits it; raises InputError when none does."""
    exact = [i for i, part in enumerate(character.parts) if part.name == pattern]
    found = exact or [
        i for i, part in enumerate(character.parts) if fnmatchcase(part.name, pattern)
    ]
    if not found:
        names = ", ".join(f"'{part.name}'" for part in character.parts[:20])
        more = ", ..." if len(character.parts) > 20 else ""
        raise InputError(f"No part is named '{pattern}'; the parts are {names}{more}.")
    return found


def _said_by_user(
    character: Character, leave_out: Iterable[str], forced: Mapping[str, str]
) -> dict[int, str]:
    """Part index -> role, for what the user decided."""
    said: dict[int, str] = {}
    for pattern, role in forced.items():
        if role not in ROLES:
            raise InputError(f"'{role}' is not a role; the roles are {', '.join(ROLES)}.")
        said.update(dict.fromkeys(matching_parts(character, pattern), role))
    for pattern in leave_out:
        said.update(dict.fromkeys(matching_parts(character, pattern), "left_out"))
    if len(said) == len(character.parts) and set(said.values()) == {"left_out"}:
        raise InputError(
            "Every part is left out, so nothing is left to measure; keep at least one."
        )
    return said


def _given_eye(island: int, measures: IslandMeasures) -> Eyeball:
    """An island that the user named an eyeball, as if it had been found."""
    low, high = measures.low[island], measures.high[island]
    centre = 0.5 * (low + high)
    side = "left" if centre[0] > 0 else "right"
    radius = 0.5 * float((high - low).max())
    return Eyeball((island,), side, centre, radius, "named so by the user", 1.0)


def _home_of_islands(islands: Islands, part_count: int) -> list[int]:
    """The part that most of each island belongs to."""
    key = islands.label * part_count + islands.part_of_face
    pairs, counts = np.unique(key, return_counts=True)
    home = [0] * islands.count
    most = [0] * islands.count
    for pair, count in zip(pairs.tolist(), counts.tolist(), strict=True):
        island, part = divmod(pair, part_count)
        if count > most[island]:
            home[island], most[island] = part, count
    return home


def _decided_islands(islands: Islands, said: dict[int, str]) -> NDArray[np.bool_]:
    """Islands all of whose triangles belong to parts that the user decided."""
    open_face = ~np.isin(islands.part_of_face, list(said))
    undecided = np.bincount(islands.label, open_face, islands.count)
    return np.asarray(undecided == 0, dtype=bool)


def _pieces(
    character: Character,
    islands: Islands,
    verdicts: Sequence[Verdict],
    said: Mapping[int, str] | None = None,
    centroid: FloatArray | None = None,
) -> tuple[Piece, ...]:
    """One piece for every part and island that share triangles, in the parts' order; none for a
    part without triangles."""
    said = said or {}
    pieces = []
    for index, part in enumerate(character.parts):
        if not len(part.faces):
            continue  # points or lines alone are no surface
        start = int(islands.face_start[index])
        label = islands.label[start : start + len(part.faces)]
        order = np.argsort(label, kind="stable")
        cuts = np.flatnonzero(np.diff(label[order])) + 1
        for faces in np.split(order, cuts):
            island = int(label[faces[0]])
            verdict = verdicts[island]
            role, reason, confidence = verdict.role, verdict.reason, verdict.confidence
            side = verdict.side
            if index in said:
                role, confidence = said[index], 1.0
                reason = "left out by the user" if role == "left_out" else "named so by the user"
                side = None
                if role == "eyeball" and centroid is not None:
                    side = "left" if centroid[island, 0] > 0 else "right"
            pieces.append(Piece(part.name, index, faces, role, side, reason, confidence))
    return tuple(pieces)
