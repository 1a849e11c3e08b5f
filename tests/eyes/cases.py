"""One way of modelling eyes each: a figure with eyes, and what is known of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from autoplace.mesh.character import Character
from autoplace.mesh.load import character_from_arrays
from tests.eyes.hosts import Host
from tests.eyes.shapes import (
    Mesh,
    bridged,
    cornea,
    dished,
    globe,
    icosphere,
    lashes,
    looking,
    slab,
    turned,
)
from tests.mesh.capsule_figures import joined

FLIP = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Eye:
    """What is known of one eye."""

    centre: np.ndarray
    radius: float
    look: np.ndarray | None = None
    """None where the shape does not tell."""


@dataclass(frozen=True)
class Case:
    """A figure and its eyes."""

    name: str
    host: Host
    parts: dict[str, Mesh]
    eyes: dict[str, Eye] = field(default_factory=dict)
    """By 'left', 'right', 'middle'."""
    balls: bool = True
    """Eyeballs are there to be found; else the face alone tells."""

    @property
    def character(self) -> Character:
        return character_from_arrays(self.parts, f"{self.name} on {self.host.name}")


Builder = Callable[[Host, np.random.Generator], Case]
CASES: dict[str, Builder] = {}
PLAIN_ONLY: set[str] = set()
LIDS_ONLY: set[str] = set()


def case(*, plain: bool = True, lids: bool = True) -> Callable[[Builder], Builder]:
    """Registers a case under its function's name, and on which faces it can be built."""

    def register(build: Builder) -> Builder:
        name = build.__name__
        CASES[name] = build
        if not lids:
            PLAIN_ONLY.add(name)
        if not plain:
            LIDS_ONLY.add(name)
        return build

    return register


def _looks(rng: np.random.Generator, most: float = 15.0) -> dict[str, np.ndarray]:
    """Both looks: parallel, some degrees off ahead."""
    look = looking(rng.uniform(-most, most), rng.uniform(-0.6 * most, 0.6 * most))
    return {"left": look, "right": look}


def _eyes(
    host: Host,
    make: Callable[[np.ndarray, float, np.ndarray], Mesh],
    looks: dict[str, np.ndarray],
    shows: bool,
) -> tuple[dict[str, Mesh], dict[str, Eye]]:
    """A pair made by `make(centre, radius, look)`."""
    parts, eyes = {}, {}
    for side, centre in (("left", host.left), ("right", host.right)):
        parts[f"Object_{side[0]}"] = make(centre, host.radius, looks[side])
        eyes[side] = Eye(centre, host.radius, looks[side] if shows else None)
    return parts, eyes


def _rings(rng: np.random.Generator) -> int:
    return int(rng.integers(6, 21))


@case()
def whole_ball(host: Host, rng: np.random.Generator) -> Case:
    """Whole spheres, of rings with their pole anywhere or of even triangles."""
    rings, even = _rings(rng), rng.random() < 0.5
    turn, pole = turned(rng), looking(rng.uniform(-180, 180), rng.uniform(-80, 80))

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        if even:
            return icosphere(centre, radius, turn, 1 + rings // 8)
        return globe(centre, radius, pole, rings)

    parts, eyes = _eyes(host, make, _looks(rng), False)
    return Case("whole_ball", host, host.parts | parts, eyes)


@case()
def uneven_ball(host: Host, rng: np.random.Generator) -> Case:
    """Whole balls as a scan or a sculptor leaves them: half a percent to one percent of noise."""
    noise, level = rng.uniform(0.005, 0.01), 2 + int(rng.random() < 0.5)
    pole, rings = looking(rng.uniform(-180, 180), rng.uniform(-80, 80)), 8 * level
    drawn = np.random.default_rng(rng.integers(2**31))

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, pole, rings, noise=noise, rng=drawn)

    parts, eyes = _eyes(host, make, _looks(rng), False)
    return Case("uneven_ball", host, host.parts | parts, eyes)


@case()
def ellipsoid(host: Host, rng: np.random.Generator) -> Case:
    """Whole balls squashed or drawn out, up to one to two."""
    rings = _rings(rng)
    squash = np.array([1.0, rng.uniform(0.75, 1.6), rng.uniform(0.5, 1.0)])

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, squash=tuple(squash))

    parts, eyes = _eyes(host, make, _looks(rng, 5.0), False)
    return Case("ellipsoid", host, host.parts | parts, eyes)


