"""Clothes: grown from the skin they cover, or draped over it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .bones import FRONT, LEFT, UP, Bones
from .params import FigureParams
from .shapes import Blend, Cut, Ellipsoid, Grow, HalfSpace, Keep, Loft, Shape, Wave, slab, tube

__all__ = ["GARMENTS", "Wearer", "dressed"]

Vec = NDArray[np.float64]


@dataclass(frozen=True)
class Wearer:
    """The bare figure, region by region; lists hold the left one and the right one."""

    params: FigureParams
    bones: Bones
    trunk: Shape
    neck: Shape
    head: Shape
    uppers: list[Shape]
    fores: list[Shape]
    hands: list[Shape]
    thighs: list[Shape]
    shanks: list[Shape]
    feet: list[Shape]

    def leg(self, i: int) -> Shape:
        """One leg with its foot (0 left, 1 right)."""
        return Blend([Blend([self.thighs[i], self.shanks[i]], 0.012), self.feet[i]], 0.016)

    def arm(self, i: int) -> Shape:
        """One arm with its hand."""
        return Blend([Blend([self.uppers[i], self.fores[i]], 0.010), self.hands[i]], 0.008)

    def neck_and_head(self) -> Shape:
        """The head on its neck."""
        return Blend([self.neck, self.head], 0.014)

    def torso(self, sleeves: bool = True, legs: bool = True) -> Shape:
        """Trunk with the upper arms and thighs flowing into it, for clothes to grow from."""
        core: Shape = self.trunk
        if legs:
            # the legs do not flow into one another
            core = Blend([core, Blend([self.leg(0), self.leg(1)], 0.002)], 0.022)
        if sleeves:
            core = Blend([core, Blend([self.arm(0), self.arm(1)], 0.0)], 0.026)
        return core

    def whole(self) -> Shape:
        """The whole bare figure as one skin."""
        return Blend([self.torso(), self.neck_and_head()], 0.020)

    def flipped(self, i: int, at: Vec) -> Vec:
        """A point of a side's own frame, in the world."""
        return at * np.array([1.0 if i == 0 else -1.0, 1, 1])

    def along_arm(self, i: int, share: float) -> Vec:
        """A point on an arm: 0 shoulder, 1 elbow, 2 wrist."""
        arm = self.bones.arms[i]
        a, b = (arm.shoulder, arm.elbow) if share <= 1 else (arm.elbow, arm.wrist)
        t = share if share <= 1 else share - 1
        return self.flipped(i, a + t * (b - a))

    def along_leg(self, i: int, share: float) -> Vec:
        """A point on a leg: 0 hip, 1 knee, 2 ankle."""
        leg = self.bones.legs[i]
        a, b = (leg.hip, leg.knee) if share <= 1 else (leg.knee, leg.ankle)
        t = share if share <= 1 else share - 1
        return self.flipped(i, a + t * (b - a))

    def trunk_at(self, share: float) -> Vec:
        """A point in the middle of the trunk: 0 at the hips, 1 at the root of the neck."""
        low, high = self.bones.legs[0].hip[1], self.bones.trunk["neck"][1]
        return np.array([0.0, low + share * (high - low), 0.0])


def _sleeves(who: Wearer, cloth: Shape, end: float, band: float, thick: float) -> Shape:
    """Cut both sleeves at `end` along the arms and put a band there."""
    bands: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_arm(i, end - band), who.along_arm(i, end)
        cloth = Cut(cloth, _beyond(b, b - a, 0.10), 0.003)
        piece = who.fores[i] if end > 1 else who.uppers[i]
        bands.append(Keep(Grow(piece, thick), slab(a, b, 0.004), 0.004))
    return Blend([cloth, *bands], 0.004)


def _beyond(at: Vec, way: Vec, radius: float) -> Shape:
    """A short thick log that starts at a point and runs on, to cut a sleeve or leg off with."""
    unit = way / np.linalg.norm(way)
    rows = [
        [0.0, 0, 0, radius, radius, radius, radius],
        [1.0, 0, 0, radius, radius, radius, radius],
    ]
    front = UP if abs(unit @ UP) < 0.8 else FRONT
    log = Loft(at - 0.02 * unit, at + 0.6 * unit, front, rows, 2.0, (0.3, 0.3))
    return Keep(log, HalfSpace(at, -unit))


