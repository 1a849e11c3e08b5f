"""Runs the glTF validator of the format's own makers on files.

The npm package `gltf-validator` is installed into a cache folder, once. Where it cannot be had, the
tests are skipped loudly; with CI set they fail.
"""

from __future__ import annotations

import atexit
import json
import select
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

from tests.kept_files import cache_folder, only_one, run_npm, skip_loudly

VERSION = "2.0.0-dev.3.10"
SCRIPT = Path(__file__).with_name("validate_gltf.mjs")
PATIENCE = 120.0
"""Seconds that one report may take on a busy machine."""


@cache
def _installed() -> tuple[Path | None, str]:
    """The folder with the package, or None and why not."""
    with only_one("gltf-validator"):
        return _install(cache_folder() / f"gltf-validator-{VERSION}")


def _install(folder: Path) -> tuple[Path | None, str]:
    if (folder / "node_modules" / "gltf-validator" / "package.json").exists():
        return folder, ""
    if not (shutil.which("npm") and shutil.which("node")):
        return None, "node and npm are not installed"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "package.json").write_text('{"private": true}', encoding="utf-8")
    words = ["install", "--silent", "--no-audit", "--no-fund", f"gltf-validator@{VERSION}"]
    why = run_npm(words, folder, 180)
    return (None, why) if why else (folder, "")


@cache
def _running() -> subprocess.Popen[str]:
    """The validator, which is started once and asked for one file after the other."""
    folder, why = _installed()
    if folder is None:
        skip_loudly("glTF validator", why)
    process = subprocess.Popen(
        ["node", str(SCRIPT), str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    atexit.register(_end, process)
    return process


def _end(process: subprocess.Popen[str]) -> None:
    process.communicate(timeout=PATIENCE)  # nothing more is asked, so that it ends


def validate(path: Path) -> dict[str, Any]:
    """The validator's report: numErrors, numWarnings, numInfos, numHints, messages, info."""
    process = _running()
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(f"{path.resolve()}\n")
    process.stdin.flush()
    answers, _, _ = select.select([process.stdout], [], [], PATIENCE)
    line = process.stdout.readline() if answers else ""
    if not line:
        process.kill()
        _running.cache_clear()
        raise RuntimeError(f"the glTF validator gives no report on {path}")
    return json.loads(line)
