"""Where the data folders are: inside the installed package, or at the top of the repository."""

from __future__ import annotations

from pathlib import Path

__all__ = ["data_folder", "template_names"]


def data_folder(name: str) -> Path:
    """Folder `templates` or `meshes`.

    A wheel carries both inside the package; an editable install reads them where they are edited,
    beside the package.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the installed package has no folder {name!r}; install it again")


def template_names() -> tuple[str, ...]:
    """Names that `--template` takes, sorted."""
    return tuple(sorted(path.stem for path in data_folder("templates").glob("*.toml")))
