"""Both hands of a character: how many fingers they have should agree.

Characters are built in mirror image and posed afterwards, so that both hands have as many fingers.
Where they seem to differ, one was read wrongly: fingers of a fist are grown together, those of an
open hand stand free. The hand that is surer tells the other how many to look for. If these do not
show there, the mesh says otherwise, and each keeps its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from autoplace.measure.hand_shape import HandShape
from autoplace.measure.not_found import NotFound

__all__ = ["Shape", "agreeing_hands"]

Shape = HandShape | NotFound
Read = Callable[[str, float | None, int | None], Shape]

OTHERS = {"left": "right", "right": "left"}


def agreeing_hands(read: Read, told: Mapping[str, bool]) -> dict[str, Shape]:
    """Both hands, one of them read again where they differ.

    Args:
        read: measures the hand of a side, with another length (or None) and with so many fingers
            to look for (or None).
        told: by side, whether the user says which fingers that hand has. Only the other one may be
            read again then.

    Returns:
        The hand of each side. One that was read again says so in a note and in `told`; where the
        hands go on differing, a note says that.
    """
    hands = {side: read(side, None, None) for side in OTHERS}
    left, right = (_count(hands[side]) for side in OTHERS)
    if left == right:
        return hands
    sure = max(OTHERS, key=lambda side: (told[side], _sureness(hands[side]), _count(hands[side])))
    other, model = OTHERS[sure], hands[sure]
    if isinstance(model, NotFound) or _count(model) < 2 or told[other]:
        return hands
    before, wanted = _count(hands[other]), _count(model)
    for length in (None, model.length):
        again = read(other, length, wanted)
        if isinstance(again, HandShape):
            note = f"read with {wanted} fingers like the {sure} hand; by itself it shows {before}"
            hands[other] = replace(again, told=True, notes=(*again.notes, note))
            return hands
    less = hands[other]
    if isinstance(less, HandShape):
        note = f"it shows {before} fingers and the {sure} hand {wanted}"
        hands[other] = replace(less, notes=(*less.notes, note))
    return hands


def _count(hand: Shape) -> int:
    return hand.expected_count if isinstance(hand, HandShape) else 0


def _sureness(hand: Shape) -> int:
    """How far a hand's number of fingers is to be believed: an open hand before a fist, and that
    before one that shows no separate fingers."""
    if isinstance(hand, NotFound):
        return 0
    if hand.folded or hand.finger_count < 2:
        return 1
    return 2 if hand.closed else 3
