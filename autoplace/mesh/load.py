"""Reads a mesh file into a `Character`: named parts of triangles, nothing merged or moved.

OBJ and PLY go through the project's own thin readers (`mesh.obj` and `mesh.ply` say why); glTF and
STL go through trimesh with its clean-up switched off.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from autoplace.errors import BadGeometry, FileMissing, NotAMesh
from autoplace.mesh.character import Character, Part
from autoplace.mesh.gltf_claims import refuse_false_claims
from autoplace.mesh.health import sound_parts
from autoplace.mesh.obj import read_obj
from autoplace.mesh.ply import read_ply

__all__ = ["character_from_arrays", "gltf_nodes", "load"]

FORMATS = (".obj", ".ply", ".glb", ".gltf", ".stl")
"""File endings that `load` reads."""


def load(path: str | Path) -> Character:
    """Read a character from an OBJ, PLY, GLB, glTF or STL file.

    Parts are the file's objects and groups (OBJ), scene nodes with their transforms applied
    (glTF), or the whole file (PLY, STL). Polygons become fans of triangles. Faces that repeat a
    vertex or have no area are left out, with a sentence in `Character.notes`.

    Raises FileMissing, NotAMesh or BadGeometry, each with one sentence that says what to do.
    """
    path = Path(path)
    data = _read_bytes(path)
    ending = path.suffix.lower()
    _check_kind(path, ending, data)
    if ending == ".obj":
        parts, notes = _parts_of_obj(data, path)
    elif ending == ".ply":
        parts, notes = _parts_of_ply(data, path), []
    elif ending == ".stl":
        parts, notes = _parts_of_stl(data, path), []
    else:
        refuse_false_claims(data, path)
        parts, notes = _parts_of_gltf(path), []
    sound, dropped = sound_parts(_unique_names(parts), path.name)
    digest = hashlib.sha256(data).hexdigest()
    return Character(path.stem, sound, path, digest, (*notes, *dropped))


def character_from_arrays(
    parts: Mapping[str, tuple[ArrayLike, ArrayLike]], name: str = "character"
) -> Character:
    """A character from arrays: part name -> (vertices (n, 3), triangles (m, 3)).

    Checked like a file; raises BadGeometry.
    """
    built = []
    for part_name, (vertices, faces) in parts.items():
        points = np.array(vertices, dtype=np.float64)
        triangles = np.array(faces, dtype=np.int64)
        if (
            points.ndim != 2
            or points.shape[1] != 3
            or triangles.ndim != 2
            or triangles.shape[1] != 3
        ):
            raise BadGeometry(
                f"'{name}', part '{part_name}': vertices must be (n, 3) and triangles (m, 3), not "
                f"{points.shape} and {triangles.shape}."
            )
        built.append(
            Part(part_name, points, triangles, np.arange(len(points)), np.arange(len(triangles)))
        )
    sound, notes = sound_parts(built, name)
    return Character(name, sound, notes=notes)


def _read_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise FileMissing(f"'{path}' is a folder; name the mesh file inside it.")
    if not path.exists():
        raise FileMissing(f"There is no file '{path}'; check the spelling and the folder.")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileMissing(
            f"'{path}' cannot be opened ({error.strerror}); check its permissions."
        ) from error
    if not data[:65536].strip() and not data.strip():
        raise NotAMesh(f"'{path.name}' is empty; export the character again.")
    return data


def _check_kind(path: Path, ending: str, data: bytes) -> None:
    """Raise NotAMesh when the ending is unknown, or plainly not what the file holds."""
    listed = ", ".join(FORMATS[:-1]) + f" or {FORMATS[-1]}"
    if ending not in FORMATS:
        raise NotAMesh(
            f"'{path.name}' does not end in {listed}; export the character as one of these."
        )
    found = None
    if data[:4] == b"ply\n" or data[:5] == b"ply\r\n":
        found = ".ply"
    elif data[:4] == b"glTF":
        found = ".glb"
    elif data[:6] == b"solid " and b"facet" in data[:4096]:
        found = ".stl"
    if found is not None and found != ending:
        raise NotAMesh(
            f"'{path.name}' holds {found[1:].upper()} data; rename it to end in {found}."
        )
    if ending in (".ply", ".glb") and found is None:
        raise NotAMesh(
            f"'{path.name}' does not begin as a {ending[1:].upper()} file does; "
            f"export the character again as {listed}."
        )
    if ending == ".obj" and b"\0" in data[:4096]:
        raise NotAMesh(
            f"'{path.name}' holds binary data, not OBJ text; export it again as {listed}."
        )


def _parts_of_obj(data: bytes, path: Path) -> tuple[list[Part], list[str]]:
    content = read_obj(data, path.name)
    polygon_ok = content.sizes >= 3
    notes = []
    if not polygon_ok.all():
        notes.append(f"Passed over {int((~polygon_ok).sum())} faces with fewer than three corners.")
    faces, source_faces = _fans(content.corners, content.sizes)
    part_of_triangle = content.part_of_face[source_faces]
    parts = []
    for index, name in enumerate(content.part_names):
        mine = (
            slice(None)
            if len(content.part_names) == 1
            else np.flatnonzero(part_of_triangle == index)
        )
        part = _part_of_shared(name or path.stem, content.vertices, faces[mine], source_faces[mine])
        if len(part.faces):
            parts.append(part)
    used = np.zeros(len(content.vertices), dtype=bool)
    for part in parts:
        used[part.source_vertices] = True
    loose = len(used) - int(np.count_nonzero(used))
    if loose and parts:
        notes.append(f"Passed over {loose} vertices that no face uses.")
    return parts, notes


def _part_of_shared(
    name: str,
    vertices: NDArray[np.float64],
    faces: NDArray[np.int64],
    source_faces: NDArray[np.int64],
) -> Part:
    """A part with only those of the shared `vertices` that its faces use, in file order."""
    if len(faces) < len(vertices) // 20:  # many small parts: sort only what this one uses
        source_vertices, local = np.unique(faces, return_inverse=True)
        return Part(
            name, vertices[source_vertices], local.reshape(-1, 3), source_vertices, source_faces
        )
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    source_vertices = np.flatnonzero(used)
    number = np.cumsum(used) - 1
    return Part(name, vertices[source_vertices], number[faces], source_vertices, source_faces)


def _fans(
    corners: NDArray[np.int64], sizes: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles (m, 3) of all polygons, and (m,) the polygon each was cut from.

    A fan from the first corner also covers ground outside a polygon that is not convex, but as
    often one way round as the other, so signed areas, crossings and winding numbers stay right.
    """
    if np.all(sizes == 3):
        return corners.reshape(-1, 3), np.arange(len(sizes))
    count = np.maximum(sizes - 2, 0)
    polygon = np.repeat(np.arange(len(sizes)), count)
    starts = np.concatenate(([0], np.cumsum(sizes)[:-1])) if len(sizes) else sizes
    step = np.arange(len(polygon)) - np.repeat(np.cumsum(count) - count, count)
    base = starts[polygon]
    triangles = np.stack(
        [corners[base], corners[base + step + 1], corners[base + step + 2]], axis=1
    )
    return triangles, polygon


