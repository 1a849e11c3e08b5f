import subprocess
import sys

import numpy as np
import pytest

from autoplace.mesh.islands import find_islands
from tests.bench.growth import Cost, Size, exponent, verdicts
from tests.bench.sizes import EYES, sized_body
from tests.dataset.fetch import DatasetMissing


def body(size: str):
    try:
        return sized_body(size)
    except DatasetMissing as error:
        pytest.skip(str(error))


def size(name: str, faces: int, seconds: float, other: float, peak: float = 200.0) -> Size:
    costs = {
        "autoplace": Cost(0.5 * seconds, 0.5 * seconds, peak),
        "trimesh merging": Cost(other, 0.0, 100.0),
        "trimesh as it is": Cost(0.8 * other, 0.0, 100.0),
        "skeletor": Cost(3.0 * other, other, 100.0),
    }
    return Size(name, faces, costs)


def test_the_exponent_of_a_power_law_is_its_power():
    faces = np.array([7e3, 1.1e5, 1.75e6])
    assert exponent(faces, 3.0 * faces**0.8) == pytest.approx(0.8)


def test_verdicts_compare_placing_with_skeletor_and_the_whole_with_trimesh_merging():
    met = verdicts([size("110k", 110_000, 2.0, 1.0), size("1.75M", 1_750_000, 20.0, 10.0)])
    assert [ok for _, ok in met] == [True, True, True, True]
    missed = verdicts(
        [size("110k", 110_000, 2.2, 1.0), size("1.75M", 1_750_000, 55.0, 20.0, peak=251.0)]
    )
    assert [ok for _, ok in missed] == [False, False, False, False]


def test_a_missing_skeletor_leaves_its_target_open_and_is_no_success():
    only = size("110k", 110_000, 1.0, 1.0)
    only.costs.pop("skeletor")
    assert [ok for _, ok in verdicts([only])] == [None]


def test_peak_memory_counts_what_was_held_and_given_back():
    """In a process of its own, for this one may have held more before."""
    script = (
        "import numpy as np; from tests.bench.probe import peak_memory; before = peak_memory();"
        "held = np.ones(40 << 17); del held; print(peak_memory() - before)"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert float(run.stdout) >= 20.0


def test_a_finer_body_has_four_times_the_faces_stands_alike_and_keeps_two_eyeballs():
    coarse, fine = body("27k"), body("110k")
    assert fine.face_count == 4 * coarse.face_count
    assert find_islands(fine).count == find_islands(coarse).count
    height = np.ptp(coarse.vertices[:, 1])
    for low, high in ((coarse.parts[i].vertices, fine.parts[i].vertices) for i in range(2)):
        for end in (np.min, np.max):
            assert end(high, axis=0) == pytest.approx(end(low, axis=0), abs=0.003 * height)


def test_a_coarser_body_has_a_quarter_of_the_skin_and_whole_eyeballs():
    plain, coarse = body("27k"), body("7k")
    faces = {part.name: len(part.faces) for part in plain.parts}
    assert {part.name: len(part.faces) for part in coarse.parts} == {
        EYES: faces[EYES],
        "body": pytest.approx(faces["body"] / 4, rel=0.01),
    }
