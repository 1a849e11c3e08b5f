"""What goes into a placing and what comes out of it, as plain records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from autoplace.measure.frame_record import Frame
    from autoplace.mesh.pieces import Roles
    from autoplace.skeleton.model import Skeleton

__all__ = ["PlaceResult", "Settings"]


@dataclass(frozen=True)
class Settings:
    """The user's choices; every one has a default that the mesh decides."""

    template: str | None = None
    """Name of a template in `templates/`; None chooses by measurement."""
    leave_out: tuple[str, ...] = ()
    """Part names or patterns (shell style) that must not be measured."""
    roles: Mapping[str, str] = field(default_factory=dict)
    """Part name or pattern to role, overriding what was measured."""
    up: str | None = None
    """Input axis that points up, such as '+Z'; None finds it."""
    forward: str | None = None
    """Input axis the character faces, such as '+Z'; None finds it."""
    spine: int = 3
    """Number of spine joints from above the pelvis to the chest, the chest counted."""
    neck: int = 1
    """Number of neck joints under the head."""

    fingers: Mapping[str, Sequence[str]] | Sequence[str] = field(default_factory=dict)
    """Names of the fingers from the thumb on, when position and number do not tell: of both hands,
    or by side. A hand with another number of fingers is left alone."""
    metacarpals: bool = False
    """Whether the fingers (not the thumb) hang from a joint of their metacarpal, which lets the
    palm cup."""

    convention: str | None = None
    """What the joints' axes mean: name of a convention in `templates/conventions`, or path of a
    TOML file; None takes the default. `settings["orientation"]` records what it says."""

    def fingers_on(self, side: str) -> Sequence[str] | None:
        """Finger names given for one side, None when position and number shall tell."""
        given = self.fingers
        return (given.get(side) if isinstance(given, Mapping) else given) or None

    def as_dict(self) -> dict[str, Any]:
        """Only what differs from the defaults, for the skeleton file, where orientation keeps the
        convention itself."""
        default = Settings()
        return {
            name: _plain(value)
            for name, value in vars(self).items()
            if value != getattr(default, name) and name != "convention"
        }


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return list(value) if isinstance(value, tuple) else value


@dataclass(frozen=True)
class PlaceResult:
    """Everything one placing found."""

    skeleton: Skeleton
    """Oriented and checked, in the input file's frame and units."""
    frame: Frame
    roles: Roles
    report: Mapping[str, Any]
    """Plain data for a person or a program: parts, frame, fingers per hand, eyes, template and
    why, findings. The same keys are printed by `autoplace place --json`."""
    timings: Mapping[str, float]
    """Seconds per stage, in the order they ran."""