@case()
def third_cap(host: Host, rng: np.random.Generator) -> Case:
    """The front third of the ball with one percent of noise."""
    rings = int(rng.integers(6, 15))
    noise = np.random.default_rng(rng.integers(2**31))

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, cap=70.5, noise=0.01, rng=noise)

    parts, eyes = _eyes(host, make, _looks(rng), True)
    return Case("third_cap", host, host.parts | parts, eyes)


@case()
def small_cap(host: Host, rng: np.random.Generator) -> Case:
    """Only what the lids leave open: 40 to 60 degrees about the look."""
    rings, cap = int(rng.integers(5, 12)), rng.uniform(40, 60)

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, cap=cap)

    parts, eyes = _eyes(host, make, _looks(rng, 8.0), True)
    return Case("small_cap", host, host.parts | parts, eyes)


@case()
def ellipsoid_cap(host: Host, rng: np.random.Generator) -> Case:
    """The front half of a ball that is wider than deep."""
    rings, depth = _rings(rng), rng.uniform(0.6, 0.9)

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, cap=90, squash=(1.0, 1.0, depth))

    parts, eyes = _eyes(host, make, _looks(rng, 5.0), True)
    return Case("ellipsoid_cap", host, host.parts | parts, eyes)


@case()
def with_cornea(host: Host, rng: np.random.Generator) -> Case:
    """A ball or half of one with the cornea's bulge."""
    rings, cap = int(rng.integers(10, 21)), rng.choice([180.0, 90.0])

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, cap=cap, lift=cornea)

    parts, eyes = _eyes(host, make, _looks(rng), True)
    return Case("with_cornea", host, host.parts | parts, eyes)


@case()
def iris_dished(host: Host, rng: np.random.Generator) -> Case:
    """A ball or half of one with its iris cut in."""
    rings, cap = int(rng.integers(10, 21)), rng.choice([180.0, 90.0])

    def make(centre: np.ndarray, radius: float, look: np.ndarray) -> Mesh:
        return globe(centre, radius, look, rings, cap=cap, lift=dished)

    parts, eyes = _eyes(host, make, _looks(rng), True)
    return Case("iris_dished", host, host.parts | parts, eyes)


@case()
def shells(host: Host, rng: np.random.Generator) -> Case:
    """Eyeball, iris and cornea as parts of their own, one within the other."""
    rings, parts, eyes = _rings(rng), dict(host.parts), {}
    look = _looks(rng)["left"]
    inner = bool(rng.random() < 0.5)
    for side, centre in (("left", host.left), ("right", host.right)):
        r = host.radius
        ball = globe(centre, r, look, rings, start=25.0 if inner else 0.0)
        iris = globe(centre, 0.94 * r if inner else 1.01 * r, look, 5, cap=28)
        front = globe(centre + 0.42 * r * look, 0.66 * r, look, 6, cap=46)
        parts |= {f"{side}_a": ball, f"{side}_b": iris, f"{side}_c": front}
        eyes[side] = Eye(centre, r, look)
    return Case("shells", host, parts, eyes)


@case()
def covered(host: Host, rng: np.random.Generator) -> Case:
    """A whole clear cover over a ball with a dished iris."""
    rings, parts, eyes = int(rng.integers(10, 18)), dict(host.parts), {}
    look = _looks(rng)["left"]
    for side, centre in (("left", host.left), ("right", host.right)):
        ball = globe(centre, host.radius, look, rings, lift=dished)
        cover = globe(centre, 1.02 * host.radius, look, rings, lift=cornea)
        parts |= {f"{side}_a": ball, f"{side}_b": cover}
        eyes[side] = Eye(centre, host.radius, look)
    return Case("covered", host, parts, eyes)


@case()
def both_in_one(host: Host, rng: np.random.Generator) -> Case:
    """Both eyes in one object."""
    base = with_cornea(host, rng)
    pair = joined(base.parts["Object_l"], base.parts["Object_r"])
    return Case("both_in_one", host, host.parts | {"Object_e": pair}, base.eyes)


def _teeth(host: Host) -> Mesh:
    """Two rows of teeth behind the mouth."""
    middle = 0.5 * (host.left + host.right)
    at = middle + np.array([0.0, -0.30 * host.head, -0.05 * host.head])
    size = np.array([0.16, 0.03, 0.05]) * host.head
    upper = slab(at - size / 2, at + size / 2)
    lower = slab(at - size / 2 - [0, 0.04 * host.head, 0], at + size / 2 - [0, 0.04 * host.head, 0])
    return joined(upper, lower)


@case()
def one_object_with_teeth(host: Host, rng: np.random.Generator) -> Case:
    """Eyes and teeth are one object of several pieces."""
    base = iris_dished(host, rng)
    one = joined(base.parts["Object_l"], base.parts["Object_r"], _teeth(host))
    return Case("one_object_with_teeth", host, host.parts | {"Object_x": one}, base.eyes)


