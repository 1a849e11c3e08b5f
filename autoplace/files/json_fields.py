"""Reads plain JSON data field by field, and says where a field breaks its format."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from autoplace.errors import SkeletonError

__all__ = ["Fields", "parse_json"]

FloatArray = NDArray[np.float64]


def parse_json(content: bytes) -> Any:
    """JSON data from UTF-8 bytes, by the letter of RFC 8259: no NaN, no key twice.

    Raises SkeletonError with the line and column of the mistake.
    """
    try:
        return json.loads(
            content.decode("utf-8-sig"), parse_constant=_no_constant, object_pairs_hook=_unique
        )
    except json.JSONDecodeError as mistake:
        raise SkeletonError(
            f"it is not JSON ({mistake.msg} in line {mistake.lineno}, column {mistake.colno})."
        ) from mistake
    except UnicodeDecodeError as mistake:
        raise SkeletonError("it is not a text file in UTF-8.") from mistake
    except RecursionError as mistake:
        raise SkeletonError("its brackets are nested too deep.") from mistake
    except ValueError as mistake:  # an integer of thousands of digits
        raise SkeletonError(f"it holds a number that cannot be read ({mistake}).") from mistake


def _no_constant(name: str) -> Any:
    raise SkeletonError(f"it holds {name}, which is not a number: put a finite number there.")


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    data = dict(pairs)
    if len(data) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise SkeletonError(f"the key '{twice}' stands twice in one object: leave one of them out.")
    return data


class Fields:
    """One JSON object that is being read; every getter raises SkeletonError with the place."""

    def __init__(self, data: Any, place: str) -> None:
        """Takes the parsed value and what to call it in messages."""
        if not isinstance(data, dict):
            raise SkeletonError(f"{place} should be an object in braces, not {_kind(data)}.")
        self._data: dict[str, Any] = data
        self._place = place
        self._read: set[str] = set()

    def has(self, key: str) -> bool:
        """Whether the key is there at all."""
        return key in self._data

    def done(self) -> None:
        """Refuses keys that nobody asked for, which are most often misspelt."""
        extra = [key for key in self._data if key not in self._read]
        if extra:
            raise SkeletonError(
                f"{self._place} has the key '{extra[0]}', which the format does not know: "
                "correct its spelling or leave it out."
            )

    def text(self, key: str, *, filled: bool = False) -> str:
        """A string, not empty when `filled`."""
        value = self._get(key)
        if not isinstance(value, str) or (filled and not value):
            self._refuse(key, "a text in quotes" + (", not empty" if filled else ""), value)
        return str(value)

    def text_or_none(self, key: str) -> str | None:
        """A string or null."""
        value = self._get(key)
        if value is not None and not isinstance(value, str):
            self._refuse(key, "a text in quotes or null", value)
        return None if value is None else str(value)

    def digest(self, key: str) -> str | None:
        """A SHA-256 digest in lower-case hex, or null."""
        value = self.text_or_none(key)
        if value is not None and not re.fullmatch("[0-9a-f]{64}", value):
            self._refuse(key, "64 hexadecimal digits or null", value)
        return value

    def choice(self, key: str, choices: Sequence[str]) -> str:
        """One of the given words."""
        value = self._get(key)
        if value not in choices:
            self._refuse(key, f"one of {', '.join(choices)}", value)
        return str(value)

    def flag(self, key: str) -> bool:
        """True or false."""
        value = self._get(key)
        if not isinstance(value, bool):
            self._refuse(key, "true or false", value)
        return bool(value)

    def whole(self, key: str) -> int:
        """A whole number."""
        value = self._get(key)
        if isinstance(value, bool) or not isinstance(value, int):
            self._refuse(key, "a whole number", value)
        return int(value)

    def number(
        self,
        key: str,
        *,
        least: float | None = None,
        most: float | None = None,
        above: float | None = None,
    ) -> float:
        """A finite number within the given bounds."""
        value = self._get(key)
        wanted = "a finite number"
        if least is not None:
            wanted += f" of at least {least:g}"
        if most is not None:
            wanted += f" and at most {most:g}"
        if above is not None:
            wanted += f" above {above:g}"
        if (
            not _finite(value)
            or (least is not None and value < least)
            or (most is not None and value > most)
            or (above is not None and value <= above)
        ):
            self._refuse(key, wanted, value)
        return float(value)

    def vector(self, key: str) -> FloatArray:
        """Three finite numbers, as (3,)."""
        value = self._get(key)
        if not _triple(value):
            self._refuse(key, "three finite numbers", value)
        return np.array(value, dtype=np.float64)

    def matrix(self, key: str) -> FloatArray:
        """Three rows of three finite numbers, as (3, 3)."""
        value = self._get(key)
        if not isinstance(value, list) or len(value) != 3 or not all(_triple(row) for row in value):
            self._refuse(key, "three rows of three finite numbers", value)
        return np.array(value, dtype=np.float64)

    def mapping(self, key: str) -> dict[str, Any]:
        """An object of any content."""
        value = self._get(key)
        if not isinstance(value, dict):
            self._refuse(key, "an object in braces", value)
        return dict(value)

    def group(self, key: str) -> Fields:
        """An object, to be read on."""
        return Fields(self._get(key), self._at(key))

    def groups(self, key: str, *, label: str) -> list[Fields]:
        """A list of objects; in messages each is called by its place and its field `label`."""
        value = self._get(key)
        if not isinstance(value, list):
            self._refuse(key, "a list in square brackets", value)
        found = []
        for number, entry in enumerate(value):
            name = entry.get(label) if isinstance(entry, dict) else None
            called = f" ('{name}')" if isinstance(name, str) else ""
            found.append(Fields(entry, f"{self._at(key)}[{number}]{called}"))
        return found

    def _get(self, key: str) -> Any:
        if key not in self._data:
            raise SkeletonError(f"{self._place} lacks the key '{key}': add it.")
        self._read.add(key)
        return self._data[key]

    def _at(self, key: str) -> str:
        return key if self._place.startswith("the ") else f"{self._place}.{key}"

    def _refuse(self, key: str, wanted: str, value: Any) -> None:
        raise SkeletonError(f"{self._at(key)} should be {wanted}, not {_kind(value)}.")


def _finite(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:  # a whole number beyond the range of floats
        return False


def _triple(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 3 and all(_finite(item) for item in value)


def _kind(value: Any) -> str:
    """A short description of a JSON value for a message."""
    if isinstance(value, dict):
        return "an object"
    shown = json.dumps(value, ensure_ascii=False, default=str)
    return shown if len(shown) <= 60 else shown[:57] + "..."