def _jersey(who: Wearer) -> Shape:
    """A fisherman's jersey: long sleeves with ribbed cuffs, a hem, a roll neck."""
    low, high = who.trunk_at(0.14), who.trunk_at(0.22)
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    arms = [Blend([who.uppers[i], who.fores[i]], 0.010) for i in (0, 1)]
    cloth: Shape = Grow(Blend([core, Blend([*arms], 0.0)], 0.030), 0.0055)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.003)
    hem = Keep(Grow(core, 0.0080), slab(low, high, 0.004), 0.004)
    cloth = Blend([_sleeves(who, cloth, 1.93, 0.16, 0.0065), hem], 0.006)
    throat = who.bones.trunk["neck"]
    top = throat + 0.52 * (who.bones.trunk["head"] - throat)
    lean = np.array([0.0, 0.0, 0.016])
    collar = Keep(Grow(who.neck, 0.0105), slab(throat - lean * 0.2 - 0.012 * UP, top - lean), 0.0)
    roll = Keep(
        Grow(who.neck, 0.0140), slab(throat - lean * 0.6 + 0.014 * UP, top - lean, 0.006), 0.008
    )
    return Blend([cloth, Blend([collar, roll], 0.003)], 0.014)


def _breeches(who: Wearer) -> Shape:
    """Wide breeches, tucked into boots."""
    legs: list[Shape] = []
    g = who.params.leg_girth
    for i in (0, 1):
        a, b = who.along_leg(i, 0.1), who.along_leg(i, 1.36)
        rows = [
            [0.0, 0, 0, 0.048 * g, 0.048 * g, 0.052 * g, 0.056 * g],
            [0.5, 0, 0, 0.047 * g, 0.044 * g, 0.049 * g, 0.046 * g],
            [0.8, 0, 0, 0.045 * g, 0.043 * g, 0.046 * g, 0.045 * g],
            [1.0, 0, 0, 0.036 * g, 0.036 * g, 0.036 * g, 0.042 * g],
        ]
        legs.append(Loft(a, b, FRONT, rows, 2.1, (0.3, 0.2), LEFT))
    cloth = Blend([Grow(who.trunk, 0.0045), Blend(legs, 0.002)], 0.028)
    return Keep(cloth, HalfSpace(who.trunk_at(0.26), UP), 0.002)


def _trousers(who: Wearer) -> Shape:
    """Trousers turned up above the ankle."""
    top = who.trunk_at(0.26)
    legs = [Blend([who.thighs[i], who.shanks[i]], 0.012) for i in (0, 1)]
    loose: list[Shape] = []
    for i in (0, 1):
        a, b, g = who.along_leg(i, 0.8), who.along_leg(i, 1.66), who.params.leg_girth
        r = [0.036 * g, 0.034 * g, 0.031 * g]
        rows = [[t, 0, -0.002, v, v, v, v * 1.08] for t, v in zip((0.0, 0.5, 1.0), r, strict=True)]
        loose.append(Loft(a, b, FRONT, rows, 2.2, (0.5, 0.5), LEFT))
    pairs = [Blend([Grow(legs[i], 0.0055), loose[i]], 0.012) for i in (0, 1)]
    cloth: Shape = Blend([Grow(who.trunk, 0.0045), Blend(pairs, 0.002)], 0.024)
    cloth = Keep(cloth, HalfSpace(top, UP), 0.002)
    cuffs: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_leg(i, 1.58), who.along_leg(i, 1.68)
        cloth = Cut(cloth, _beyond(b, b - a, 0.07), 0.002)
        cuffs.append(Keep(Grow(pairs[i], 0.0028), slab(a, b, 0.003), 0.003))
    return Blend([cloth, *cuffs], 0.002)


def _belt(who: Wearer) -> Shape:
    """A leather belt with a buckle, a ring of its own."""
    middle, half = who.trunk_at(0.255), 0.0105
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    ring = Cut(Grow(core, 0.0130), Grow(core, 0.0060))
    ring = Keep(ring, slab(middle - half * UP, middle + half * UP, 0.002), 0.003)
    front = _front_of(core, middle)
    frame = Ellipsoid(front + 0.012 * FRONT, [0.016, 0.0135, 0.006])
    hole = Ellipsoid(front + 0.016 * FRONT, [0.0095, 0.0075, 0.012])
    return Blend([ring, Cut(frame, hole, 0.002)], 0.002)


def _tunic(who: Wearer) -> Shape:
    """A plain shirt with long sleeves, tucked in, with a small standing collar."""
    low = who.trunk_at(0.18)
    arms = [Blend([who.uppers[i], who.fores[i]], 0.010) for i in (0, 1)]
    cloth: Shape = Grow(Blend([who.trunk, Blend([*arms], 0.0)], 0.030), 0.0050)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.003)
    cloth = _sleeves(who, cloth, 1.94, 0.12, 0.0065)
    throat = who.bones.trunk["neck"]
    lean = np.array([0.0, 0.0, 0.012])
    collar = Keep(
        Grow(who.neck, 0.0075),
        slab(throat - 0.02 * UP - 0.3 * lean, throat + 0.020 * UP - lean, 0.003),
        0.003,
    )
    return Blend([cloth, collar], 0.006)