def _parts_of_ply(data: bytes, path: Path) -> list[Part]:
    content = read_ply(data, path.name)
    faces, source_faces = _fans(content.corners, content.sizes)
    everything = np.arange(len(content.vertices))
    return [Part(path.stem, content.vertices, faces, everything, source_faces)]


def _parts_of_stl(data: bytes, path: Path) -> list[Part]:
    binary = len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")
    if data[:6] == b"solid " and not binary:
        # a name in an old encoding does not matter, but would keep the text from being read
        data = data.decode("utf-8", errors="replace").encode("utf-8")
    mesh = _through_trimesh(data, path, "stl")
    if len(mesh.faces) == 0:
        raise NotAMesh(f"'{path.name}' holds no triangles, so it is no STL mesh; export it again.")
    return [_plain_part(path.stem, mesh)]


def _plain_part(name: str, mesh: Any) -> Part:
    vertices = np.array(mesh.vertices, dtype=np.float64).reshape(-1, 3)
    faces = np.array(mesh.faces, dtype=np.int64).reshape(-1, 3)
    return Part(name, vertices, faces, np.arange(len(vertices)), np.arange(len(faces)))


def _parts_of_gltf(path: Path) -> list[Part]:
    """One part per scene node that holds a mesh, moved to where the node puts it."""
    try:
        parts: list[Part] = []
        vertex_start = face_start = 0
        for node, _, transform, mesh in gltf_nodes(path):
            vertices = np.asarray(mesh.vertices, dtype=np.float64)
            faces = np.array(mesh.faces, dtype=np.int64)
            vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
            if np.linalg.det(transform[:3, :3]) < 0:
                faces = faces[:, ::-1]  # a mirrored node would turn its faces inside out
            source_vertices = np.arange(len(vertices)) + vertex_start
            source_faces = np.arange(len(faces)) + face_start
            parts.append(Part(node, vertices, faces, source_vertices, source_faces))
            vertex_start += len(vertices)
            face_start += len(faces)
    except Exception as error:
        raise _unreadable(path, error) from error
    return parts


