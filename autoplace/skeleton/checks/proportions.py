"""Are the bones of plausible length, by the skeleton's own template and by published hands?

Lengths of the body are held against the template that the skeleton names, since a small child has
other proportions than its parents, with the template's own spreads; a skeleton without one is held
against the adult's. What templates do not give (arms, hands and feet) is held against published
adults, in shares of the trunk, which keep better than shares of the height: a large head makes all
else small against the height and leaves these alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from autoplace.data import template_names
from autoplace.place.template import Template, load_template
from autoplace.skeleton.checks.figure import Figure, Limit, finding
from autoplace.skeleton.model import Finding
from autoplace.skeleton.names import SIDES

__all__ = ["RATIOS", "check_proportions"]

SPREADS, FAR = 4.0, 8.0
"""So many standard deviations of the template are worth a note, and a warning: drawn figures vary
more than the people that the templates' spreads come from; common practice, no source."""
FACTOR, FAR_FACTOR = 1.6, 2.56
"""The same for bones without a spread: so many times longer or shorter, and its square. Drawn
figures go from 3 to 9 heads tall where people have 7.5; common practice, no source."""
ANKLE_HEIGHT = 0.039
"""Of stature (Winter 2009), which the leg ends above the floor."""
TRUNK = 0.389
"""Crotch to chin over stature, as in the adult's template (US Army 2012 survey)."""
USUAL = "adult"


@dataclass(frozen=True)
class Length:
    """A length as published, in shares of stature, and the chain of joints it runs along."""

    what: str
    chain: tuple[str, ...]
    """Stems."""
    value: float
    source: str


LENGTHS = (
    Length("upper arm", ("shoulder", "elbow"), 0.162, "de Leva 1996, men"),
    Length("forearm", ("elbow", "wrist"), 0.154, "de Leva 1996, men"),
    Length(
        "hand",
        ("wrist", "middle_1", "middle_2", "middle_3", "middle_tip"),
        0.108,
        "de Leva 1996, men",
    ),
    # from the ankle, at .20 of the foot's length, to its end
    Length("foot", ("ankle", "ball", "toe_tip"), 0.8 * 0.152, "Winter 2009"),
)

RATIOS = (
    *(
        (
            f"middle against first phalanx of the {finger} finger",
            (f"{finger}_2", f"{finger}_3"),
            (f"{finger}_1", f"{finger}_2"),
            ratio,
        )
        for finger, ratio in (("index", 0.54), ("middle", 0.61), ("ring", 0.64), ("pinky", 0.57))
    ),
    # .378 / .505, .373 / .555, .338 / .531, .306 / .416 of the hand's length; against the whole
    # finger: modelled knuckles lie nearer to the web, which shortens the first phalanx most
    *(
        (
            f"metacarpal against the {finger} finger",
            (f"{finger}_metacarpal", f"{finger}_1"),
            (f"{finger}_1", f"{finger}_tip"),
            ratio,
        )
        for finger, ratio in (("index", 0.75), ("middle", 0.67), ("ring", 0.64), ("pinky", 0.74))
    ),
)
"""Of hands: what, the bone, the bone it is divided by, and the ratio of Buchholz et al. 1992."""


@dataclass(frozen=True)
class _Measure:
    """One length of a figure against what is expected."""

    what: str
    joint: str
    measured: float
    expected: float
    unit: str
    """What the numbers are shares of."""
    source: str
    spread: float | None = None
    """One standard deviation of `expected`; None when only a factor is known."""

    def level(self) -> str | None:
        """How far off it is: None, 'note' or 'warning'."""
        if self.spread is not None:
            off = abs(self.measured - self.expected) / self.spread
            return "warning" if off > FAR else "note" if off > SPREADS else None
        times = max(self.measured / self.expected, self.expected / max(self.measured, 1e-12))
        return "warning" if times > FAR_FACTOR else "note" if times > FACTOR else None

    def bound(self) -> float:
        """The limit on the side where the measured value lies."""
        above = self.measured > self.expected
        if self.spread is not None:
            return self.expected + (1.0 if above else -1.0) * SPREADS * self.spread
        return self.expected * FACTOR if above else self.expected / FACTOR


def check_proportions(figure: Figure) -> list[Finding]:
    """Bones far from what the template expects, as notes: a drawn character may be meant so.

    Beyond twice that they are warnings.
    """
    name = figure.skeleton.template
    template = load_template(name if name in template_names() else USUAL)
    found: list[Finding] = []
    for one in (*_by_template(figure, template), *_by_length(figure, template), *_hands(figure)):
        level = one.level()
        if level is None:
            continue
        limit = Limit(one.bound(), "", one.source)
        found.append(
            finding(
                "proportions",
                one.joint,
                level,
                f"{one.what.capitalize()}: {one.measured:.3g}{one.unit}, where {one.expected:.3g} "
                f"is expected; the limit is {limit.value:.3g} ({limit.source}).",
                "Nothing, if the character is drawn like that; else check both ends of the bone.",
                one.measured,
                limit,
            )
        )
    return found