def _waistcoat(who: Wearer) -> Shape:
    """A buttoned waistcoat over the shirt: armholes, a pointed neck, two points at the hem."""
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    shell: Shape = Cut(Grow(core, 0.0135), Grow(core, 0.0035))
    shell = Keep(shell, HalfSpace(who.trunk_at(0.10), -UP), 0.004)
    neck = who.bones.trunk["neck"]
    depth, width = who.params.trunk_depth, who.params.trunk_width
    for i in (0, 1):
        arm = who.flipped(i, who.bones.arms[i].shoulder)
        hole = Ellipsoid(arm + np.array([0, -0.010, 0]), [0.052, 0.050, 0.075])
        shell = Cut(shell, hole, 0.004)
    # neck opening: a wedge that closes at the breast bone
    point = who.trunk_at(0.62)
    rows = [
        [0.0, 0, 0, 0.002, 0.002, 0.08, 0.02],
        [0.7, 0, 0, 0.030 * width, 0.030 * width, 0.08, 0.055],
        [1.0, 0, 0, 0.052 * width, 0.052 * width, 0.09, 0.075],
    ]
    top = neck + np.array([0, 0.030, 0])
    base = point + np.array([0, 0, 0.045 * depth])
    shell = Cut(shell, Loft(base, top, FRONT, rows, 2.0, (0.5, 0.5), LEFT), 0.003)
    # the front edges part below the last button
    notch = who.trunk_at(0.06) + np.array([0, 0, 0.07 * depth])
    shell = Cut(shell, Ellipsoid(notch, [0.022 * width, 0.075, 0.05]), 0.003)
    parts: list[Shape] = [shell]
    for t in (0.34, 0.42, 0.50, 0.58):
        front = _front_of(core, who.trunk_at(t))
        parts.append(Ellipsoid(front + np.array([0, 0, 0.0135]), [0.0062, 0.0062, 0.0042]))
    return Blend(parts, 0.001)


def _front_of(shape: Shape, start: Vec) -> Vec:
    """Where the surface lies straight ahead of a point inside."""
    z = np.linspace(0.0, 0.3, 601)
    line = start + np.outer(z, FRONT)
    value = shape.evaluate(line.astype(np.float32))
    assert value is not None
    return np.asarray(line[int(np.argmax(value > 0))])


def _tee(who: Wearer) -> Shape:
    """A loose shirt with short sleeves and a ribbed neck."""
    low = who.trunk_at(0.02)
    legs = Blend([who.thighs[0], who.thighs[1]], 0.002)
    core = Blend([who.trunk, legs], 0.022)
    arms = Blend([who.uppers[0], who.uppers[1]], 0.0)
    cloth: Shape = Grow(Blend([core, Grow(arms, 0.004)], 0.034), 0.009)
    skirt_low, skirt_high = who.trunk_at(-0.02), who.trunk_at(0.42)
    w, d = who.params.trunk_width, who.params.trunk_depth
    rows = [
        [0.0, 0, 0.002, 0.112 * w, 0.112 * w, 0.082 * d, 0.086 * d],
        [1.0, 0, 0.002, 0.092 * w, 0.092 * w, 0.074 * d, 0.070 * d],
    ]
    cloth = Blend([cloth, Loft(skirt_low, skirt_high, FRONT, rows, 2.3, (0.3, 0.3), LEFT)], 0.02)
    cloth = Keep(cloth, HalfSpace(low, -UP), 0.006)
    for i in (0, 1):
        b = who.along_arm(i, 0.68)
        cloth = Cut(cloth, _beyond(b, b - who.along_arm(i, 0.2), 0.08), 0.006)
    throat = who.bones.trunk["neck"]
    lean = np.array([0.0, 0.0, 0.014])
    band = Keep(
        Grow(who.neck, 0.0085),
        slab(throat - 0.02 * UP, throat + 0.006 * UP - lean, 0.005),
        0.005,
    )
    return Blend([cloth, band], 0.004)


