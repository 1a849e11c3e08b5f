"""Pictures of invented hands with joints over them: known ones as dots, placed ones as crosses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from autoplace.place.hands import HandPlacement
from autoplace.show.raster import rasterise
from meshes.hand_clay import KnownHand

SIZE = 300
KNOWN, PLACED = (194, 65, 12), (14, 116, 144)


def view(
    vertices: np.ndarray,
    faces: np.ndarray,
    axes: np.ndarray,
    middle: np.ndarray,
    reach: float,
    chains: list[tuple[list[np.ndarray], tuple[int, int, int]]],
) -> Image.Image:
    """One view along the third row of (3, 3) axes, with chains of joints (k, 3) over it."""
    scale = 0.5 * SIZE / reach

    def flat(points: np.ndarray) -> np.ndarray:
        across = (points - middle) @ axes[:2].T * scale
        return np.stack([0.5 * SIZE + across[..., 0], 0.5 * SIZE - across[..., 1]], axis=-1)

    layers = rasterise(flat(vertices), -(vertices @ axes[2]), faces, SIZE, SIZE)
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-30
    light = axes[2] + 0.45 * axes[1] - 0.3 * axes[0]
    tone = 130 + 110 * np.clip(normals @ (light / np.linalg.norm(light)), 0.0, 1.0)
    pixels = np.full((SIZE * SIZE, 3), 255, dtype=np.uint8)
    pixels[layers.pixels] = tone[layers.face][:, None].astype(np.uint8)
    image = Image.fromarray(pixels.reshape(SIZE, SIZE, 3))
    draw = ImageDraw.Draw(image)
    for some, colour in chains:
        for chain in some:
            line = [tuple(p) for p in flat(np.asarray(chain))]
            draw.line(line, fill=colour, width=1)
            for x, y in line:
                if colour == KNOWN:
                    draw.ellipse([x - 3, y - 3, x + 3, y + 3], outline=colour)
                else:
                    draw.line([x - 4, y - 4, x + 4, y + 4], fill=colour, width=2)
                    draw.line([x - 4, y + 4, x + 4, y - 4], fill=colour, width=2)
    return image


def picture(path: Path, hand: KnownHand, placement: HandPlacement | None) -> None:
    """A hand from its back and from the thumb's side."""
    member = hand.member
    back = -hand.palm
    along = member.turn @ np.array([0.0, 1.0, 0.0])
    across = np.cross(along, back)
    views = [np.stack([across, along, back])]
    aside = across if member.side == "left" else -across
    views.append(np.stack([np.cross(along, aside), along, aside]))
    middle = hand.wrist + 0.4 * hand.length * along
    known = list(hand.joints.values())
    placed = (
        []
        if placement is None
        else [[p.position for p in chain] for chain in placement.chains.values()]
    )
    page = Image.new("RGB", (2 * SIZE, SIZE + 14), "white")
    for number, axes in enumerate(views):
        seen = view(
            hand.vertices,
            hand.faces,
            axes,
            middle,
            0.85 * hand.length,
            [(known, KNOWN), (placed, PLACED)],
        )
        page.paste(seen, (number * SIZE, 14))
    words = " ".join(member.traits.values())
    found = "none" if placement is None else f"{len(placement.chains)} found"
    ImageDraw.Draw(page).text((2, 1), f"{member.name} {words}: {found}", fill=(0, 0, 0))
    page.save(path)


def contact_sheet(path: Path, pictures: list[Path], columns: int = 4) -> None:
    """Several pictures on one page."""
    images = [Image.open(one) for one in pictures]
    width, height = images[0].size
    rows = -(-len(images) // columns)
    page = Image.new("RGB", (columns * width, rows * height), "white")
    for number, image in enumerate(images):
        page.paste(image, (number % columns * width, number // columns * height))
    page.save(path)
