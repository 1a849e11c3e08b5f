"""`import autoplace`: cheap, and complete."""

from __future__ import annotations

import subprocess
import sys

import autoplace


def run_python(code: str) -> str:
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.strip()


def test_every_public_name_can_be_imported():
    """`__all__`, the lazy table and what is importable are the same set."""
    from autoplace import _WHERE

    assert sorted(_WHERE) == sorted(autoplace.__all__)
    for name in autoplace.__all__:
        value = getattr(autoplace, name)
        assert value.__name__ == name
        assert value.__module__.startswith("autoplace.")


def test_dir_lists_the_public_names():
    """Completion in an editor shows what there is before it was used."""
    assert set(autoplace.__all__) <= set(dir(autoplace))


def test_unknown_name_is_an_attribute_error():
    """A misspelt name is told like that of any module."""
    assert not hasattr(autoplace, "plaice")


def test_import_loads_no_heavy_library():
    """Importing the package or its command line loads nothing but the standard library."""
    loaded = run_python(
        "import sys, autoplace, autoplace.cli\n"
        "autoplace.cli.parser()\n"
        "heavy = 'numpy scipy trimesh sklearn rich PIL matplotlib pygltflib igl embreex'.split()\n"
        "print(*[name for name in heavy if name in sys.modules])"
    )
    assert loaded == ""


def test_place_is_the_function_whatever_was_imported_before():
    """The folder `autoplace/place` never hides the function of the same name."""
    told = run_python(
        "import autoplace.place\n"
        "from autoplace import place\n"
        "from autoplace.pipeline import place as same\n"
        "import autoplace as a\n"
        "print(place is same is a.place)"
    )
    assert told == "True"


def test_version_is_that_of_the_project_file():
    """The version is written in two places; they agree."""
    from importlib.metadata import version

    assert version("autoplace") == autoplace.__version__
