"""Skin hangs on the skin of the joint above: which patches do, along lines of places."""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.skin.skin_patches import loose_patches, patches

PELVIS, CHEST, NECK, HEAD, ARM, HAND, LEG = range(7)
PARENTS = np.array([-1, PELVIS, CHEST, NECK, CHEST, ARM, PELVIS])


def loose(*strips, piece=None):
    """(p,) True for loose places of a strip of skin, given as (joint, number of places)."""
    owner = np.concatenate([np.full(count, joint) for joint, count in strips])
    steps = np.arange(len(owner))
    edges = np.stack([steps[:-1], steps[1:]], axis=1)
    same = owner[edges[:, 0]] == owner[edges[:, 1]]
    patch = patches(len(owner), edges[same])
    pieces = np.zeros(len(owner), dtype=int) if piece is None else piece
    return loose_patches(owner, pieces, patch, np.ones(len(owner)), edges[~same], PARENTS)[patch]


def spread(found, *counts):
    """One truth a strip; every strip is loose as a whole or not at all."""
    ends = np.cumsum(counts)
    parts = [found[end - count : end] for end, count in zip(ends, counts, strict=True)]
    assert all(part.all() or not part.any() for part in parts)
    return [bool(part.all()) for part in parts]


def test_a_body_is_firm_from_root_to_ends():
    """Skin in the order of the tree is all firm, from either end."""
    strips = [(LEG, 6), (PELVIS, 5), (CHEST, 8), (NECK, 2), (HEAD, 5)]
    assert not loose(*strips).any()
    assert not loose(*strips[::-1]).any()


def test_a_large_patch_beyond_the_joint_below_is_loose():
    """More skin is near the neck in the mouth, past the head, than there is on the neck itself."""
    strips = [(PELVIS, 5), (CHEST, 8), (NECK, 2), (HEAD, 9), (NECK, 6), (CHEST, 4)]
    found = loose(*strips)
    assert spread(found, *(n for _, n in strips)) == [False, False, False, False, True, True]


def test_skin_of_another_limb_is_loose_however_large():
    """A hand's bone is nearest to a stretch of the thigh that is longer than all its own skin."""
    strips = [(HAND, 3), (ARM, 6), (CHEST, 8), (PELVIS, 5), (LEG, 5), (HAND, 20)]
    found = loose(*strips)
    assert spread(found, *(n for _, n in strips)) == [False] * 5 + [True]


def test_a_small_patch_is_loose_where_the_tree_would_let_it_be():
    """An arm's patch on the chest of a tenth of its skin is an island."""
    assert spread(loose((ARM, 10), (CHEST, 8), (ARM, 1)), 10, 8, 1) == [False, False, True]


def test_joints_without_skin_are_passed_over():
    """A head may hang on a chest whose neck shows nowhere, and a piece may begin with an arm."""
    assert not loose((PELVIS, 5), (CHEST, 8), (HEAD, 5)).any()
    assert not loose((ARM, 5), (HAND, 5)).any()


def test_what_nothing_leads_to_is_kept_if_more_than_its_own_lies_beside_it():
    """A chain with a gap: the hand hangs on the leg alone and is kept, for it has no other skin.

    A neck with nothing but the head beside it is no such thing.
    """
    assert not loose((HAND, 5), (LEG, 8), (PELVIS, 5), (CHEST, 5), (ARM, 5)).any()
    found = loose((NECK, 3), (HEAD, 8), (CHEST, 5), (PELVIS, 5))
    assert spread(found, 3, 8, 5, 5) == [True, False, False, False]


def test_each_piece_of_the_surface_is_judged_alone():
    """Skin of two pieces: the second begins where it begins, whatever the first holds."""
    strips = [(PELVIS, 5), (CHEST, 8), (NECK, 4), (HEAD, 6)]
    owner = np.concatenate([np.full(count, joint) for joint, count in strips])
    edges = np.array([[i, i + 1] for i in range(len(owner) - 1) if i != 12])
    piece = patches(len(owner), edges)
    same = owner[edges[:, 0]] == owner[edges[:, 1]]
    patch = patches(len(owner), edges[same])
    found = loose_patches(owner, piece, patch, np.ones(len(owner)), edges[~same], PARENTS)
    assert not found.any()
