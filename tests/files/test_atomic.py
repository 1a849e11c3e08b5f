"""Files appear whole or not at all, and refusals are plain sentences."""

from __future__ import annotations

import os
import stat

import pytest

from autoplace.errors import OutputError
from autoplace.files.atomic import write_whole


def test_content_is_written_and_replaced(tmp_path):
    """A new file, then the same name again: the later content, and nothing else in the folder."""
    path = tmp_path / "a.txt"
    assert write_whole(path, b"one") == path
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert os.listdir(tmp_path) == ["a.txt"]


def test_a_missing_folder_is_named(tmp_path):
    """The message names the folder that is missing."""
    with pytest.raises(OutputError, match=r"no folder .*nowhere"):
        write_whole(tmp_path / "nowhere" / "a.txt", b"")


def test_a_folder_as_target_is_refused(tmp_path):
    """The name of a folder is not the name of a file."""
    with pytest.raises(OutputError, match="is a folder"):
        write_whole(tmp_path, b"")


def test_a_failed_write_leaves_the_old_file_and_no_rubbish(tmp_path, monkeypatch):
    """When the last step fails, the old content stands and the temporary file is gone."""
    path = tmp_path / "a.txt"
    write_whole(path, b"old")

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match="No space left on device"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.txt"]


@pytest.mark.skipif(
    os.name != "posix" or os.geteuid() == 0, reason="needs a user who may not write"
)
def test_a_closed_folder_is_refused(tmp_path):
    """Without the right to write, the system's own reason is told."""
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="Permission denied"):
        write_whole(tmp_path / "a.txt", b"")


@pytest.mark.skipif(os.name != "posix", reason="links and modes as on POSIX")
def test_links_are_followed_and_modes_kept(tmp_path):
    """Writing through a link changes the file it points at, whose mode stays."""
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    real.write_bytes(b"old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
