"""Writes skeletons as other programs might: glTF, OpenUSD and BVH, posed or under other frames."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pygltflib
from scipy.spatial.transform import Rotation

from autoplace.skeleton.model import Skeleton
from autoplace.skeleton.structure import parent_indices

Matrix = np.ndarray


def frames(skeleton: Skeleton) -> Matrix:
    """(n, 4, 4) rest frames of the joints, for column vectors."""
    matrices = np.tile(np.eye(4), (len(skeleton), 1, 1))
    matrices[:, :3, :3] = [np.asarray(j.axes).T for j in skeleton]
    matrices[:, :3, 3] = skeleton.positions()
    return matrices


def locals_of(skeleton: Skeleton, world: Matrix) -> Matrix:
    """The frames in their parents' frames."""
    return np.array(
        [
            world[i] if above < 0 else np.linalg.inv(world[above]) @ world[i]
            for i, above in enumerate(parent_indices(skeleton))
        ]
    )


def pose(
    skeleton: Skeleton,
    turns: Mapping[str, Rotation] | None = None,
    scales: Mapping[str, Sequence[float]] | None = None,
) -> tuple[Matrix, Matrix]:
    """Local and world frames with joints turned and scaled about their own axes."""
    local = locals_of(skeleton, frames(skeleton))
    for i, name in enumerate(skeleton.names):
        if turns and name in turns:
            local[i, :3, :3] = local[i, :3, :3] @ turns[name].as_matrix()
        if scales and name in scales:
            local[i, :3, :3] = local[i, :3, :3] * np.asarray(scales[name])
    world = local.copy()
    for i, above in enumerate(parent_indices(skeleton)):
        if above >= 0:
            world[i] = world[above] @ local[i]
    return local, world


def gltf_of(
    skeleton: Skeleton,
    *,
    local: Matrix | None = None,
    skin: bool = True,
    bind: bool = True,
    above: Matrix | None = None,
    as_matrices: bool = False,
    flat: bool = False,
) -> pygltflib.GLTF2:
    """A glTF file of joints alone, its buffer as a data URI.

    `local` (n, 4, 4) is how the nodes stand, by default at rest; `above` (4, 4) is the transform of
    a node above the roots; `flat` hangs all joints from that node.
    """
    world = frames(skeleton)
    parents = parent_indices(skeleton)
    if flat:
        parents = np.full(len(skeleton), -1)
    if local is None:
        local = world if flat else locals_of(skeleton, world)
    nodes = []
    for name, matrix in zip(skeleton.names, local, strict=True):
        if as_matrices:
            nodes.append(pygltflib.Node(name=name, matrix=[float(v) for v in matrix.T.ravel()]))
            continue
        scale = np.linalg.norm(matrix[:3, :3], axis=0)
        turn = Rotation.from_matrix(matrix[:3, :3] / scale).as_quat()
        node = pygltflib.Node(name=name, translation=matrix[:3, 3].tolist(), rotation=turn.tolist())
        if np.abs(scale - 1).max() > 1e-12:
            node.scale = scale.tolist()
        nodes.append(node)
    for i, parent in enumerate(parents):
        if parent >= 0:
            nodes[parent].children.append(i)
    roots = [i for i, parent in enumerate(parents) if parent < 0]
    if above is not None or flat:
        matrix = np.eye(4) if above is None else above
        nodes.append(
            pygltflib.Node(
                name="armature", children=roots, matrix=[float(v) for v in matrix.T.ravel()]
            )
        )
        roots = [len(nodes) - 1]
    inverse = np.linalg.inv(world).swapaxes(1, 2).astype("<f4").tobytes()
    file = pygltflib.GLTF2(
        asset=pygltflib.Asset(version="2.0"),
        scene=0,
        scenes=[pygltflib.Scene(nodes=roots)],
        nodes=nodes,
    )
    if skin:
        file.skins = [pygltflib.Skin(joints=list(range(len(skeleton))))]
    if skin and bind:
        uri = "data:application/octet-stream;base64," + base64.b64encode(inverse).decode()
        file.buffers = [pygltflib.Buffer(byteLength=len(inverse), uri=uri)]
        file.bufferViews = [pygltflib.BufferView(buffer=0, byteLength=len(inverse))]
        file.accessors = [
            pygltflib.Accessor(bufferView=0, componentType=5126, count=len(skeleton), type="MAT4")
        ]
        file.skins[0].inverseBindMatrices = 0
    return file


