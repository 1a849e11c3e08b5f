"""Text for the page's markdown, shown as it is: joints, parts and files may have any name."""

from __future__ import annotations

__all__ = ["plain"]

SIGNS = "\\`*_{}[]<>#|~&$"
"""What markdown, or the HTML in it, would take for more than a letter."""


def plain(text: str) -> str:
    """The text with every sign of markdown and HTML made a letter, on one line."""
    for sign in SIGNS:
        text = text.replace(sign, "\\" + sign)
    return " ".join(text.split())
