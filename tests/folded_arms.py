"""Figures of one skin whose arms are turned down into the trunk, as a pose leaves them."""

from __future__ import annotations

import numpy as np

from autoplace.mesh.character import Character
from tests.light_figure import changed
from tests.measure.surfaces import rotation

BLEND = 0.05
"""Half the length over which skin follows the turn, in the figure's units: as about a shoulder."""
BELOW = 0.12
"""What lies farther below the shoulder, in the figure's units, is no arm in a T-pose."""
SIDES = {"left": 1.0, "right": -1.0}


def with_turned_arms(
    character: Character,
    joints: dict[str, np.ndarray],
    down: float,
    inward: float = 0.0,
) -> tuple[Character, dict[str, np.ndarray]]:
    """A figure in a T-pose with its arms turned about their joints; also where these then are.

    Args:
        character: +Y up, +Z ahead, arms along X. joints: (3,) by name.
        down: degrees by which the upper arm is lowered. inward: degrees by which the forearm is
            turned before the trunk after that.
    """

    def turn(points: np.ndarray) -> np.ndarray:
        moved = np.array(points)
        for side, sign in SIDES.items():
            shoulder, elbow = joints[f"{side}_shoulder"], joints[f"{side}_elbow"]
            for centre, axis, degrees in (
                (elbow, (0.0, -sign, 0.0), inward),
                (shoulder, (0.0, 0.0, -sign), down),
            ):
                along = sign * (points[:, 0] - centre[0])
                share = np.clip(0.5 + 0.5 * along / BLEND, 0.0, 1.0)
                smooth = share**2 * (3.0 - 2.0 * share)
                level = np.abs(points[:, 1] - joints[f"{side}_shoulder"][1])
                own = np.flatnonzero((smooth > 0.0) & (level < BELOW))
                for i in own:
                    about = rotation(axis, degrees * smooth[i])
                    moved[i] = centre + about @ (moved[i] - centre)
        return moved

    names = list(joints)
    places = turn(np.array([joints[name] for name in names]))
    return changed(character, turn), dict(zip(names, places, strict=True))