def gltf_data(file: pygltflib.GLTF2) -> dict:
    """The file as plain JSON data, to be broken on purpose."""
    return json.loads(file.to_json())


def write_usd(
    skeleton: Skeleton,
    path: Path,
    *,
    local: Matrix | None = None,
    bind: bool = True,
    rest: bool = True,
    up: str = "Y",
    metres: float = 1.0,
    above: Matrix | None = None,
) -> Path:
    """A USD file with one skeleton; `above` (4, 4) is the transform of its prim."""
    from pxr import Gf, Usd, UsdGeom, UsdSkel

    stage = Usd.Stage.CreateNew(str(path))
    UsdGeom.SetStageUpAxis(stage, up)
    UsdGeom.SetStageMetersPerUnit(stage, metres)
    UsdSkel.Root.Define(stage, "/character")
    prim = UsdSkel.Skeleton.Define(stage, "/character/skeleton")
    paths: list[str] = []
    for name, parent in zip(skeleton.names, parent_indices(skeleton), strict=True):
        paths.append(name if parent < 0 else f"{paths[parent]}/{name}")
    prim.CreateJointsAttr(paths)
    outer = np.eye(4) if above is None else above
    if above is not None:
        UsdGeom.Xformable(prim).AddTransformOp().Set(Gf.Matrix4d(above.T.tolist()))

    def rows(matrices):
        return [Gf.Matrix4d(m.T.tolist()) for m in matrices]

    world = frames(skeleton)
    if bind:
        prim.CreateBindTransformsAttr(rows(outer @ world))
    if rest:
        prim.CreateRestTransformsAttr(rows(locals_of(skeleton, world) if local is None else local))
    stage.GetRootLayer().Save()
    return path


def bvh_text(
    skeleton: Skeleton,
    *,
    frames: Sequence[Mapping[str, Sequence[float]]] = (),
    order: str = "ZXY",
    root_at: Sequence[float] = (0.0, 0.0, 0.0),
) -> str:
    """A BVH file of the joints in their zero pose, tips as end sites.

    Each frame maps joints to degrees about the axes of `order`; all others are zero.
    """
    parents = parent_indices(skeleton)
    lines = ["HIERARCHY"]
    turned: list[str] = []

    def add(index: int, depth: int) -> None:
        joint = skeleton.joints[index]
        below = [i for i, parent in enumerate(parents) if parent == index]
        offset = joint.position - (
            skeleton.joints[parents[index]].position if parents[index] >= 0 else 0
        )
        pad = "\t" * depth
        numbers = " ".join(f"{v:.9f}" for v in offset)
        if not below and depth:
            lines.append(f"{pad}End Site")
            lines.extend([f"{pad}{{", f"{pad}\tOFFSET {numbers}", f"{pad}}}"])
            return
        lines.append(f"{pad}{'JOINT' if depth else 'ROOT'} {joint.name}")
        lines.extend([f"{pad}{{", f"{pad}\tOFFSET {numbers}"])
        rotations = " ".join(f"{axis}rotation" for axis in order)
        places = "" if depth else "Xposition Yposition Zposition "
        lines.append(f"{pad}\tCHANNELS {3 if depth else 6} {places}{rotations}")
        turned.append(joint.name)
        for child in below:
            add(child, depth + 1)
        lines.append(f"{pad}}}")

    add(0, 0)
    if frames:
        lines += ["MOTION", f"Frames: {len(frames)}", "Frame Time: 0.0333333"]
        for frame in frames:
            values = list(root_at)
            for name in turned:
                values += list(frame.get(name, (0.0, 0.0, 0.0)))
            lines.append(" ".join(f"{v:.6f}" for v in values))
    return "\n".join(lines) + "\n"