def _shorts(who: Wearer) -> Shape:
    """Wide shorts to above the knee."""
    legs: list[Shape] = []
    g = who.params.leg_girth
    for i in (0, 1):
        a, b = who.along_leg(i, 0.1), who.along_leg(i, 1.0)
        rows = [
            [0.0, 0, 0, 0.050 * g, 0.050 * g, 0.054 * g, 0.058 * g],
            [1.0, 0, 0, 0.056 * g, 0.050 * g, 0.056 * g, 0.054 * g],
        ]
        legs.append(Loft(a, b, FRONT, rows, 2.2, (0.4, 0.3), LEFT))
    cloth: Shape = Blend([Grow(who.trunk, 0.0065), Blend(legs, 0.002)], 0.03)
    cloth = Keep(cloth, HalfSpace(who.trunk_at(0.24), UP), 0.003)
    for i in (0, 1):
        b = who.along_leg(i, 0.74)
        cloth = Cut(cloth, _beyond(b, b - who.along_leg(i, 0.2), 0.075), 0.006)
    return cloth


def _cuffs(who: Wearer) -> Shape:
    """Turned-over cuffs of mittens or gloves."""
    bands: list[Shape] = []
    for i in (0, 1):
        a, b = who.along_arm(i, 1.74), who.along_arm(i, 1.95)
        bands.append(Keep(Grow(who.fores[i], 0.0125), slab(a, b, 0.008), 0.010))
    return Blend(bands, 0.0)


def _cloak(who: Wearer) -> Shape:
    """A heavy cloak from the neck to the shins, open in front, with slits for the arms."""
    p, bones = who.params, who.bones
    neck = bones.trunk["neck"]
    hem = 0.62 * bones.legs[0].ankle[1] + 0.38 * bones.legs[0].knee[1]
    high, low = neck[1] + 0.012, hem
    span = high - low
    sx = bones.arms[0].shoulder[0]
    w, d = p.trunk_width, p.trunk_depth

    def row(t: float, half: float, front: float, back: float) -> list[float]:
        return [t, 0.0, -0.004, half, half, front, back]

    wide, deep = 0.105 * w, 0.082 * d
    sections = [
        row(0.0, 1.62 * wide, 1.45 * deep, 1.95 * deep),
        row(0.30, 1.48 * wide, 1.42 * deep, 1.70 * deep),
        row(0.60, 1.32 * wide, 1.35 * deep, 1.32 * deep),
        row(0.80, sx + 0.056, 1.36 * deep, 1.20 * deep),
        row(0.90, sx + 0.044, 1.10 * deep, 1.08 * deep),
        row(0.945, sx + 0.010, 0.90 * deep, 0.94 * deep),
        row(0.975, 0.70 * sx, 0.66 * deep, 0.72 * deep),
        row(1.00, 0.048 * p.neck_girth, 0.042, 0.046),
    ]
    a, b = np.array([0.0, low, -0.004]), np.array([0.0, high, -0.008])
    # it lies on the shoulders and the top of the arms, and falls freely from there
    tops: list[Shape] = []
    for i in (0, 1):
        shoulder, elbow = who.along_arm(i, 0.0), who.along_arm(i, 1.0)
        stop = who.along_arm(i, 0.42)
        tops.append(Keep(Grow(who.uppers[i], 0.016), HalfSpace(stop, elbow - shoulder), 0.02))
    drape = Loft(a, b, FRONT, sections, 2.2, (0.2, 0.2), LEFT)
    outside = Blend([drape, *tops], 0.05)
    # pleats, deeper toward the hem; counted round the vertical axis
    pleated = Wave(outside, b, -UP, LEFT, 15, 0.0, 0.011, span)
    shell: Shape = Cut(pleated, Grow(pleated, -0.0125))
    shell = Keep(shell, HalfSpace(a, -UP), 0.004)
    # open down the front, wider below
    rows = [
        [0.0, 0, 0, 0.105 * w, 0.105 * w, 0.40, 0.0005],
        [0.55, 0, 0, 0.075 * w, 0.075 * w, 0.40, 0.0005],
        [0.86, 0, 0, 0.040 * w, 0.040 * w, 0.40, 0.0005],
        [0.93, 0, 0, 0.006, 0.006, 0.40, 0.0005],
    ]
    start, end = a - 0.03 * UP, b
    gap = Loft(start, end, FRONT, rows, 5.0, (0.5, 0.02), LEFT)
    shell = Cut(shell, gap, 0.006)
    for i in (0, 1):  # arm slits
        arm = Blend([who.uppers[i], who.fores[i]], 0.010)
        reach = Keep(
            Grow(arm, 0.016),
            HalfSpace(who.along_arm(i, 0.60), who.along_arm(i, 0.0) - who.along_arm(i, 1.0)),
            0.01,
        )
        shell = Cut(shell, reach, 0.006)
    # stand-up collar and clasp
    collar = Cut(Grow(who.neck, 0.024), Grow(who.neck, 0.012))
    tilt = np.array([0.0, 0.0, 0.008])
    collar = Keep(collar, slab(neck - 0.014 * UP, neck + 0.014 * UP - tilt, 0.006), 0.006)
    front = np.array([0.0, low + 0.925 * span, 0.0])
    clasp = Ellipsoid(_front_of(pleated, front) + 0.002 * FRONT, [0.020, 0.014, 0.009])
    return Blend([Blend([shell, collar], 0.012), clasp], 0.002)


