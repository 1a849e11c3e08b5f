"""`autoplace.show.page_views`: from where a page looks."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.show.figure import gather
from autoplace.show.page_views import page_views, view_for
from tests.show.scene import scene


def views(without: tuple[str, ...] = ()):
    figure = gather(*scene(without=without))
    return figure, {view.key: view for view in page_views(figure)}


def test_every_view_is_there_and_is_a_frame():
    """Eight views, each with right-handed unit axes."""
    _, found = views()
    assert list(found) == [
        "front", "side", "back", "top", "left_hand", "right_hand", "face", "feet",
    ]  # fmt: skip
    for view in found.values():
        assert view.axes @ view.axes.T == pytest.approx(np.eye(3), abs=1e-9)
        assert np.linalg.det(view.axes) == pytest.approx(1.0)
        assert (view.high > view.low).all()


@pytest.mark.parametrize(
    ("key", "ending"),
    [("left_hand", "_1"), ("right_hand", "_tip"), ("face", "_eye"), ("feet", "_ball")],
)
def test_a_view_shows_its_joints(key, ending):
    """The joints that a view is for lie in its box."""
    figure, found = views()
    view = found[key]
    names = [n for n in figure.places if n.endswith(ending) and view_for(n) == key]
    assert names
    for name in names:
        seen = 100.0 * view.axes[:2] @ figure.places[name]
        assert (view.low < seen).all(), name
        assert (seen < view.high).all(), name


def test_the_whole_figure_is_in_the_front_view():
    """Every joint lies in the box of the front view, which is about a height tall."""
    figure, found = views()
    seen = 100.0 * np.array(list(figure.places.values())) @ found["front"].axes[:2].T
    assert (seen >= found["front"].low - 1e-6).all()
    assert (seen <= found["front"].high + 1e-6).all()
    assert 90 < found["front"].high[1] - found["front"].low[1] < 130


def test_what_is_not_there_has_no_view():
    """Without wrists, ankles and a head no close view is offered."""
    _, found = views(
        ("wrist", "thumb", "index", "middle", "ring", "pinky", "head", "ankle", "ball", "toe")
    )
    assert list(found) == ["front", "side", "back", "top"]