def gltf_nodes(path: Path) -> Iterator[tuple[str, int, NDArray[np.float64], Any]]:
    """The nodes of a glTF file that hold triangles, in the order in which they become parts.

    Yields for each its name, the number of its shape among all primitives that the file's meshes
    draw as points, lines or triangles, its (4, 4) place in the world, and the trimesh mesh.
    """
    import trimesh

    scene = trimesh.load_scene(path, process=False, skip_materials=True)
    # the loader lists nodes back to front; meshes stand in the file's order
    order = {name: i for i, name in enumerate(scene.geometry)}
    for node in sorted(
        scene.graph.nodes_geometry, key=lambda n: (order[scene.graph[n][1]], str(n))
    ):
        transform, geometry = scene.graph[node]
        mesh = scene.geometry[geometry]
        if isinstance(mesh, trimesh.Trimesh):
            yield str(node), order[geometry], transform, mesh


def _through_trimesh(data: bytes, path: Path, kind: str) -> Any:
    """One trimesh mesh from the file's bytes, with its clean-up off."""
    import trimesh

    try:
        mesh = trimesh.load(io.BytesIO(data), file_type=kind, process=False)
        if isinstance(mesh, trimesh.Scene):
            mesh = mesh.to_mesh()
    except Exception as error:
        raise _unreadable(path, error) from error
    if not isinstance(mesh, trimesh.Trimesh):
        raise BadGeometry(f"'{path.name}' has points but no faces; export the character's surface.")
    return mesh


def _unreadable(path: Path, error: Exception) -> NotAMesh:
    # whatever a damaged file trips in the general reader, the user's remedy is the same
    told = " ".join(str(error).split())
    if " " not in told or not isinstance(error, ValueError):  # a bare key, or the reader's own slip
        told = ""
    told = told if len(told) <= 80 else told[:77] + "..."
    return NotAMesh(
        f"'{path.name}' cannot be read as {path.suffix[1:].upper()}"
        f"{f' ({told})' if told else ''}; export it again."
    )


def _unique_names(parts: Iterable[Part]) -> list[Part]:
    """The same parts; a name that came before gets '_2', '_3', ..."""
    taken: set[str] = set()
    renamed = []
    for part in parts:
        name, count = part.name, 1
        while name in taken:
            count += 1
            name = f"{part.name}_{count}"
        taken.add(name)
        renamed.append(part if name == part.name else replace(part, name=name))
    return renamed
