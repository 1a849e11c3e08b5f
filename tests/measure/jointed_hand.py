"""A left hand of rigid boxes with gaps between them, as a robot's or a jointed doll's."""

from __future__ import annotations

import numpy as np

from tests.mesh.capsule_figures import Mesh, box, joined

SHARES = (0.48, 0.30, 0.22)
"""Of a finger, its three pieces."""
REACH = {"index": 0.45, "middle": 0.50, "ring": 0.46, "pinky": 0.36}
THUMB = (0.18, 0.13, 0.11)
PALM_LONG, PALM_HALF, PALM_THICK = 0.5, 0.225, 0.16
CURL = np.radians(10.0)


def bar(begin: np.ndarray, end: np.ndarray, half: float, thick: float, across: np.ndarray) -> Mesh:
    """A box from one point to another, so broad each way and so thick."""
    along = (end - begin) / np.linalg.norm(end - begin)
    across = across - (across @ along) * along
    across = across / np.linalg.norm(across)
    frame = np.array([across, along, np.cross(across, along)])
    length = float(np.linalg.norm(end - begin))
    vertices, faces = box((-half, 0.0, -0.5 * thick), (half, length, 0.5 * thick))
    return vertices @ frame + begin, faces


def jointed_hand(gap: float, names: tuple[str, ...]) -> tuple[Mesh, dict[str, np.ndarray]]:
    """A forearm up to the wrist at the origin, a palm, fingers of three pieces each and a thumb.

    Args:
        gap: between the pieces; the hand is one long from the wrist to the end of the palm's middle
            finger. names: fingers from the index on, thumb left out.

    Returns:
        The mesh, +Y along the fingers, +X to the thumb's side, the palm facing -Z, and (4, 3)
        joints by finger, the last at its end.
    """
    half, right = 0.5 * gap, np.array([1.0, 0.0, 0.0])
    up = np.array([0.0, 1.0, 0.0])
    pieces = [
        bar(-0.9 * up, -half * up, 0.15, 0.25, right),
        bar(half * up, PALM_LONG * up, PALM_HALF, PALM_THICK, right),
    ]
    joints: dict[str, np.ndarray] = {}
    for place, name in zip(np.linspace(0.17, -0.17, len(names)), names, strict=True):
        at = np.array([place, PALM_LONG, 0.0])
        aim = np.array([0.25 * place, 1.0, 0.0])
        aim = aim / np.linalg.norm(aim)
        points = [at]
        for number, share in enumerate(SHARES):
            bend = CURL * (number + 1)
            way = np.cos(bend) * aim - np.sin(bend) * np.array([0.0, 0.0, 1.0])
            end = at + share * REACH[name] * way
            last = 0.0 if number == 2 else half
            pieces.append(bar(at + half * way, end - last * way, 0.18 / len(names), 0.09, right))
            at = end
            points.append(at)
        joints[name] = np.array(points)
    at, aim = np.array([0.22, 0.12, 0.0]), np.array([0.75, 0.6, -0.3])
    aim = aim / np.linalg.norm(aim)
    points = [at]
    for number, long in enumerate(THUMB):
        last = 0.0 if number == 2 else half
        end = at + long * aim
        pieces.append(bar(at + half * aim, end - last * aim, 0.055, 0.1, np.array([0, 0, 1.0])))
        at = end
        points.append(at)
    return joined(*pieces), {"thumb": np.array(points), **joints}
