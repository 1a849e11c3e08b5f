"""Checks a user's settings before any work is done, so that a slip is told at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from autoplace.data import template_names
from autoplace.errors import SettingsError, TemplateError
from autoplace.skeleton.names import FINGERS, MOST_NECK_JOINTS, MOST_SPINE_JOINTS, SIDES

if TYPE_CHECKING:
    from autoplace.result import Settings

__all__ = ["ROLE_NAMES", "checked", "recorded_settings"]

ROLE_NAMES = (
    "body",
    "eyeball",
    "inner_mouth",
    "hair",
    "garment",
    "accessory",
    "left_out",
    "unknown",
)
"""`mesh.pieces.ROLES`, written out so that checking an option need not load numpy (a test compares
the two)."""


def checked(settings: Settings) -> Settings:
    """The same settings with axes written as '+Y' and fingers by side.

    Raises:
        TemplateError: no template has that name.
        SettingsError: an axis, a role, a finger or a number of joints is impossible.
    """
    templates = template_names()
    if settings.template is not None and settings.template not in templates:
        raise TemplateError(
            f"There is no template {settings.template!r}{_hint(settings.template, templates)}; "
            f"the templates are {_listed(templates)}."
        )
    up, forward = _axis("up", settings.up), _axis("forward", settings.forward)
    if up and forward and up[1] == forward[1]:
        raise SettingsError(
            f"Up {up} and forward {forward} lie on one line; give two axes at a right angle, "
            "such as up +Y and forward +Z."
        )
    if not 1 <= settings.spine <= MOST_SPINE_JOINTS:
        raise SettingsError(
            f"A spine of {settings.spine} joints is not possible; "
            f"give a number from 1 to {MOST_SPINE_JOINTS}."
        )
    if not 1 <= settings.neck <= MOST_NECK_JOINTS:
        raise SettingsError(
            f"A neck of {settings.neck} joints is not possible; "
            f"give a number from 1 to {MOST_NECK_JOINTS}."
        )
    for part, role in settings.roles.items():
        if role not in ROLE_NAMES:
            raise SettingsError(
                f"Part {part!r} cannot have the role {role!r}{_hint(role, ROLE_NAMES)}; "
                f"the roles are {_listed(ROLE_NAMES)}."
            )
    fingers = _fingers(settings.fingers)
    return replace(settings, up=up, forward=forward, fingers=fingers)


def recorded_settings(record: Mapping[str, Any]) -> Settings:
    """What a skeleton's `settings` say of how its parts are measured and its hands built.

    What stands there otherwise, or is no such setting, is passed over.

    Raises:
        SettingsError, TemplateError: as `checked` does, for what is recorded.
    """
    from autoplace.result import Settings

    def mapping(key: str) -> dict[str, Any]:
        value = record.get(key)
        return dict(value) if isinstance(value, Mapping) else {}

    left_out = record.get("leave_out")
    return checked(
        Settings(
            leave_out=tuple(map(str, left_out)) if isinstance(left_out, list | tuple) else (),
            roles={str(part): str(role) for part, role in mapping("roles").items()},
            fingers=mapping("fingers"),
            metacarpals=record.get("metacarpals") is True,
        )
    )


def _fingers(given: Mapping[str, Sequence[str]] | Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Finger names by side, from names for both sides or for each."""
    if not given:
        return {}
    sided = given if isinstance(given, Mapping) else dict.fromkeys(SIDES, given)
    found = {}
    for side, names in sided.items():
        if side not in SIDES:
            raise SettingsError(
                f"Fingers cannot be named for the side {side!r}{_hint(side, SIDES)}; "
                "the sides are left and right."
            )
        if not isinstance(names, str | Sequence):
            raise SettingsError(
                f"{names!r} are no fingers of the {side} hand; give names such as thumb,index."
            )
        names = tuple(map(str, names.split(",") if isinstance(names, str) else names))
        for name in names:
            if name not in FINGERS:
                raise SettingsError(
                    f"{name!r} is not a finger{_hint(name, FINGERS)}; "
                    f"the fingers are {_listed(FINGERS)}."
                )
        order = sorted(set(names), key=FINGERS.index)
        if list(names) != order or not names:
            raise SettingsError(
                f"The fingers {','.join(names) or '(none)'!s} are not in order; name each once, "
                f"from the thumb's side on{': ' + ','.join(order) if order else ''}."
            )
        found[side] = names
    return found


def _axis(which: str, text: str | None) -> str | None:
    if text is None:
        return None
    sign, letter = (text[0], text[1:]) if text.startswith(("+", "-")) else ("+", text)
    if letter.upper() not in ("X", "Y", "Z"):
        raise SettingsError(
            f"{text!r} is not an axis for {which}; give one of +X, -X, +Y, -Y, +Z or -Z."
        )
    return sign + letter.upper()


def _hint(wrong: str, known: Iterable[str]) -> str:
    near = get_close_matches(wrong, list(known), n=1)
    return f" (did you mean {near[0]!r}?)" if near else ""


def _listed(names: Iterable[str], most: int = 12) -> str:
    names = list(names)
    if not names:
        return "none"
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
