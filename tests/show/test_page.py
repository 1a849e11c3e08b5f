"""`autoplace.show.page`: one HTML file that shows a skeleton and fetches nothing."""

from __future__ import annotations

import base64
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from autoplace.files.marks import is_ours
from autoplace.show.page import render_page, write_page
from autoplace.skeleton.model import Finding, PartSummary
from tests.show.scene import FINDINGS, scene

NASTY = '</script><img src=x onerror="alert(1)"> & "more"'


class Outline(HTMLParser):
    """The elements of a page with their attributes, and the text of all but scripts and styles."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.inside = ""
        self.feed(page.decode("utf-8"))

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.inside = tag

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside == "script":
            self.scripts.append((self.elements[-1][1], data))
        elif self.inside != "style":
            self.text.append(data)

    def words(self) -> str:
        return " ".join(" ".join(self.text).split())

    def scene(self) -> dict:
        (data,) = [text for attributes, text in self.scripts if attributes.get("id") == "scene"]
        return json.loads(data)


@pytest.fixture(scope="module")
def page() -> bytes:
    return render_page(*scene(), template_sure=0.82)


@pytest.fixture(scope="module")
def outline(page) -> Outline:
    return Outline(page)


def test_the_same_input_gives_the_same_bytes(page):
    """Drawn twice, a page is the same to the last byte."""
    assert render_page(*scene(), template_sure=0.82) == page


def test_the_page_says_what_it_shows(outline):
    """Name, height, template with how sure it is, number of joints, and what it is not for."""
    words = outline.words()
    assert "tubes" in words
    assert "1 units of the file" in words
    assert "adult, 82 percent sure" in words
    assert f"Joints {len(scene()[3])}" in words
    assert "not for medical or ergonomic use" in words


def test_every_joint_is_in_the_picture_and_in_words(outline):
    """Each joint has its place in percent of the height, and a button with what put it there."""
    skeleton = scene()[3]
    drawn = outline.scene()["joints"]
    assert [joint["name"] for joint in drawn] == list(skeleton.names)
    for joint, shown in zip(skeleton, drawn, strict=True):
        assert shown["at"] == pytest.approx(100.0 * joint.position, abs=1e-3)
        assert np.array(shown["axes"]) == pytest.approx(joint.axes, abs=1e-3)
        assert shown["spread"] == pytest.approx(0.8)
        parent = drawn[shown["parent"]]["name"] if shown["parent"] >= 0 else None
        assert parent == joint.parent
    buttons = [a.get("data-joint") for tag, a in outline.elements if tag == "button"]
    assert {str(n) for n in range(len(skeleton))} <= set(buttons)


def test_the_mesh_is_in_the_page(outline):
    """Unpacked from base 64, the layers hold the triangles of the character."""
    character = scene()[0]
    surfaces = outline.scene()["surfaces"]
    assert len(surfaces) == len([part for part in character.parts if len(part.faces)])
    count, tallest = 0, 0.0
    for surface in surfaces:
        x, y, z, i, j, k = (
            np.frombuffer(base64.b64decode(surface["trace"][key]["bdata"]), dtype=kind)
            for key, kind in zip("xyzijk", ("<f4",) * 3 + ("<u2",) * 3, strict=True)
        )
        assert {surface["trace"][key]["dtype"] for key in "xyz"} == {"f4"}
        assert {surface["trace"][key]["dtype"] for key in "ijk"} == {"u2"}
        assert len(x) == len(y) == len(z) > max(i.max(), j.max(), k.max())
        count, tallest = count + len(i), max(tallest, float(y.max()))
    assert count == character.face_count
    assert tallest == pytest.approx(100.0 * character.vertices[:, 1].max(), abs=1e-2)


def test_findings_stand_gravest_first_and_lead_to_their_joint(outline):
    """The error comes before the warning; both are buttons; a note about no joint is none."""
    words = outline.words()
    assert words.index("do not mirror") < words.index("knee is straight") < words.index("Note 0.")
    names = list(scene()[3].names)
    led = [
        int(attributes["data-joint"])
        for tag, attributes in outline.elements
        if tag == "button" and attributes.get("data-joint")
    ]
    assert led[:2] == [names.index("right_eye"), names.index("left_knee")]
    assert sum(tag == "div" and a.get("class") == "plain" for tag, a in outline.elements) == 20


def test_nothing_is_fetched(outline):
    """No element names a place outside the page, and its policy forbids fetching."""
    for tag, attributes in outline.elements:
        assert not {"src", "href", "srcset", "action", "data"} & attributes.keys(), tag
        assert tag not in ("link", "iframe", "object", "embed", "base")
    (policy,) = [
        attributes["content"]
        for tag, attributes in outline.elements
        if attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "http" not in policy
    assert "unsafe-inline" not in policy.split("script-src")[1].split(";")[0]


def test_texts_from_files_stay_texts():
    """Names of files, parts, joints and findings that look like HTML make no element."""
    character, roles, frame, skeleton = scene(
        findings=(*FINDINGS[:1], Finding("x", NASTY, "warning", NASTY, NASTY))
    )
    part = replace(character.parts[0], name=NASTY)
    character = replace(character, name=NASTY, parts=(part, *character.parts[1:]))
    joints = tuple(
        replace(joint, name=NASTY) if joint.name == "left_toe_tip" else joint for joint in skeleton
    )
    skeleton = replace(
        skeleton,
        joints=joints,
        template=NASTY,
        source=replace(skeleton.source, mesh=NASTY, up=NASTY),
        parts=(PartSummary(NASTY, NASTY, 1.0, NASTY),),
    )
    outline = Outline(render_page(character, roles, frame, skeleton))
    assert not [tag for tag, _ in outline.elements if tag == "img"]
    assert [a.get("id", "") for tag, a in outline.elements if tag == "script"] == ["scene", "", ""]
    assert outline.words().count(" ".join(NASTY.split())) >= 6
    assert NASTY in [joint["name"] for joint in outline.scene()["joints"]]


def test_a_page_is_known_as_ours(page, tmp_path):
    """A written page carries our mark; another HTML file is somebody else's."""
    write_page(page, tmp_path / "a.html")
    assert (tmp_path / "a.html").read_bytes() == page
    assert is_ours(tmp_path / "a.html")
    (tmp_path / "b.html").write_text("<!DOCTYPE html><p>autoplace</p>")
    assert not is_ours(tmp_path / "b.html")


def test_a_page_is_small_enough_to_send(page):
    """The script that draws is the most of it: under 7 MB."""
    assert len(page) < 7e6


def test_figures_without_hands_or_head_have_a_page():
    """What a skeleton lacks is neither drawn nor offered."""
    without = ("wrist", "thumb", "index", "middle", "ring", "pinky", "head", "eye")
    outline = Outline(render_page(*scene(without=without, findings=())))
    views = [a["data-view"] for _, a in outline.elements if "data-view" in a]
    assert views == ["front", "side", "back", "top", "feet"]
    assert "The checks found nothing to report." in outline.words()
    assert not re.search(r"left_(wrist|hand)", outline.words())
