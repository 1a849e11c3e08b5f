"""A cube as glTF whose one material has every number and texture that glTF itself knows."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pygltflib
from PIL import Image

from tests.files.textured_cube import PAIRS, PLACES, SQUARES

MAPS = ("base", "metal_rough", "normal", "occlusion", "emission")


def map_picture(name: str) -> bytes:
    """A small picture, different for each map."""
    rows = np.full((4, 4, 3), 40 * (MAPS.index(name) + 1), dtype=np.uint8)
    rows[0, 0] = (128, 128, 255)
    file = io.BytesIO()
    Image.fromarray(rows).save(file, "PNG")
    return file.getvalue()


def cube_corners() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Places (24, 3), two sets of texture coordinates (24, 2), v down, and triangles (12, 3)."""
    places = np.array([PLACES[v - 1] for square in SQUARES for v in square], dtype=np.float32)
    first = np.array(PAIRS, dtype=np.float32)
    first[:, 1] = 1 - first[:, 1]
    second = np.tile(np.array([[0, 1], [1, 1], [1, 0], [0, 0]], dtype=np.float32), (6, 1))
    start = 4 * np.arange(6)[:, None]
    corners = np.array([[0, 1, 2], [0, 2, 3]])
    faces = np.concatenate([start + corner for corner in corners]).astype(np.uint16)
    return places, first, second, faces


def painted_material() -> pygltflib.Material:
    """Occlusion goes by the second set of coordinates, all else by the first."""
    return pygltflib.Material(
        name="skin",
        pbrMetallicRoughness=pygltflib.PbrMetallicRoughness(
            baseColorFactor=[0.5, 0.25, 1.0, 0.75],
            metallicFactor=0.25,
            roughnessFactor=0.5,
            baseColorTexture=pygltflib.TextureInfo(index=0),
            metallicRoughnessTexture=pygltflib.TextureInfo(index=1),
        ),
        normalTexture=pygltflib.NormalMaterialTexture(index=2, texCoord=0, scale=0.5),
        occlusionTexture=pygltflib.OcclusionTextureInfo(index=3, texCoord=1, strength=0.75),
        emissiveFactor=[1.0, 0.5, 0.25],
        emissiveTexture=pygltflib.TextureInfo(index=4),
        alphaMode="MASK",
        alphaCutoff=0.25,
        doubleSided=True,
    )


def painted_gltf(material: pygltflib.Material | None = None) -> pygltflib.GLTF2:
    """The file under construction; samplers mirror one way and name their filters."""
    gltf = pygltflib.GLTF2(asset=pygltflib.Asset(version="2.0"))
    blob = b""

    def view(data: bytes) -> int:
        nonlocal blob
        gltf.bufferViews.append(
            pygltflib.BufferView(buffer=0, byteOffset=len(blob), byteLength=len(data))
        )
        blob += data + b"\0" * (-len(data) % 4)
        return len(gltf.bufferViews) - 1

    places, first, second, faces = cube_corners()
    rows = ((places, "VEC3", 5126), (first, "VEC2", 5126), (second, "VEC2", 5126))
    for array, kind, component in (*rows, (faces.reshape(-1), "SCALAR", 5123)):
        whole = np.atleast_2d(array.T).T
        gltf.accessors.append(
            pygltflib.Accessor(
                bufferView=view(array.tobytes()),
                componentType=component,
                count=len(array),
                type=kind,
                min=whole.min(axis=0).tolist(),
                max=whole.max(axis=0).tolist(),
            )
        )
    for name in MAPS:
        picture = pygltflib.Image(name=name, mimeType="image/png")
        picture.bufferView = view(map_picture(name))
        gltf.images.append(picture)
        sampler = 1 if name == "base" else 0
        gltf.textures.append(pygltflib.Texture(source=len(gltf.images) - 1, sampler=sampler))
    gltf.samplers = [
        pygltflib.Sampler(wrapS=10497, wrapT=10497),
        pygltflib.Sampler(wrapS=33648, wrapT=33071, magFilter=9728, minFilter=9987),
    ]
    gltf.materials = [material or painted_material()]
    attributes = pygltflib.Attributes(POSITION=0, TEXCOORD_0=1, TEXCOORD_1=2)
    primitive = pygltflib.Primitive(attributes=attributes, indices=3, material=0)
    gltf.meshes = [pygltflib.Mesh(name="cube", primitives=[primitive])]
    gltf.nodes = [pygltflib.Node(name="cube", mesh=0)]
    gltf.scenes, gltf.scene = [pygltflib.Scene(nodes=[0])], 0
    gltf.buffers = [pygltflib.Buffer(byteLength=len(blob))]
    gltf.set_binary_blob(blob)
    return gltf


def write_painted(folder: Path, material: pygltflib.Material | None = None) -> Path:
    """Writes painted.glb into the folder."""
    path = folder / "painted.glb"
    painted_gltf(material).save(path)
    return path
