"""Errors a user can cause, each told in one sentence: what is wrong, where, what to do.

AutoplaceError
├── InputError        the file cannot be read as a character
│   ├── FileMissing   no such file, or not readable
│   ├── NotAMesh      the content is not a mesh of a known format
│   └── BadGeometry   a mesh, but with values no character can have
├── NotACharacter     a sound mesh in which no figure with limbs can be found
├── SettingsError     an option has a value it cannot have
├── TemplateError     a template file is missing or contradicts itself
├── SkeletonError     a skeleton file or record breaks the format
└── OutputError       a result cannot be written where it was asked for
"""

from __future__ import annotations

__all__ = [
    "AutoplaceError",
    "BadGeometry",
    "FileMissing",
    "InputError",
    "NotACharacter",
    "NotAMesh",
    "OutputError",
    "SettingsError",
    "SkeletonError",
    "TemplateError",
]


LONGEST_WORD = 200
"""Characters of a word in a message; a path is seldom longer, what a broken file says may be."""


class AutoplaceError(Exception):
    """Base of all errors that are a user's to mend; the command line prints it and exits 2."""

    def __init__(self, message: str = "") -> None:
        """Takes the sentence, of which what no terminal should get is left out.

        Messages quote files, which may say anything: words without end are cut, and control
        characters and halves of characters replaced.
        """
        plain = "".join(c if c.isprintable() else "\ufffd" for c in message)
        super().__init__(" ".join(_cut(word) for word in plain.split(" ")))


class InputError(AutoplaceError):
    """The file cannot be read as a character."""


class FileMissing(InputError):
    """No such file, or one that cannot be opened."""


class NotAMesh(InputError):
    """The content is not a mesh of a known format."""


class BadGeometry(InputError):
    """A mesh, but with values no character can have (not finite, no faces, flat, ...)."""


class NotACharacter(AutoplaceError):
    """A sound mesh in which no figure with limbs can be found."""


class SettingsError(AutoplaceError):
    """An option has a value it cannot have, or names a part that is not there."""


class TemplateError(AutoplaceError):
    """A template file is missing or contradicts itself."""


class SkeletonError(AutoplaceError):
    """A skeleton file or record breaks the format."""


class OutputError(AutoplaceError):
    """A result cannot be written where it was asked for."""


def _cut(word: str) -> str:
    """The word, its middle left out where it is too long."""
    if len(word) <= LONGEST_WORD:
        return word
    return f"{word[: LONGEST_WORD - 60]}...{word[-40:]}"
