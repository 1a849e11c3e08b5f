"""Learns where a thumb's base lies from the thumb beyond it: `python -m tests.hands.learn_thumb`.

Learns from the dataset's bodies that may be looked at while tuning, and from what is invented:
hands alone of even number and of a further deal, hands made of boxes, and whole figures, of even
number too. None of these is reported on. All are learned together, people counting twice: one
straight law cannot jump from one family to the other where a rough mesh makes a hand look like
both. Writes `templates/readings/thumb.json`; how it is learned is said in
`tests/dataset/learn_readings.py`.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from unittest import mock

import numpy as np

from autoplace.data import data_folder
from autoplace.files.atomic import write_whole
from autoplace.place import readings
from autoplace.place.thumb_shape import ThumbShape
from meshes.box_family import BoxMember
from meshes.box_family import box_family as box_figures
from meshes.family import Member, family
from meshes.hand_boxes import box_family
from meshes.hand_family import HandMember, hand_family
from tests.dataset.bodies import BodySpec, build
from tests.dataset.learn_readings import FOLDS, Example, learn, specs, text_of
from tests.family.built import built
from tests.hands import placing

KIND, JOINT = "thumb", "thumb_1"
BODIES = 64
"""Bodies learned from, without the extremes; hands differ less than trunks."""
DEAL = 1
COMPONENTS, RIDGE = 9, 30.0
"""With a ridge of 3 the base of people is read a fifth nearer, and a rough mesh moves it twice as
far."""
PEOPLE = 2
"""How often people count: there are about four times as many invented hands."""
SOURCE = (
    "principal components and ridge regression on those of the open dataset's bodies that may be "
    "tuned on and on invented hands and figures, none of which is reported on"
)
FOUND = 0.15
"""A thumb whose knuckle lies farther off, shares of the hand, was not found."""
LEARNED = "tests.hands.learn_thumb"


def seen_while(place: Callable[[], object]) -> list[ThumbShape]:
    """The thumbs whose base would be read in a placing, which goes on without the reading."""
    found: list[ThumbShape] = []
    original = readings.read_joint

    def recorded(kind: str, joint: str, shape, note: str):
        if kind != KIND:
            return original(kind, joint, shape, note)
        found.append(shape)
        return None

    with mock.patch.object(readings, "read_joint", recorded):
        place()
    return found


def example(shape: ThumbShape, known: np.ndarray, group: str, invented: bool) -> Example:
    """A thumb and where its base is known to be, working frame."""
    unit = 100.0 * shape.hand.length
    at = shape.coordinates(known)
    return Example(KIND, JOINT, group, group, shape.values, at, unit, invented)


def of_figure(
    character, joints: dict[str, np.ndarray], group: str, invented: bool
) -> list[Example]:
    """Both thumbs of a placed character."""
    import autoplace

    frames = []
    shapes = seen_while(lambda: frames.append(autoplace.place(character).frame))
    found = []
    for shape in shapes:
        names = [f"{shape.hand.side}_thumb_{number}" for number in (1, 2)]
        if not all(name in joints for name in names):
            continue
        base, knuckle = (frames[0].to_working(joints[name]) for name in names)
        if np.linalg.norm(shape.joints[0] - knuckle) < FOUND * shape.hand.length:
            found.append(example(shape, base, group, invented))
    return found


def of_one(one: BodySpec | HandMember | Member | BoxMember) -> list[Example]:
    """All that one body, figure or hand shows; nothing where its fingers are not found."""
    if isinstance(one, BodySpec):
        body = build(one)
        return of_figure(body.character, body.joints, one.build_name, False)
    if isinstance(one, HandMember):
        group = f"hand, fold {one.number // 2 % FOLDS}"
        hand = placing.build(one)
        placed: list[placing.HandPlacement | None] = []
        shapes = seen_while(lambda: placed.append(placing.place(hand)[0]))
        if placed[0] is None or not placing.scored(hand, placed[0]).named or not shapes:
            return []
        return [example(shapes[0], hand.joints["thumb"][0], group, True)]
    known = built(one)
    shown = {name: at for name, at in known.joints.items() if name not in one.hidden}
    return of_figure(known.character, shown, f"figure, fold {number_of(one) // 2 % FOLDS}", True)


def number_of(one: Member | BoxMember) -> int:
    """Place in its family."""
    name = one.params.name if isinstance(one, Member) else one.name
    return int(name[1:4])


def everything(bodies: int = BODIES) -> list[BodySpec | HandMember | Member | BoxMember]:
    """All that may be looked at and is learned from."""
    hands = [*hand_family(), *hand_family(DEAL), *box_family()]
    return [
        *specs(bodies),
        *(hand for hand in hands if hand.tuning),
        *family()[::4],
        *box_figures()[::2],
    ]


def main() -> None:
    parser = argparse.ArgumentParser(prog=f"python -m {LEARNED}")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    with ProcessPoolExecutor(options.workers) as pool:
        found: Iterable[list[Example]] = pool.map(of_one, everything())
        examples = [one for some in found for one in some]
    people = [one for one in examples if not one.invented]
    known = learn(examples + (PEOPLE - 1) * people, COMPONENTS, RIDGE, SOURCE)
    path = Path(data_folder("templates")) / "readings" / f"{KIND}.json"
    write_whole(path, text_of(known, LEARNED).encode())


if __name__ == "__main__":
    main()
