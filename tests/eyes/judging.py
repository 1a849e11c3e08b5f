"""Finds the eyes of a case and compares them with what is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from autoplace import AutoplaceError, place
from autoplace.place.eyes import EyePlace, EyesFound
from autoplace.refit.eyes import find_eyes
from autoplace.result import Settings
from tests.eyes.cases import Case

FOUND = 0.5
"""An eye placed farther off than this many radii was not found."""
BY_FACE = 1.0
"""The same where only the face tells of it."""
FROM_BALLS = ("sphere", "ellipsoid", "box")


@dataclass(frozen=True)
class Judged:
    """One eye that is there, or one that is not and was taken for one."""

    case: str
    host: str
    eye: str
    problem: str = ""
    error: float = np.nan
    """Of the centre, in radii of the eyeball."""
    spread: float = np.nan
    """What was said of it, in radii."""
    look: float = np.nan
    """Degrees off the known look; not a number where none was seen or none is known."""
    shape: str = ""


def judge(case: Case) -> list[Judged]:
    """Every eye of a case through the same function that `refit_eyes` uses."""
    if not case.balls:
        return _by_face(case)
    frame, _, found = find_eyes(case.character, case.host.skeleton(), Settings())
    placed = _placed(found)
    balls = {name: eye for name, eye in placed.items() if eye.shape in FROM_BALLS}
    rows = []
    for name, eye in case.eyes.items():
        rows.append(_compared(case, name, eye, balls.get(name), frame))
    extra = sorted(set(balls) - set(case.eyes))
    if extra:
        rows.append(_row(case, "extra", problem=f"took something for {', '.join(extra)}"))
    return rows or [_row(case, "none")]


def _by_face(case: Case) -> list[Judged]:
    """Eyes that only the face tells of, through the whole placing."""
    try:
        result = place(case.character, up="+Y", forward="+Z")
    except AutoplaceError as error:
        return [_row(case, "none", problem=f"not placed: {error}")]
    rows = []
    for side in ("left", "right"):
        joint = result.skeleton[f"{side}_eye"]
        kind, eye = joint.evidence[0].kind, case.eyes.get(side)
        if kind not in ("face_bulge", "face_hollow", "head_proportions"):
            # the pouch of skin that lies about an eyeball is as good as one
            off = FOUND if eye is None else np.linalg.norm(joint.position - eye.centre) / eye.radius
            if off >= FOUND:
                rows.append(_row(case, side, problem=f"took a piece for the eye: {kind}"))
            continue
        flagged = any(
            f.joint == joint.name and f.level == "warning" for f in result.skeleton.findings
        )
        if not flagged:
            rows.append(_row(case, side, problem="a guess that no finding tells of"))
            continue
        if eye is None:
            shown = kind != "head_proportions"
            rows.append(_row(case, side, problem="sockets seen where none are" if shown else ""))
            continue
        error = float(np.linalg.norm(joint.position - eye.centre)) / eye.radius
        problem = f"{error:.2f} radii off" if error > BY_FACE else ""
        rows.append(
            _row(
                case,
                side,
                problem=problem,
                error=error,
                spread=joint.spread / eye.radius,
                shape=kind,
            )
        )
    return rows


def _placed(found: EyesFound) -> dict[str, EyePlace]:
    named = {"left": found.left, "right": found.right}
    placed = {name: eye for name, eye in named.items() if isinstance(eye, EyePlace)}
    for number, eye in enumerate(found.others):
        placed["middle" if number == 0 else f"other {number}"] = eye
    return placed


def _row(case: Case, eye: str, **values: object) -> Judged:
    return Judged(case.name, case.host.name, eye, **values)  # type: ignore[arg-type]


def _compared(case, name, eye, place, frame) -> Judged:
    if place is None:
        return _row(case, name, problem="not found")
    error = float(np.linalg.norm(frame.to_input(place.center) - eye.centre)) / eye.radius
    spread = place.spread * frame.height / eye.radius
    look = np.nan
    if place.look is not None and eye.look is not None:
        cosine = float(np.clip(frame.direction_to_input(place.look) @ eye.look, -1, 1))
        look = float(np.degrees(np.arccos(cosine)))
    problem = f"{error:.2f} radii off" if error > FOUND else ""
    return _row(
        case, name, problem=problem, error=error, spread=spread, look=look, shape=place.shape
    )