def _by_template(figure: Figure, template: Template) -> Iterator[_Measure]:
    """What the template says of the legs, the arms' halves, the widths, the spine and the head."""
    told = f"template {template.name}"
    for side in SIDES:
        legs = _along(figure, side, "hip", "knee", "ankle")
        if legs is not None and _along(figure, side, "hip", "knee"):
            share, rule = _along(figure, side, "hip", "knee") or 0.0, template["thigh_share"]
            yield _Measure(
                f"{side} thigh",
                f"{side}_knee",
                share / max(legs, 1e-12),
                rule.value,
                " of the leg",
                told,
                rule.spread,
            )
            rule = template["hip_height"]
            yield _Measure(
                f"{side} leg",
                f"{side}_hip",
                legs / figure.height,
                rule.value - ANKLE_HEIGHT,
                " of the height",
                told,
                rule.spread,
            )
        arms = _along(figure, side, "shoulder", "elbow", "wrist")
        if arms is not None:
            share, rule = (
                _along(figure, side, "shoulder", "elbow") or 0.0,
                template["upper_arm_share"],
            )
            yield _Measure(
                f"{side} upper arm",
                f"{side}_elbow",
                share / max(arms, 1e-12),
                rule.value,
                " of the arm",
                told,
                rule.spread,
            )
    trunk = _trunk(figure, template)
    if trunk is not None:
        for what, base, key in (
            ("hips from the middle", "hip", "hip_half_spacing"),
            ("shoulders from the middle", "shoulder", "shoulder_half_width"),
        ):
            rule = template[key]
            ends = [f"{side}_{base}" for side in SIDES]
            if all(end in figure.index for end in ends):
                half = 0.5 * float(np.linalg.norm(figure.place(ends[0]) - figure.place(ends[1])))
                yield _Measure(
                    what, ends[0], half / trunk, rule.value, " of the trunk", told, rule.spread
                )
    tall = template.choice.get("heads_tall")
    if tall is not None and {"head", "head_top"} <= figure.index.keys():
        rule = template["head_height"]
        above = 1.0 - rule.value
        size = float(np.linalg.norm(figure.place("head_top") - figure.place("head")))
        doubt = float(np.hypot(rule.spread / above, tall.spread / tall.value))
        yield _Measure(
            "head above its joint",
            "head",
            size / figure.height,
            above / tall.value,
            " of the height",
            told,
            doubt * above / tall.value,
        )


def _by_length(figure: Figure, template: Template) -> Iterator[_Measure]:
    """Arms, hands and feet against published adults, in shares of the trunk."""
    trunk = _trunk(figure, template)
    if trunk is None:
        return
    for side in SIDES:
        for length in LENGTHS:
            measured = _along(figure, side, *length.chain)
            if measured is not None:
                yield _Measure(
                    f"{side} {length.what}",
                    f"{side}_{length.chain[-1]}",
                    measured / trunk,
                    length.value / TRUNK,
                    " of the trunk",
                    f"{length.source}, times {FACTOR}",
                )


def _hands(figure: Figure) -> Iterator[_Measure]:
    """Bones of the fingers against one another."""
    for side in SIDES:
        for what, bone, over, ratio in RATIOS:
            length, base = _along(figure, side, *bone), _along(figure, side, *over)
            if length is not None and base:
                yield _Measure(
                    f"{side} {what}",
                    f"{side}_{bone[1]}",
                    length / base,
                    ratio,
                    "",
                    f"Buchholz et al. 1992, times {FACTOR}",
                )


def _trunk(figure: Figure, template: Template) -> float | None:
    """The template's trunk, crotch to chin, from the way between hips and neck; None without."""
    ends = ("left_hip", "right_hip", "neck")
    if any(end not in figure.index for end in ends):
        return None
    left, right, neck = (figure.place(end) for end in ends)
    share = template["neck_height"].value - template["hip_above_crotch"].value
    length = float(np.linalg.norm(neck - 0.5 * (left + right))) / share
    return length if length > 0 else None


def _along(figure: Figure, side: str, *stems: str) -> float | None:
    """Length along a chain of joints; None where one is missing."""
    names = [f"{side}_{stem}" for stem in stems]
    if any(name not in figure.index for name in names):
        return None
    points = np.array([figure.place(name) for name in names])
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
