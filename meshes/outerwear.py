"""Pieces of their own over the clothes: belt, waistcoat, scarf, cloak."""

from __future__ import annotations

import numpy as np

from .bones import FRONT, LEFT, UP
from .combine import Blend, Cut, Grow, Keep, Wave, slab, tube
from .shapes import Ellipsoid, HalfSpace, Loft, Shape, Vec
from .wearer import Wearer

__all__ = ["belt", "cloak", "cloak_floor", "scarf", "waistcoat"]


def _front_of(shape: Shape, start: Vec) -> Vec:
    """Where the surface lies straight ahead of a point inside."""
    z = np.linspace(0.0, 0.3, 601)
    line = start + np.outer(z, FRONT)
    value = shape.evaluate(line.astype(np.float32))
    assert value is not None
    return np.asarray(line[int(np.argmax(value > 0))])


def belt(who: Wearer) -> Shape:
    """A leather belt with a buckle, a ring of its own."""
    middle, half = who.trunk_at(0.255), 0.0105
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    ring: Shape = Cut(Grow(core, 0.0130), Grow(core, 0.0060))
    ring = Keep(ring, slab(middle - half * UP, middle + half * UP, 0.002), 0.003)
    front = _front_of(core, middle)
    frame = Ellipsoid(front + 0.012 * FRONT, [0.016, 0.0135, 0.006])
    hole = Ellipsoid(front + 0.016 * FRONT, [0.0095, 0.0075, 0.012])
    return Blend([ring, Cut(frame, hole, 0.002)], 0.002)


def waistcoat(who: Wearer) -> Shape:
    """A buttoned waistcoat over the shirt: armholes, a pointed neck, two points at the hem."""
    core = Blend([who.trunk, Blend([who.thighs[0], who.thighs[1]], 0.002)], 0.022)
    shell: Shape = Cut(Grow(core, 0.0135), Grow(core, 0.0035))
    shell = Keep(shell, HalfSpace(who.trunk_at(0.10), -UP), 0.004)
    neck = who.bones.trunk["neck"]
    depth, width = who.params.trunk_depth, who.params.trunk_width
    for i in (0, 1):
        arm = who.flipped(i, who.bones.arms[i].shoulder)
        hole = Ellipsoid(
            arm + np.array([0.5 * float(np.sign(arm[0])) * 0.052, -0.008, 0]), [0.056, 0.062, 0.085]
        )
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


def scarf(who: Wearer) -> Shape:
    """A knitted scarf, wound once, one end hanging in front."""
    neck, g = who.bones.trunk["neck"], who.params.neck_girth
    centre = neck + np.array([0.0, 0.016, 0.010])
    r = 0.034 * g + 0.009
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


def cloak(who: Wearer) -> Shape:
    """A heavy cloak from the neck to the shins, open in front, with slits for the arms."""
    legs = who.bones.legs[0]
    return _cloak(who, 0.62 * legs.ankle[1] + 0.38 * legs.knee[1], 1.0)


def cloak_floor(who: Wearer) -> Shape:
    """The same cloak, nearly closed and down to the floor."""
    return _cloak(who, 0.010, 0.12)


def _cloak(who: Wearer, hem: float, gape: float) -> Shape:
    """A cloak to a height; `gape` is how far it stands open in front."""
    p, bones = who.params, who.bones
    neck = bones.trunk["neck"]
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
        [0.0, 0, 0, 0.105 * w * gape, 0.105 * w * gape, 0.40, 0.0005],
        [0.55, 0, 0, 0.075 * w * gape, 0.075 * w * gape, 0.40, 0.0005],
        [0.86, 0, 0, 0.040 * w * gape, 0.040 * w * gape, 0.40, 0.0005],
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
    collar: Shape = Cut(Grow(who.neck, 0.024), Grow(who.neck, 0.012))
    tilt = np.array([0.0, 0.0, 0.008])
    collar = Keep(collar, slab(neck - 0.014 * UP, neck + 0.014 * UP - tilt, 0.006), 0.006)
    front = np.array([0.0, low + 0.925 * span, 0.0])
    clasp = Ellipsoid(_front_of(pleated, front) + 0.002 * FRONT, [0.020, 0.014, 0.009])
    return Blend([Blend([shell, collar], 0.012), clasp], 0.002)
