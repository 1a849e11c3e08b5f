"""The picture of the axes: rods where the axes point, the bend axis heavy, the same every time."""

from __future__ import annotations

import numpy as np
import pytest

from autoplace.show.axes_sheet import compose_axes_sheet, render_axes_sheet
from autoplace.show.palette import AXES
from autoplace.skeleton.convention import Convention
from autoplace.skeleton.orient import orient
from tests.figures import standard_skeleton, without


def pixels_of(picture, box, colour):
    left, top, right, bottom = box
    top += 60  # below the letters of the legend
    return int(np.all(picture[top:bottom, left:right] == np.array(colour), axis=2).sum())


@pytest.mark.parametrize(("bend", "row"), [("+X", 0), ("+Z", 2)])
def test_the_bend_axis_is_the_heaviest(bend, row):
    """On every card but the one that looks along it, more ink is in the colour of the bend axis."""
    skeleton = orient(standard_skeleton("T"), Convention(bend=bend))
    sheet = compose_axes_sheet(skeleton)
    picture = np.asarray(sheet.image)
    front = next(panel for panel in sheet.panels if panel.title == "Front")
    inks = [pixels_of(picture, front.box, colour) for colour in AXES]
    assert int(np.argmax(inks)) == row


@pytest.mark.parametrize("missing", [(), ("left_",), ("thumb", "index", "middle", "ring", "pinky")])
def test_a_figure_that_lacks_joints_is_drawn_all_the_same(missing):
    """Cards of what is not there are empty, the others are not."""
    skeleton = orient(without(standard_skeleton("A"), *missing))
    sheet = compose_axes_sheet(skeleton, width=1200)
    titles = [panel.title for panel in sheet.panels]
    assert titles[:2] == ["Front", "From the left"]
    assert len(titles) == 6


def test_the_same_skeleton_gives_the_same_picture_at_any_scale():
    """Pixel for pixel, and also for a figure a thousand times as large."""
    skeleton = orient(standard_skeleton("A"))
    large = skeleton.with_joints(
        tuple(type(j)(j.name, j.parent, 1000.0 * j.position, j.axes) for j in skeleton)
    )
    one, two = (np.asarray(render_axes_sheet(s, width=800)) for s in (skeleton, large))
    assert np.array_equal(one, np.asarray(render_axes_sheet(skeleton, width=800)))
    assert np.mean(one != two) < 1e-3
