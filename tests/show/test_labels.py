from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from autoplace.show.labels import Tag, place_around, place_in_columns

PANEL = (0.0, 0.0, 400.0, 300.0)


def overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def crowd(seed, count=22, width=60.0):
    """Tags at random places in the panel's middle."""
    random = np.random.default_rng(seed)
    places = random.uniform((120, 10), (280, 290), (count, 2))
    return [Tag(f"joint_{i}", f"joint_{i}", tuple(p), width) for i, p in enumerate(places)]


@pytest.mark.parametrize("seed", range(8))
def test_names_in_columns_never_overlap(seed):
    """However the joints lie, each name stands in the panel and touches no other."""
    labels = place_in_columns(crowd(seed), PANEL, 100.0, 300.0, 14.0)
    assert len(labels) == 22
    for label in labels:
        assert label.box[1] >= PANEL[1] - 1e-6
        assert label.box[3] <= PANEL[3] + 1e-6
    assert not any(overlap(a.box, b.box) for a, b in combinations(labels, 2))


def test_leader_lines_of_a_column_do_not_cross():
    """Names change places until no two lines on one side cross."""
    for seed in range(8):
        labels = place_in_columns(crowd(seed), PANEL, 100.0, 300.0, 14.0)
        for a, b in combinations(labels, 2):
            if a.to_right != b.to_right:
                continue
            assert not crosses(a.anchor, a.elbow, b.anchor, b.elbow)


def crosses(a, b, c, d):
    def side(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def test_a_name_alone_stands_at_its_joint():
    """Without crowding the leader line is level."""
    (label,) = place_in_columns([Tag("a", "a", (250.0, 77.0), 20.0)], PANEL, 100.0, 300.0, 14.0)
    assert label.elbow[1] == pytest.approx(77.0)
    assert label.to_right


def test_a_finger_stays_in_one_column():
    """Tags of one group are all on one side."""
    tags = [
        Tag(f"{finger}_{k}", "x", (120.0 + 40 * i + 3 * k, 40.0 * k + 20), 30.0, finger)
        for i, finger in enumerate(("index", "middle", "ring", "pinky"))
        for k in range(4)
    ]
    labels = place_in_columns(tags, PANEL, 100.0, 300.0, 14.0)
    for finger in ("index", "middle", "ring", "pinky"):
        assert len({la.to_right for la in labels if la.joint.startswith(finger)}) == 1
    assert {la.to_right for la in labels} == {True, False}


@pytest.mark.parametrize("seed", range(4))
def test_names_around_never_overlap_and_stay_inside(seed):
    """Names set near their joints touch no other, no taken box and not the panel's edge."""
    covered = np.zeros((300, 400), dtype=bool)
    covered[:, 150:250] = True
    taken = [(0.0, 0.0, 80.0, 300.0)]
    labels = place_around(crowd(seed, 16), PANEL, covered, 14.0, taken)
    assert len(labels) >= 14
    boxes = [label.box for label in labels] + taken
    assert not any(overlap(a, b) for a, b in combinations(boxes, 2))
    for box in boxes:
        assert box[0] >= 0
        assert box[1] >= 0
        assert box[2] <= 400
        assert box[3] <= 300


def test_names_go_to_free_ground():
    """A joint inside the figure gets its name beside the figure, where there is room."""
    covered = np.zeros((300, 400), dtype=bool)
    covered[:, 170:230] = True
    (label,) = place_around([Tag("a", "a", (200.0, 150.0), 40.0)], PANEL, covered, 14.0)
    assert label.box[2] <= 170 or label.box[0] >= 230
