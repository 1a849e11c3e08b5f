"""The character's surface in the page's scene, part by part.

The scene is in the working frame: +Y up, +Z where the character faces, +X its left, height 1.

A surface drawn solid would hide the skeleton, and the scene has no way to draw it over the surface.
So a solid part is two layers: the far walls opaque and the near ones half clear. The skeleton
stands inside as in a shell, and shows through whatever the camera looks from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from viser import MeshHandle, MeshSkinnedHandle, SceneApi

    from autoplace.review.deform import BoundPart, Skin
    from autoplace.show.palette import Colour

__all__ = ["LOOKS", "Surface", "SurfacePart"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LAYERS = ("near", "far")
LOOKS = ("translucent", "solid", "hidden")
"""How the surface may be shown."""
NEAR_OPACITY = {"translucent": 0.32, "solid": 0.42}
"""Of the walls that face the camera (judged by eye on the demo characters)."""


@dataclass(frozen=True)
class SurfacePart:
    """One part of the character as it is drawn."""

    name: str
    vertices: FloatArray
    """(n, 3) working frame."""
    faces: IntArray
    """(m, 3)"""
    colour: Colour


class Surface:
    """The parts as nodes of a scene: which are shown, how, and bent or at rest."""

    def __init__(self, scene: SceneApi, parts: Sequence[SurfacePart]) -> None:
        """Adds the parts at rest, translucent, all shown."""
        self.parts = tuple(parts)
        self._scene = scene
        self._shown = {part.name: True for part in parts}
        self._look = "translucent"
        self._bent = False
        self._rest = [self._layers(i, part) for i, part in enumerate(self.parts)]
        self._skinned: list[tuple[MeshSkinnedHandle, MeshSkinnedHandle]] = []
        self._skin: Skin | None = None
        self._draw()

    @property
    def look(self) -> str:
        """One of LOOKS."""
        return self._look

    def set_look(self, look: str) -> None:
        """Show all parts 'translucent' or 'solid', or hide them."""
        self._look = look
        near: Any
        for near, _ in (*self._rest, *self._skinned):
            near.opacity = NEAR_OPACITY.get(look, NEAR_OPACITY["translucent"])
        self._draw()

    def show_part(self, name: str, shown: bool) -> None:
        """Show or hide one part by its name."""
        self._shown[name] = shown
        self._draw()

    def bind(self, skin: Skin, rest: FloatArray) -> None:
        """Add the parts once more so that they follow bones.

        Args:
            skin: of the same parts, in their order.
            rest: (joints, 3) places of its bones at rest, working frame.
        """
        self.unbind()
        self._skin = skin
        for index, (part, bound) in enumerate(zip(self.parts, skin.parts, strict=True)):
            self._skinned.append(self._skinned_layers(index, part, bound, rest))

    def unbind(self) -> None:
        """Take the bound parts away; the rest is shown."""
        for layers in self._skinned:
            for layer in layers:
                layer.remove()
        self._skinned, self._skin, self._bent = [], None, False
        self._draw()

    @property
    def skin(self) -> Skin | None:
        """What the parts are bound by; None where they cannot follow bones."""
        return self._skin

    def bend(self, turns: FloatArray, places: FloatArray) -> None:
        """Let the bound parts follow the bones: quaternions (joints, 4), places (joints, 3)."""
        parts = () if self._skin is None else self._skin.parts
        for bound, layers in zip(parts, self._skinned, strict=True):
            for layer in layers:
                for bone, joint in zip(layer.bones, bound.bones, strict=True):
                    bone.wxyz, bone.position = turns[joint], places[joint]
        self._bent = True
        self._draw()

    def rest(self) -> None:
        """Show the parts as they are in the file."""
        self._bent = False
        self._draw()

    def _draw(self) -> None:
        for layers, bent in ((self._rest, False), (self._skinned, True)):
            for part, (near, far) in zip(self.parts, layers, strict=False):
                shown = self._shown[part.name] and self._look != "hidden" and bent == self._bent
                near.visible = shown
                far.visible = shown and self._look == "solid"

    def _layers(self, index: int, part: SurfacePart) -> tuple[MeshHandle, MeshHandle]:
        near, far = (
            self._scene.add_mesh_simple(
                f"/surface/{index}/{layer}",
                part.vertices.astype(np.float32),
                part.faces.astype(np.uint32),
                **self._paint(part, layer),
            )
            for layer in LAYERS
        )
        return near, far

    def _skinned_layers(
        self, index: int, part: SurfacePart, bound: BoundPart, rest: FloatArray
    ) -> tuple[MeshSkinnedHandle, MeshSkinnedHandle]:
        near, far = (
            self._scene.add_mesh_skinned(
                f"/bent/{index}/{layer}",
                part.vertices.astype(np.float32),
                part.faces.astype(np.uint32),
                bone_wxyzs=np.tile([1.0, 0.0, 0.0, 0.0], (len(bound.bones), 1)),
                bone_positions=rest[bound.bones],
                skin_weights=bound.dense,
                **self._paint(part, layer),
            )
            for layer in LAYERS
        )
        return near, far

    def _paint(self, part: SurfacePart, layer: str) -> dict[str, Any]:
        """How a layer of a part looks, before it is shown."""
        is_near = layer == "near"
        opacity = NEAR_OPACITY.get(self._look, NEAR_OPACITY["translucent"])
        return {
            "color": part.colour,
            "opacity": opacity if is_near else None,
            "side": "front" if is_near else "back",
            "cast_shadow": False,
            "receive_shadow": False,
            "visible": False,
        }
