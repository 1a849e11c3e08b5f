"""The command `review` as a user meets it: the address, a clean end, refusals."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import urllib.request
from contextlib import contextmanager

import numpy as np
import pytest

from autoplace.files.edits_json import read_edits, write_edits
from autoplace.jobs.review import open_review
from autoplace.skeleton.edit_moves import move_joint
from tests.bent_files import write_character
from tests.commands.running import refused, run


@pytest.fixture
def files(tmp_path):
    return write_character(tmp_path)


@contextmanager
def started(*arguments):
    """The command in a process of its own; gives it and the address that it prints."""
    command = [sys.executable, "-m", "autoplace", "review", "--no-open", *map(str, arguments)]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ
    )
    try:
        yield process, process.stdout.readline().split()[0]
    finally:
        process.kill()
        process.wait()


def test_it_serves_until_it_is_told_to_end(files):
    """The address answers, only on this machine; an interrupt ends it with exit code 0."""
    mesh, skeleton = files
    with started(mesh, "--skeleton", skeleton) as (process, address):
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        out, told = process.communicate(timeout=30)
    assert process.returncode == 0, told
    assert out == ""
    assert "Traceback" not in told


def test_what_is_left_unsaved_is_said(files):
    """Corrections taken from another file are not in the skeleton's own: the end says so."""
    mesh, skeleton = files
    review = open_review(mesh, skeleton)
    knee = review.placed["left_knee"].position
    edits = move_joint(review.placed, review.edits, "left_knee", knee + np.array([0, 0, 0.01]))
    write_edits(edits, mesh.with_name("mine.edits.json"))
    with started(mesh, "--skeleton", skeleton, "--edits", mesh.with_name("mine.edits.json")) as (
        process,
        _,
    ):
        process.send_signal(signal.SIGTERM)
        _, told = process.communicate(timeout=30)
    assert process.returncode == 0
    assert "Corrections are from mine.edits.json." in told
    assert "not saved" in told
    assert read_edits(mesh.with_name("mine.edits.json")) == edits


def test_a_port_in_use_is_refused(files, capsys):
    """One sentence says which port, and what to do."""
    mesh, skeleton = files
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        told = run(
            capsys, "review", mesh, "--skeleton", skeleton, "--no-open", "--port", port, "-q"
        )
    refused(told, str(port), "--port")


@pytest.mark.parametrize("port", ["-4", "99999999"])
def test_an_impossible_port_is_refused(files, capsys, port):
    """A number that is no port is told."""
    mesh, skeleton = files
    told = run(capsys, "review", mesh, "--skeleton", skeleton, "--no-open", f"--port={port}", "-q")
    refused(told, port, "--port")


def test_a_missing_mesh_is_refused(files, capsys):
    """A file that is not there is told before anything is served."""
    refused(run(capsys, "review", files[0].with_name("none.obj"), "-q"), "none.obj")


def test_a_mesh_in_other_units_is_refused(files, capsys):
    """A skeleton in centimetres does not fit a mesh in metres."""
    mesh, skeleton = files
    content = json.loads(skeleton.read_text())
    content["source"]["height"] *= 100.0
    for joint in content["joints"]:
        joint["position"] = [100.0 * x for x in joint["position"]]
    other = skeleton.with_name("large.skeleton.json")
    other.write_text(json.dumps(content))
    refused(run(capsys, "review", mesh, "--skeleton", other, "-q"), "units")
