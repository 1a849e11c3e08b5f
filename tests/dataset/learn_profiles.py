"""Learns where a knee lies from its leg's profile: `python -m tests.dataset.learn_profiles`.

Learns from the dataset's young women only, which no report counts, and writes
`templates/limb_profiles/*.toml`. The spread comes from leaving out one build after the other, so
that it tells of builds that were not learned from.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from autoplace.data import data_folder
from tests.dataset.bodies import POSES, TUNING_GROUP, BodySpec, build, spec_of

COUNT = 117
SHARES = np.round(np.linspace(0.30, 0.85, 12), 3)
RIDGE = 100.0
"""Weight of the ridge, in bodies' limbs."""
FAMILIAR = 0.8
WITHIN_ONE = 0.683
"""Share of errors within one standard deviation; the spread is the error that so many stay under,
since a few far ones must not decide it."""
BINS = ((0.0, FAMILIAR), (FAMILIAR, 1.2), (1.2, 9.0))


@dataclass(frozen=True)
class Example:
    """One limb with its known joint."""

    build: str
    values: np.ndarray
    share: float


def specs(count: int = COUNT) -> list[BodySpec]:
    """Young women of all builds, most of them in random poses and of proportions of their own."""
    return [
        spec_of(
            TUNING_GROUP,
            2 * i + i // 9,
            POSES[i % len(POSES)] if i % 2 else "random",
            5000 + i,
            1 if i % 4 else 0,
        )
        for i in range(count)
    ]


def share_of(line: np.ndarray, arc: np.ndarray, joint: np.ndarray) -> float:
    """Share of the line's length at the point nearest to the joint."""
    at = np.linspace(0.0, arc[-1], 2001)
    points = np.stack([np.interp(at, arc, line[:, axis]) for axis in range(3)], axis=1)
    return float(at[int(np.argmin(((points - joint) ** 2).sum(axis=1)))] / arc[-1])


def examples_of(spec: BodySpec) -> list[Example]:
    """Both legs of one body, measured as `place` measures them."""
    import autoplace
    from autoplace.place import legs

    body = build(spec)
    profiles = []
    original = legs.leg_profile

    def recorded(*arguments):
        profile = original(*arguments)
        profiles.append((arguments[0].side, profile))
        return profile

    legs.leg_profile = recorded
    try:
        frame = autoplace.place(body.character).frame
    finally:
        legs.leg_profile = original
    found = []
    for side, profile in profiles:
        if profile is not None:
            joint = frame.to_working(body.joints[f"{side}_knee"])
            share = share_of(profile.line, profile.arc, joint)
            found.append(Example(f"{spec.muscle} {spec.weight}", profile.values, share))
    return found


def fit(values: np.ndarray, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Mean, scale, weights and constant of the ridge regression."""
    mean, scale = values.mean(axis=0), values.std(axis=0)
    z = (values - mean) / scale
    middle = float(shares.mean())
    weight = np.linalg.solve(z.T @ z + RIDGE * np.eye(z.shape[1]), z.T @ (shares - middle))
    return mean, scale, weight, middle


def misses_by_build(examples: list[Example]) -> tuple[np.ndarray, np.ndarray]:
    """Error of the share and strangeness of each limb, its own build left out of learning."""
    values = np.array([example.values for example in examples])
    shares = np.array([example.share for example in examples])
    builds = np.array([example.build for example in examples])
    error, strange = np.zeros(len(shares)), np.zeros(len(shares))
    for name in np.unique(builds):
        out = builds == name
        mean, scale, weight, middle = fit(values[~out], shares[~out])
        z = (values[out] - mean) / scale
        error[out] = middle + z @ weight - shares[out]
        strange[out] = np.sqrt((z**2).mean(axis=1))
    return error, strange


def learn(examples: list[Example]) -> dict[str, object]:
    """Everything the reader needs."""
    values = np.array([example.values for example in examples])
    shares = np.array([example.share for example in examples])
    mean, scale, weight, middle = fit(values, shares)
    error, strange = misses_by_build(examples)
    typical = [
        float(np.quantile(np.abs(error[(strange >= low) & (strange < high)]), WITHIN_ONE))
        for low, high in BINS
    ]
    centre = float(np.median(strange[strange >= BINS[-1][0]]))
    growth = max(np.log(typical[-1] / typical[0]) / np.log(centre / FAMILIAR), 1.0)
    for (low, high), miss in zip(BINS, typical, strict=True):
        count = int(((strange >= low) & (strange < high)).sum())
        print(f"strangeness {low:.1f} to {high:.1f}: {count} limbs, {100 * miss:.2f} % of the limb")
    return {
        "shares": SHARES,
        "mean": mean,
        "scale": scale,
        "weight": weight,
        "share": middle,
        "spread": typical[0],
        "familiar": FAMILIAR,
        "growth": growth,
    }


def text_of(record: dict[str, object], count: int) -> str:
    """The file: numbers rounded to what they mean."""
    lines = [
        "# Learned by `python -m tests.dataset.learn_profiles`; do not edit by hand.",
        "source = \"ridge regression on the legs of the open dataset's young women "
        f'({count} legs), the only bodies that may be tuned on"',
    ]
    for name, value in record.items():
        if isinstance(value, np.ndarray):
            numbers = ", ".join(f"{number:.5g}" for number in value)
            lines.append(f"{name} = [{numbers}]")
        else:
            lines.append(f"{name} = {value:.5g}")
    return "\n".join(lines) + "\n"


def learn_knee(workers: int) -> tuple[dict[str, object], int]:
    """The knee's reader, and from how many legs."""
    with ProcessPoolExecutor(workers) as pool:
        examples = [e for found in pool.map(examples_of, specs()) for e in found]
    return learn(examples), len(examples)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.dataset.learn_profiles")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    record, count = learn_knee(options.workers)
    path = Path(data_folder("templates")) / "limb_profiles" / "knee.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text_of(record, count), encoding="utf-8")
    print(path.name, "written from", count, "legs")


if __name__ == "__main__":
    main()
