"""What fitting part of an existing skeleton anew gives, and the frame that skeleton stands in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from autoplace.errors import InputError, SkeletonError
from autoplace.measure.frame_record import Frame
from autoplace.mesh.parts import assign_roles, matching_parts
from autoplace.mesh.prepare import Prepared, prepare
from autoplace.settings import checked, recorded_settings
from autoplace.skeleton.names import SIDES, side_of
from autoplace.skeleton.orient import body_directions

if TYPE_CHECKING:
    from autoplace.mesh.character import Character
    from autoplace.mesh.pieces import Roles
    from autoplace.result import Settings
    from autoplace.skeleton.model import Skeleton

__all__ = ["OTHER_SIZE", "RefitResult", "recorded_frame", "roles_in", "settings_for"]

WHOLE = 0.9
"""A mesh at least this tall against the recorded height stands on the floor; a shorter one is the
upper end of the figure, such as a head alone (common practice, no source)."""

OTHER_SIZE = 3.0
"""Mesh to recorded height beyond which the two are not in the same units, whatever is raised or
carried (common practice, no source)."""


@dataclass(frozen=True)
class RefitResult:
    """A skeleton of which some joints were fitted anew; all others are the same records."""

    skeleton: Skeleton
    """In the input file's frame and units."""
    report: Mapping[str, Any]
    """Plain data for a person or a program: what was fitted, what was left alone and why."""
    seconds: Mapping[str, float]
    """Seconds per stage, in the order they ran."""
    changed: tuple[str, ...]
    """Names of the joints that were moved, turned or added."""
    frame: Frame
    """The working frame the joints were fitted in."""
    roles: Roles | None = None
    """What each piece of the mesh was taken for, where that was found on the way."""


def recorded_frame(character: Character, skeleton: Skeleton) -> Frame:
    """The working frame of a character by what its skeleton records; nothing is searched.

    Directions come from the skeleton's orientation or source, the height from its source, the
    middle plane from its joints, and the floor from the mesh: from its lowest point, or, when the
    mesh is much less tall than recorded, from its highest. `character` and `skeleton` are in the
    input file's frame.

    Raises SkeletonError when the recorded directions are impossible, or the mesh is so much taller
    than recorded that the two are not in the same units.
    """
    rotation = body_directions(skeleton)
    used = np.concatenate([part.vertices[np.unique(part.faces)] for part in character.parts])
    up = used @ rotation[1]
    floor, top = float(up.min()), float(up.max())
    height = float(skeleton.source.height)
    if top - floor > OTHER_SIZE * height:
        # known before anything is measured: grids are laid out in shares of the recorded height
        raise SkeletonError(
            f"The mesh is {top - floor:.4g} units tall and the skeleton's character {height:.4g}; "
            "bring both to the same units, or place a skeleton anew."
        )
    if top - floor < WHOLE * height:
        floor = top - height
    aside = used @ rotation[0]
    middle = _middle(skeleton, rotation[0], 0.5 * float(aside.min() + aside.max()))
    depth = float(np.median(used @ rotation[2]))
    return Frame(
        rotation,
        np.array([middle, floor, depth]) @ rotation,
        height,
        skeleton.source.up,
        skeleton.source.forward,
        0.0,
        ("up and facing are those recorded in the skeleton",),
    )


def roles_in(frame: Frame, character: Character, settings: Settings) -> tuple[Prepared, Roles]:
    """The character ready to measure, and the roles of its pieces where the frame is known."""
    prepared = prepare(character)
    measured = prepared.character
    roles = assign_roles(
        measured,
        [frame.to_working(part.vertices) for part in measured.parts],
        leave_out=settings.leave_out,
        forced=dict(settings.roles),
        facing_known=True,
        islands=prepared.islands,
        aside=prepared.aside,
    )
    return prepared, roles


def settings_for(
    character: Character, skeleton: Skeleton, changes: Mapping[str, Any] | None = None
) -> Settings:
    """The settings that a skeleton records, with `changes` by name over them.

    Of recorded parts only those count that the mesh still has. What is left out, and roles, add to
    what is recorded; anything else replaces it.

    Raises AutoplaceError when a setting is impossible.
    """
    before = recorded_settings(skeleton.settings)

    def there(pattern: str) -> bool:
        try:
            return bool(matching_parts(character, pattern))
        except InputError:
            return False

    given = dict(changes or {})
    left_out = dict.fromkeys(filter(there, before.leave_out))
    given["leave_out"] = (*left_out, *(n for n in given.get("leave_out", ()) if n not in left_out))
    known = {name: role for name, role in before.roles.items() if there(name)}
    given["roles"] = known | dict(given.get("roles", {}))
    return checked(replace(before, **given))


def _middle(skeleton: Skeleton, left: np.ndarray, otherwise: float) -> float:
    """Where the middle plane lies along `left` (3,): at the trunk's joints, or between pairs."""
    centre = [float(joint.position @ left) for joint in skeleton if side_of(joint.name) is None]
    if centre:
        return float(np.median(centre))
    pairs = {
        side: {j.name[len(side) + 1 :]: j for j in skeleton if side_of(j.name) == side}
        for side in SIDES
    }
    both = [
        0.5 * float((pairs["left"][stem].position + pairs["right"][stem].position) @ left)
        for stem in pairs["left"]
        if stem in pairs["right"]
    ]
    return float(np.median(both)) if both else otherwise
