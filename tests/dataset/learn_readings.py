"""Learns where joints lie from the shape around them: `python -m tests.dataset.learn_readings`.

Learns from the dataset's bodies that may be looked at while tuning, which no report counts, and
from every second member of the invented family, each by itself, and writes
`templates/readings/*.json`. The spread comes from leaving out one build after the other, so that it
tells of builds that were not learned from; how a whole sex and age does that was left out is
printed beside it.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from unittest import mock

import numpy as np

from autoplace.data import data_folder
from autoplace.files.atomic import write_whole
from autoplace.files.json_text import laid_out, plain
from autoplace.mesh.character import Character
from autoplace.place import readings
from autoplace.place.readings import KnownShapes, Reader
from meshes.family import Member, family
from tests.dataset.bodies import (
    OPEN_GROUP,
    POSES,
    REPORT_BUILDS,
    BodySpec,
    build,
    open_spec,
    spec_of,
)
from tests.family.built import built

COUNT = 288
EXTREMES = 60
"""Bodies of the group whose every build may be looked at, in those builds that are open of no
other: shapes both fat and muscular, or neither, are strange to what is learned from the rest."""
ROUNDS = (("trunk", "trunk_and_leg", "trunk_and_arm"), ("leg", "arm"))
"""Kinds of shape learned at once; a limb's is read between joints that are placed before."""
INVENTED = ("trunk_and_leg", "trunk_and_arm", "leg", "arm")
"""Kinds learned from invented figures too; the whole trunk is not, where heads differ too much."""
MADE_ALIKE = 0.01
"""Least spread of what is learned from invented figures, in the shape's own unit: one script made
them all, and other people's figures differ more than these (common practice, no source)."""
FOLDS = 4
"""Into so many groups the invented figures are dealt, each of which is left out like a build."""
COMPONENTS = {"trunk": 24, "trunk_and_leg": 24, "trunk_and_arm": 28, "leg": 16, "arm": 16}
"""Of each kind; a third more or less changes no error on left-out builds by a twentieth."""
HIP_ASIDE = 0.010
"""Adults learned from have their hips this much farther from the middle than publications put them,
share of the trunk: .151 (the dataset's open young bodies) against .141 (ISO/IEC 19774-1 nominal
figure, .0549 of stature; Bell et al. 1990 and Harrington et al. 2007 give less). It is taken off,
so that the reading tells how a body differs from the mean one: hips of the old lie farther out. A
pelvis does widen, by about 20 mm from 20 to 80 years (Berger et al. 2011, from memory). Babies have
theirs where the template has them, .139, and keep them."""
RIDGE = 100.0
"""Weight of the ridge, in bodies; a third of it or three times as much changes as little."""
SOURCE = (
    "principal components and ridge regression on those of the open dataset's bodies that may be "
    "tuned on, none of which is reported on"
)
SOURCE_INVENTED = (
    "principal components and ridge regression on every second member of the invented family, none "
    "of which is reported on by itself"
)
WITHIN_ONE = 0.683
"""Share of errors within one standard deviation; the spread is the error that so many stay under,
since a few far ones must not decide it."""


@dataclass(frozen=True)
class Example:
    """One measured shape and where its joint is."""

    kind: str
    joint: str
    group: str
    build: str
    values: np.ndarray
    at: np.ndarray
    """(3,) the known joint in the shape's own coordinates."""
    unit: float
    """What one unit of these is, percent of height."""
    invented: bool = False
    """Whether the figure is an invented one."""


