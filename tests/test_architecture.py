"""The house rules that can be checked by reading the source."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "autoplace"
SOURCES = sorted(
    p
    for p in PACKAGE.rglob("*.py")
    if not {"meshes", "templates"} & set(p.relative_to(PACKAGE).parts)
)
LAYERS = ("mesh", "measure", "place", "skeleton", "files", "show", "review")
LOW = {"errors", "data"}
"""Top-level modules that any layer may import, since they know nothing of the pipeline."""
RECORDS = {
    "place": {"skeleton.model", "skeleton.names"},
    "show": set(),
}
"""Modules of a later layer that a layer may import: plain records, no stages."""
ABOVE = (
    "result",
    "progress",
    "settings",
    "reports",
    "pipeline",
    "refit",
    "mesh_facts",
    "bend_character",
    "keep",
    "jobs",
    "commands",
    "cli",
    "__main__",
)
"""What stands above the layers and may know them all, the lowest first; it imports only what comes
before it in this list. `reports` draws what jobs and commands found, and knows neither."""
MOST_LINES = 400
ALLOWED_AT_TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "autoplace",
    "tests",
    "meshes",
    "templates",
}


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(PACKAGE).with_suffix("").parts)


@cache
def syntax(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imported(path: Path) -> set[str]:
    """Modules of the package that a file imports anywhere, except for type checking only."""
    found: set[str] = set()
    waiting: list[ast.AST] = [syntax(path)]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            waiting += node.orelse
            continue
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names if a.name.split(".")[0] == "autoplace"}
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively; write the whole name"
            if node.module and node.module.split(".")[0] == "autoplace":
                whole = [f"{node.module}.{alias.name}" for alias in node.names]
                found |= {w if is_module(w) else node.module for w in whole}
        waiting += ast.iter_child_nodes(node)
    return {name.removeprefix("autoplace").lstrip(".") for name in found}


def is_module(dotted: str) -> bool:
    place = ROOT.joinpath(*dotted.split("."))
    return place.is_dir() or place.with_suffix(".py").is_file()


def layer_of(name: str) -> str | None:
    first = name.split(".")[0]
    return first if first in LAYERS else None


def test_sources_are_found():
    """The checks below look at the package and not at an empty list."""
    assert {"cli", "errors", "mesh.character"} <= {module_name(p) for p in SOURCES}


@pytest.mark.parametrize("path", SOURCES, ids=module_name)
def test_imports_point_down(path):
    """A layer imports itself, earlier layers and plain records, never a later stage or a joiner."""
    name = module_name(path)
    layer = layer_of(name)
    if layer is None:
        if name in LOW:
            assert not {i for i in imported(path) if layer_of(i)}, f"{name} must know no layer"
        return
    allowed = LAYERS[: LAYERS.index(layer) + 1]
    wrong = {
        other
        for other in imported(path)
        if layer_of(other) not in allowed
        and other not in LOW
        and other not in RECORDS.get(layer, set())
        and other != "result"
    }
    assert not wrong, f"{name} must not import {sorted(wrong)}"


@pytest.mark.parametrize(
    "path",
    [
        p
        for p in SOURCES
        if module_name(p) not in LOW | {"__init__"} and layer_of(module_name(p)) is None
    ],
    ids=module_name,
)
def test_what_stands_above_the_layers_points_down_too(path):
    """Commands import jobs, jobs the placing and its reports, and nothing the other way round."""
    own = module_name(path).split(".")[0]
    assert own in ABOVE, f"say in ABOVE where {own} stands"
    allowed = {*ABOVE[: ABOVE.index(own) + 1], *LAYERS, *LOW, ""}
    wrong = {other for other in imported(path) if other.split(".")[0] not in allowed}
    assert not wrong, f"{module_name(path)} must not import {sorted(wrong)}"


@pytest.mark.parametrize("path", SOURCES, ids=module_name)
def test_modules_stay_small(path):
    """A module does one thing in about four hundred lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


@pytest.mark.parametrize("path", SOURCES, ids=module_name)
def test_names_say_what_is_inside(path):
    """No module is a drawer for odds and ends."""
    assert path.stem not in {"utils", "util", "helpers", "misc", "common"}


@pytest.mark.parametrize(
    "path", [p for p in SOURCES if p.name not in ("__init__.py", "__main__.py")], ids=module_name
)
def test_public_names_are_declared(path):
    """Every module lists its public names in `__all__`, sorted, and each of them exists in it."""
    tree = syntax(path)
    declared: list[str] | None = None
    defined: set[str] = set()
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            defined.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                defined |= {n.id for n in ast.walk(target) if isinstance(n, ast.Name)}
                if isinstance(target, ast.Name) and target.id == "__all__" and node.value:
                    declared = ast.literal_eval(node.value)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            defined |= {(a.asname or a.name).split(".")[0] for a in node.names}
    assert declared is not None, "no __all__"
    assert set(declared) <= defined, f"not defined: {sorted(set(declared) - defined)}"
    assert len(set(declared)) == len(declared)


@pytest.mark.parametrize(
    "path",
    [p for p in SOURCES if layer_of(module_name(p)) in ("mesh", "measure", "place", "skeleton")],
    ids=module_name,
)
def test_stages_neither_print_nor_open_files(path):
    """A stage is a function of its input; only the readers of data open files."""
    readers = ("mesh.load", "mesh.obj", "place.template", "place.readings", "skeleton.name_tables")
    if module_name(path) in readers:
        return
    calls = {
        node.func.id if isinstance(node.func, ast.Name) else node.func.attr
        for node in ast.walk(syntax(path))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
    }
    assert not calls & {"print", "open", "read_text", "read_bytes", "write_text", "write_bytes"}


def test_top_of_the_repository_is_tidy():
    """The top level holds the two texts, the project file and the four folders, and dotfiles."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a checkout: an unpacked archive may stand among other things")
    import subprocess

    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    top = {line.split("/")[0] for line in listed if line and not line.startswith(".")}
    assert top <= ALLOWED_AT_TOP