@case()
def one_piece_with_lashes(host: Host, rng: np.random.Generator) -> Case:
    """Lashes hang on each ball's own vertices."""
    rings, look = int(rng.integers(10, 18)), _looks(rng, 8.0)["left"]
    parts, eyes = dict(host.parts), {}
    for side, centre in (("left", host.left), ("right", host.right)):
        ball = globe(centre, host.radius, look, rings)
        parts[f"Object_{side[0]}"] = lashes(ball, centre, look, host.radius)
        eyes[side] = Eye(centre, host.radius)
    return Case("one_piece_with_lashes", host, parts, eyes)


@case()
def one_piece_with_teeth(host: Host, rng: np.random.Generator) -> Case:
    """Both balls and the teeth hang together by single triangles."""
    base = iris_dished(host, rng)
    both = bridged(base.parts["Object_l"], base.parts["Object_r"])
    one = bridged(both, _teeth(host))
    return Case("one_piece_with_teeth", host, host.parts | {"Object_x": one}, base.eyes)


@case(lids=False)
def far_to_the_sides(host: Host, rng: np.random.Generator) -> Case:
    """A fish's or a bird's eyes, 55 to 80 degrees off ahead, looking there."""
    rings, angle = int(rng.integers(10, 18)), rng.uniform(55, 80)
    radius = host.radius * rng.uniform(1.0, 1.6)
    parts, eyes = dict(host.parts), {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        look = looking(sign * angle, 0.0)
        centre = host.surface(0.0, float(host.left[1]), sign * angle) - 0.5 * radius * look
        parts[f"Object_{side[0]}"] = globe(centre, radius, look, rings, lift=cornea)
        eyes[side] = Eye(centre, radius, look)
    return Case("far_to_the_sides", host, parts, eyes)


@case(lids=False)
def one_in_the_middle(host: Host, rng: np.random.Generator) -> Case:
    """A single large eye on the middle."""
    radius, look = host.radius * rng.uniform(1.2, 2.2), _looks(rng, 5.0)["left"]
    at = host.surface(0.0, float(host.left[1])) - np.array([0.0, 0.0, 0.5 * radius])
    ball = globe(at, radius, look, int(rng.integers(10, 18)), lift=cornea)
    eyes = {"middle": Eye(at, radius, look)}
    return Case("one_in_the_middle", host, host.parts | {"Object_e": ball}, eyes)


@case()
def one_of_two(host: Host, rng: np.random.Generator) -> Case:
    """One eye of two was lost."""
    base = with_cornea(host, rng)
    side = str(rng.choice(["left", "right"]))
    parts = host.parts | {"Object_e": base.parts[f"Object_{side[0]}"]}
    return Case("one_of_two", host, parts, {side: base.eyes[side]})


@case(lids=False)
def three(host: Host, rng: np.random.Generator) -> Case:
    """A third eye on the forehead."""
    base = with_cornea(host, rng)
    y = float(host.left[1]) + rng.uniform(1.9, 2.6) * host.radius
    at = host.surface(0.0, y) - np.array([0.0, 0.0, 0.5 * host.radius])
    third = globe(at, host.radius, looking(0, 0), 12, lift=cornea)
    eyes = base.eyes | {"middle": Eye(at, host.radius, looking(0, 0))}
    return Case("three", host, base.parts | {"Object_t": third}, eyes)


@case(lids=False)
def buttons(host: Host, rng: np.random.Generator) -> Case:
    """Small flat buttons sewn on, or half beads."""
    radius, flat = host.radius * rng.uniform(0.35, 0.7), rng.random() < 0.5
    parts, eyes = dict(host.parts), {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        x = float(host.left[0])
        at = host.surface(sign * x, float(host.left[1]))
        if flat:
            mesh = globe(at, radius, looking(0, 0), 10, squash=(1.0, 1.0, 0.45))
        else:
            mesh = globe(at, radius, looking(0, 0), 8, cap=90)
        parts[f"Object_{side[0]}"] = mesh
        eyes[side] = Eye(at, radius)
    return Case("buttons", host, parts, eyes)


def _ears(host: Host, rng: np.random.Generator) -> dict[str, Mesh]:
    """A pair of ball earrings that hang at the sides of the head."""
    radius = host.radius * rng.uniform(0.5, 1.1)
    y = float(host.left[1]) - rng.uniform(0.16, 0.24) * host.head
    parts = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        at = host.surface(0.0, float(host.left[1]) - 0.05 * host.head, sign * 90.0)
        at = np.array([at[0] + sign * 0.6 * radius, y, at[2]])
        parts[f"ring_{side[0]}"] = icosphere(at, radius, np.eye(3), 1)
    return parts


def _nose(host: Host, rng: np.random.Generator) -> dict[str, Mesh]:
    radius = host.radius * rng.uniform(0.7, 1.4)
    middle = 0.5 * float(host.left[0] + host.right[0])
    y = float(host.left[1]) - rng.uniform(0.14, 0.2) * host.head
    at = host.surface(0.0, y) + np.array([0.0, 0.0, 0.2 * radius])
    return {"Object_n": icosphere(np.array([middle, *at[1:]]), radius, np.eye(3), 2)}


@case()
def earrings_too(host: Host, rng: np.random.Generator) -> Case:
    """Ball earrings beside a pair of eyes."""
    base = whole_ball(host, rng)
    return Case("earrings_too", host, base.parts | _ears(host, rng), base.eyes)


@case()
def nose_too(host: Host, rng: np.random.Generator) -> Case:
    """A ball for a nose below a pair of eyes."""
    base = whole_ball(host, rng)
    return Case("nose_too", host, base.parts | _nose(host, rng), base.eyes)


@case()
def earrings_only(host: Host, rng: np.random.Generator) -> Case:
    """Earrings on a head without eyeballs are no eyes."""
    return Case("earrings_only", host, host.parts | _ears(host, rng))


@case()
def nose_only(host: Host, rng: np.random.Generator) -> Case:
    """A ball nose on a head without eyeballs is no eye."""
    return Case("nose_only", host, host.parts | _nose(host, rng))


def _known(host: Host) -> dict[str, Eye]:
    return {
        "left": Eye(host.left, host.radius),
        "right": Eye(host.right, host.radius),
    }


@case(plain=False)
def sockets_only(host: Host, rng: np.random.Generator) -> Case:
    """No eyeballs; sockets and lids show in the face."""
    return Case("sockets_only", host, dict(host.parts), _known(host), balls=False)


@case()
def lids_cut_open(host: Host, rng: np.random.Generator) -> Case:
    """No eyeballs; the face is cut open where they would show."""
    wide, high = host.radius * rng.uniform(0.9, 1.25), host.radius * rng.uniform(0.5, 0.8)
    parts = {}
    for name, (vertices, faces) in host.parts.items():
        middle = vertices[faces].mean(axis=1)
        gone = np.zeros(len(faces), dtype=bool)
        for eye in (host.left, host.right):
            off = middle - eye
            gone |= ((off[:, 0] / wide) ** 2 + (off[:, 1] / high) ** 2 < 1) & (
                off[:, 2] > -0.6 * host.radius
            )
        if gone.all():
            continue
        parts[name] = (vertices, faces[~gone])
    return Case("lids_cut_open", host, parts, _known(host), balls=False)


@case(lids=False)
def nothing_shows(host: Host, rng: np.random.Generator) -> Case:
    """A smooth ball of a head without any eyes."""
    return Case("nothing_shows", host, dict(host.parts), {}, balls=False)


@case(lids=False)
def one_with_the_skin(host: Host, rng: np.random.Generator) -> Case:
    """Balls that bulge from the face and are one skin with it, as after sculpting or a remesh."""
    import trimesh

    (name, (vertices, faces)), *rest = host.parts.items()
    radius = host.radius * rng.uniform(1.0, 1.4)
    skin = trimesh.Trimesh(vertices, faces, process=False)
    for _ in range(4):
        middle = skin.triangles_center
        away = np.min(
            [np.linalg.norm(middle - eye, axis=1) for eye in (host.left, host.right)], axis=0
        )
        long = np.linalg.norm(np.ptp(skin.triangles, axis=1), axis=1) > 0.3 * radius
        near = np.flatnonzero((away < 2.5 * radius) & long)
        if len(near):
            skin = skin.subdivide(near)
    points, eyes = np.array(skin.vertices), {}
    for side, x in (("left", host.left[0]), ("right", host.right[0])):
        at = host.surface(float(x), float(host.left[1])) - [0.0, 0.0, 0.35 * radius]
        away = points - at
        inside = np.linalg.norm(away, axis=1) < radius
        points[inside] = at + radius * away[inside] / np.linalg.norm(
            away[inside], axis=1, keepdims=True
        )
        eyes[side] = Eye(at, radius)
    parts = {name: (points, np.array(skin.faces)), **dict(rest)}
    return Case("one_with_the_skin", host, parts, eyes, balls=False)