def _scarf(who: Wearer) -> Shape:
    """A knitted scarf, wound once, one end hanging in front."""
    neck, g = who.bones.trunk["neck"], who.params.neck_girth
    centre = neck + np.array([0.0, 0.016, 0.010])
    r = 0.040 * g
    turn = np.linspace(0, 2 * np.pi, 17)
    loop = [
        centre + np.array([r * np.sin(a), 0.006 * np.cos(a - 0.6), r * np.cos(a)]) for a in turn
    ]
    over = [
        centre + np.array([1.12 * r * np.sin(a), -0.014 + 0.008 * np.sin(a), 1.15 * r * np.cos(a)])
        for a in turn
    ]
    wound = Blend([tube(loop, [0.0135] * 17, 0.004), tube(over, [0.0135] * 17, 0.004)], 0.004)
    fall = []
    for y in np.linspace(-0.01, -0.20, 8):
        at = centre + np.array([0.024 - 0.03 * y, y, 0.0])
        fall.append(_front_of(Blend([who.trunk, who.neck], 0.01), at) + np.array([0, 0, 0.013]))
    end = tube(fall, [0.0165] * 8, 0.004, 0.5, FRONT)
    return Blend([wound, end], 0.008)


def dressed(who: Wearer) -> dict[str, tuple[Shape, float]]:
    """The parts of the figure by name: shape and share of the face budget.

    A garment whose part is "body" becomes one skin with it.
    """
    parts: dict[str, tuple[Shape, float]] = {}
    if who.params.skin == "one":
        parts["body"] = (who.whole(), 1.0)
    else:
        collar = who.bones.trunk["neck"] - 0.035 * UP
        core = Blend([who.trunk, who.neck_and_head()], 0.020)
        parts["head"] = (Keep(Keep(core, HalfSpace(collar, -UP), 0.01), _tall(who), 0.006), 0.40)
        for i, side in enumerate(("left", "right")):
            a, b = who.along_arm(i, 0.30), who.along_arm(i, 0.0)
            parts[f"{side}_arm"] = (Keep(who.arm(i), HalfSpace(a, b - a), 0.006), 0.16)
        for i, side in enumerate(("left", "right")):
            a, b = who.along_leg(i, 0.30), who.along_leg(i, 0.0)
            parts[f"{side}_leg"] = (Keep(who.leg(i), HalfSpace(a, b - a), 0.006), 0.12)
    for name in who.params.outfit:
        part, maker, share = GARMENTS[name]
        shape = maker(who)
        if part in parts:
            old, old_share = parts[part]
            parts[part] = (Blend([old, shape], 0.0), old_share)
        else:
            parts[part] = (shape, share)
    return parts


def _tall(who: Wearer) -> Shape:
    """A column that holds head and neck but not the shoulders."""
    neck, r = who.bones.trunk["neck"], 0.050 * who.params.neck_girth
    h = 0.6 * who.bones.head.scale
    rows = [[t, 0, 0, v, v, v, v] for t, v in ((0, r), (0.10, r), (0.30, h), (1.0, h))]
    return Loft(neck - 0.06 * UP, neck + 1.6 * who.bones.head.scale * UP, FRONT, rows)


GARMENTS: dict[str, tuple[str, Callable[[Wearer], Shape], float]] = {
    "belt": ("belt", _belt, 0.10),
    "breeches": ("body", _breeches, 0.0),
    "cloak": ("cloak", _cloak, 0.30),
    "cuffs": ("body", _cuffs, 0.0),
    "jersey": ("body", _jersey, 0.0),
    "scarf": ("scarf", _scarf, 0.10),
    "shorts": ("shorts", _shorts, 0.08),
    "tee": ("shirt", _tee, 0.14),
    "trousers": ("body", _trousers, 0.0),
    "tunic": ("body", _tunic, 0.0),
    "waistcoat": ("waistcoat", _waistcoat, 0.16),
}
