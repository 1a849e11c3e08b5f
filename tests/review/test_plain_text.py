"""Text that markdown leaves as it is."""

from __future__ import annotations

from autoplace.review.plain_text import plain


def test_signs_become_letters():
    """A tag or emphasis is escaped with backslashes (CommonMark 0.31, 2.4; from memory)."""
    assert plain("<b>*a*_1</b>") == r"\<b\>\*a\*\_1\</b\>"
    assert plain("\\") == r"\\"


def test_lines_become_one():
    """A name with line breaks starts no paragraph or list."""
    assert plain("a\n\n- b") == "a - b"
