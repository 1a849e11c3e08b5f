"""Runs the glTF validator of the format's own makers on a file.

The npm package `gltf-validator` is installed into a cache folder, once. Where it cannot be had, the
tests are skipped loudly; with CI set they fail.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

from tests.kept_files import cache_folder, only_one, run_npm, skip_loudly

VERSION = "2.0.0-dev.3.10"
SCRIPT = Path(__file__).with_name("validate_gltf.mjs")


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


def validate(path: Path) -> dict[str, Any]:
    """The validator's report: numErrors, numWarnings, numInfos, numHints, messages, info."""
    folder, why = _installed()
    if folder is None:
        skip_loudly("glTF validator", why)
    done = subprocess.run(
        ["node", str(SCRIPT), str(folder), str(path)],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return json.loads(done.stdout)