def specs(count: int = COUNT) -> list[BodySpec]:
    """Bodies of all that may be looked at, most of them of proportions of their own, in all poses
    of the report and as many random ones; `count` without the extremes."""
    found = []
    for i in range(count):
        pose = POSES[i // 8 % len(POSES)] if i // 8 % 2 else "random"
        found.append(open_spec(i, pose, 5000 + i, 1 if (i + i // 8) % 4 else 0))
    for i in range(EXTREMES * count // COUNT):
        extreme = REPORT_BUILDS[i % len(REPORT_BUILDS)]
        pose = POSES[i // len(REPORT_BUILDS) % len(POSES)]
        found.append(spec_of(OPEN_GROUP, extreme, pose, 7000 + i, 1 if i % 4 else 0))
    return found


def members() -> list[Member]:
    """The invented figures that may be looked at: every second of the family."""
    return family()[::2]


def of_body(spec: BodySpec, kinds: tuple[str, ...]) -> list[Example]:
    """All shapes of these kinds of one body."""
    body = build(spec)
    found = examples_of(body.character, body.joints, kinds, (spec.group, spec.build_name))
    aside = np.array([HIP_ASIDE if spec.age != "baby" else 0.0, 0.0, 0.0])
    return [replace(one, at=one.at - aside) if one.joint == "hip" else one for one in found]


def of_member(member: Member, kinds: tuple[str, ...]) -> list[Example]:
    """All shapes of these kinds of one invented figure, but of limbs that a garment hides."""
    known = built(member).joints
    shown = {name: at for name, at in known.items() if name not in member.hidden}
    # every second member is taken, so that folds go by half of its number
    fold = f"invented, fold {int(member.params.name[1:4]) // 2 % FOLDS}"
    found = examples_of(built(member).character, shown, kinds, (fold, fold))
    return [replace(one, invented=True) for one in found]


def examples_of(
    character: Character,
    joints: dict[str, np.ndarray],
    kinds: tuple[str, ...],
    left_out_with: tuple[str, str],
) -> list[Example]:
    """All shapes of these kinds of one character, as `place` measures them without reading them or
    kinds that are learned later.

    Args:
        character: the mesh. joints: where its joints are known to be, by name.
        kinds: one of `ROUNDS`. left_out_with: names of the group and of the build that it is in.
    """
    import autoplace

    unread = {kind for some in ROUNDS[ROUNDS.index(kinds) :] for kind in some}
    seen: dict[tuple[str, str, float], readings.Shape] = {}
    original = readings.read_joint

    def recorded(kind: str, joint: str, shape, note: str):
        if kind not in unread:
            return original(kind, joint, shape, note)
        if kind in kinds and shape is not None:
            # the last reading of a joint is the one that counts
            seen[kind, joint, shape.outward] = shape
        return None

    with mock.patch.object(readings, "read_joint", recorded):
        frame = autoplace.place(character).frame
    found = []
    for (kind, joint, outward), shape in seen.items():
        name = joint if joint in joints else f"{'left' if outward > 0 else 'right'}_{joint}"
        if name not in joints:
            continue
        at = shape.coordinates(frame.to_working(joints[name]))
        unit = 100.0 * float(np.linalg.norm(shape.axes(at)[:, 1]))
        found.append(Example(kind, joint, *left_out_with, shape.values, at, unit))
    return found


def describe(values: np.ndarray, count: int) -> KnownShapes:
    """Shapes (m, n) described by `count` components, nothing said of joints yet."""
    mean, scale = values.mean(axis=0), values.std(axis=0)
    scale = np.maximum(scale, 1e-6 + 0.01 * np.median(scale))
    standard = (values - mean) / scale
    basis = np.linalg.svd(standard, full_matrices=False)[2][:count]
    # the sign of a component is free: its largest share is made positive
    largest = np.argmax(np.abs(basis), axis=1)
    basis = basis * np.sign(basis[np.arange(count), largest])[:, None]
    deviation = (standard @ basis.T).std(axis=0)
    return KnownShapes(mean, scale, basis, deviation, 1.0, 1.0, {}, SOURCE)


def fit(known: KnownShapes, values: np.ndarray, at: np.ndarray, ridge: float = RIDGE) -> Reader:
    """The ridge regression of the components of (m, n) values on (m, 3) coordinates."""
    parts, middle = known.components(values), at.mean(axis=0)
    square = parts.T @ parts + ridge * np.eye(parts.shape[1])
    weight = np.linalg.solve(square, parts.T @ (at - middle))
    return Reader(weight.T, middle, np.zeros(3))


def usual(values: np.ndarray, builds: np.ndarray, count: int) -> tuple[float, float]:
    """What usually remains of a shape of a build that was left out, and its usual reach."""
    rest, reach = np.zeros(len(values)), np.zeros(len(values))
    for name in np.unique(builds):
        out = builds == name
        known = describe(values[~out], count)
        standard = (values[out] - known.mean) / known.scale
        along = standard @ known.basis.T
        rest[out] = np.sqrt(((standard - along @ known.basis) ** 2).mean(axis=1))
        reach[out] = np.sqrt(((along / known.deviation) ** 2).mean(axis=1))
    return float(np.quantile(rest, WITHIN_ONE)), float(np.quantile(reach, WITHIN_ONE))


def left_out(
    examples: list[Example], kinds: list[str], count: int, ridge: float = RIDGE
) -> np.ndarray:
    """(m, 3) error of each example, its own kind left out of learning."""
    values = np.array([example.values for example in examples])
    at = np.array([example.at for example in examples])
    error = np.zeros_like(at)
    for kind in dict.fromkeys(kinds):
        out = np.array([kind == other for other in kinds])
        known = describe(values[~out], count)
        reader = fit(known, values[~out], at[~out], ridge)
        error[out] = reader.middle + known.components(values[out]) @ reader.weight.T - at[out]
    return error


def told(error: np.ndarray, unit: np.ndarray) -> str:
    """Median and 95th percentile of errors, percent of height."""
    size = np.linalg.norm(error, axis=1) * unit
    return f"{np.median(size):.2f} / {np.percentile(size, 95):.2f}"


def learn(
    examples: list[Example], count: int, ridge: float = RIDGE, source: str | None = None
) -> KnownShapes:
    """Everything that is known of a kind of shape; prints how well its joints are read."""
    by_joint: dict[str, list[Example]] = {}
    for example in examples:
        by_joint.setdefault(example.joint, []).append(example)
    most = max(by_joint.values(), key=len)
    values = np.array([example.values for example in most])
    builds = np.array([example.build for example in most])
    rest, reach = usual(values, builds, count)
    source = source or (SOURCE_INVENTED if examples[0].invented else SOURCE)
    known = replace(describe(values, count), rest=rest, reach=reach, source=source)
    joints = {}
    for joint, some in by_joint.items():
        unit = np.array([example.unit for example in some])
        error = left_out(some, [example.build for example in some], count, ridge)
        by_group = left_out(some, [example.group for example in some], count, ridge)
        print(
            f"{joint:<9}{len(some):>5} shapes, percent of height: "
            f"build left out {told(error, unit)}, sex and age left out {told(by_group, unit)}"
        )
        shown = np.array([example.values for example in some])
        reader = fit(known, shown, np.array([example.at for example in some]), ridge)
        spread = np.quantile(np.abs(error), WITHIN_ONE, axis=0)
        least = MADE_ALIKE if examples[0].invented else 0.0
        joints[joint] = replace(reader, spread=np.maximum(spread, least))
    return replace(known, joints=joints)


def text_of(known: KnownShapes, module: str = "tests.dataset.learn_readings") -> str:
    """The file: numbers rounded to what they mean; `module` is what learned it."""

    rounded = np.vectorize(lambda number: float(f"{number:.4g}"))
    record = {
        "about": f"Learned by `python -m {module}`; do not edit by hand.",
        "source": known.source,
        "rest": float(rounded(known.rest)),
        "reach": float(rounded(known.reach)),
        "mean": rounded(known.mean),
        "scale": rounded(known.scale),
        "deviation": rounded(known.deviation),
        "basis": rounded(known.basis),
        "joints": {
            joint: {
                "middle": rounded(reader.middle),
                "spread": rounded(reader.spread),
                "weight": rounded(reader.weight),
            }
            for joint, reader in known.joints.items()
        },
    }
    return laid_out(plain(record)) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.dataset.learn_readings")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--bodies", type=int, default=COUNT, metavar="N")
    options = parser.parse_args()
    folder = Path(data_folder("templates")) / "readings"
    folder.mkdir(exist_ok=True)
    for kinds in ROUNDS:
        with ProcessPoolExecutor(options.workers) as pool:
            found = list(pool.map(partial(of_body, kinds=kinds), specs(options.bodies)))
            found += pool.map(partial(of_member, kinds=kinds), members())
            examples = [example for some in found for example in some]
        for kind in kinds:
            for invented, ending in enumerate(readings.KINDS_OF_FIGURES):
                own = [e for e in examples if e.kind == kind and e.invented == bool(invented)]
                if not invented or kind in INVENTED:
                    path = folder / f"{kind}{ending}.json"
                    write_whole(path, text_of(learn(own, COMPONENTS[kind])).encode())


if __name__ == "__main__":
    main()
