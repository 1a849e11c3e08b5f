"""The invented family itself: wide enough, always the same, and true to its joints."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from meshes.family import COUNT, family
from tests.family import built as by_family
from tests.family.built import as_arrays, built, kept
from tests.family.placing import swapped_sides
from tests.family.report import TRAITS


@pytest.fixture(scope="module")
def members():
    return family()


def test_family_is_as_wide_as_promised(members):
    """At least 200 members, two to nine heads tall, hips at a quarter to 60 percent of the height;
    every kind of every trait occurs three times or more."""
    assert len(members) == COUNT >= 200
    assert len({member.name for member in members}) == COUNT
    heads = [member.params.heads for member in members]
    assert min(heads) < 2.3
    assert max(heads) > 8.6
    hips = [member.params.hip for member in members]
    assert 0.25 <= min(hips) < 0.28
    assert 0.57 < max(hips) <= 0.60
    for trait in set(TRAITS) - {"template"}:
        kinds = [member.traits[trait] for member in members]
        few = {kind for kind in kinds if kinds.count(kind) < 3}
        assert not few, f"{trait}: {few}"


def test_building_gives_the_same_numbers_twice(members):
    """A member built again, and from a new list, has the same parts, triangles and joints as the
    one that was built and kept, by this run or an earlier one."""
    member = next(m for m in members if m.traits["faces"] == "1200")
    again = family()[members.index(member)]
    assert member == again
    one, two = built(member), as_arrays(again)
    assert [part.name for part in one.character.parts] == list(two["parts"])
    for number, part in enumerate(one.character.parts):
        assert np.array_equal(part.vertices, two[f"vertices_{number}"])
        assert np.array_equal(part.faces, two[f"faces_{number}"])
    assert list(one.joints) == list(two["names"])
    assert np.array_equal(list(one.joints.values()), two["joints"])


def test_kept_member_is_the_built_one(members):
    """What comes from the cache is what was built, parts, triangles and joints."""
    member = next(m for m in members if m.traits["skin"] == "robot")
    one, fresh = built(member), as_arrays(member)
    assert [part.name for part in one.character.parts] == list(fresh["parts"])
    assert np.array_equal(one.character.parts[0].vertices, fresh["vertices_0"])
    assert np.array_equal(list(one.joints.values()), fresh["joints"])


def test_what_another_machine_built_is_not_taken(monkeypatch, tmp_path):
    """A machine that rounds otherwise builds otherwise: it keeps its own beside the first one's."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    made: list[str] = []

    def make(which: str):
        made.append(which)
        return [], {"pelvis": np.zeros(3)}

    try:
        for which in ("first", "other", "first"):
            monkeypatch.setattr(by_family, "rounding_digest", lambda which=which: which)
            by_family.source_digest.cache_clear()
            kept("figure", "the same", lambda which=which: make(which))
    finally:
        by_family.source_digest.cache_clear()
    assert made == ["first", "other"]


def test_floor_long_skirt_hides_the_legs(members):
    """Round the legs, at every height and in every direction, the skirt is the outermost."""
    member = next(
        m for m in members if m.traits["garment"] == "skirt_floor" and m.traits["names"] == "told"
    )
    one = built(member)
    parts = {part.name: part.vertices @ one.file_axes / one.height for part in one.character.parts}
    knee = one.joints["left_knee"] @ one.file_axes / one.height

    def outermost(points: np.ndarray, low: float, high: float) -> np.ndarray:
        some = points[(points[:, 1] >= low) & (points[:, 1] < high)]
        turn = np.degrees(np.arctan2(some[:, 0], some[:, 2])) % 360 // 30
        reach = np.hypot(some[:, 0], some[:, 2])
        return np.array([reach[turn == k].max(initial=0.0) for k in range(12)])

    bands = np.linspace(0.01, float(knee[1]), 4)
    for low, high in pairwise(bands):
        skirt = outermost(parts["skirt"], low, high)
        body = outermost(parts["body"], low, high)
        assert (skirt > body).all(), (low, skirt, body)


def test_swaps_are_told_from_errors():
    """A joint nearer to the other side's place counts as swapped, one merely off does not."""
    known = {"left_knee": np.array([0.1, 0.5, 0.0]), "right_knee": np.array([-0.1, 0.5, 0.0])}
    placed = {"left_knee": np.array([-0.05, 0.5, 0.0]), "right_knee": np.array([-0.01, 0.4, 0.0])}
    assert swapped_sides(placed, known) == ("left_knee",)
