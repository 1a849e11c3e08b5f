"""The file of sliders: what it must hold, and what is refused."""

from __future__ import annotations

import pytest

from autoplace.errors import TemplateError
from autoplace.review.slider_rules import read_slider_rules


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("slider = 3", "no sliders we can use"),
        ('[[slider]]\nkey = "a"\nlabel = "a"\ngroup = "a"\ntest = "flight"', "'flight'"),
        ('[[slider]]\nkey = "a"\nlabel = "a"\ngroup = "a"', "turn"),
        ('[[slider]]\nkey = "a"\nlabel = "a"\ngroup = "a"\nunit = "gon"', "gon"),
        (
            '[[slider]]\nkey = "a"\nlabel = "a"\ngroup = "a"\ntest = "knee"\nback = -5\n'
            'back_source = "x"',
            "-5",
        ),
        ("[[slider", "TOML"),
    ],
)
def test_file_that_holds_no_sliders_is_refused(tmp_path, text, says):
    """One sentence says what is wrong with a file of sliders."""
    path = tmp_path / "sliders.toml"
    path.write_text(text)
    with pytest.raises(TemplateError, match=says):
        read_slider_rules(path)


def test_every_end_has_a_source():
    """Each slider that comes along tells where its ends are from."""
    for rule in read_slider_rules():
        assert rule.source
