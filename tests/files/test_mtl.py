"""Colours, opacity and textures of MTL files."""

from __future__ import annotations

import pytest

from autoplace.files.looks import GREY
from autoplace.files.mtl import read_mtl


def test_every_material_has_its_own_values():
    """Lines belong to the last `newmtl`; names may hold blanks; other lines are passed over."""
    found = read_mtl(
        b"# made by hand\r\nnewmtl my skin\r\n  Kd 0.1 0.2 0.3 # pale\r\nNs 10\r\nd 0.25\r\n"
        b"newmtl b\nKd .5\nTr 0.25\nmap_Kd  a b.png\nnewmtl b\nKd 1 1 1\n"
    )
    assert list(found) == ["my skin", "b"]
    assert found["my skin"].base_colour(textured=False) == (0.1, 0.2, 0.3, 0.25)
    assert found["b"].base_colour(textured=False) == (0.5, 0.5, 0.5, 0.75)
    assert found["b"].maps["colour"].file == "a b.png"


@pytest.mark.parametrize(
    ("line", "name", "clamped", "moved"),
    [
        ("skin.png", "skin.png", False, False),
        ("-clamp on skin.png", "skin.png", True, False),
        ("-blendu off -mm 0 1 -bm 0.5 -texres 4 skin.png", "skin.png", False, False),
        ("-s 2 2 1 -o 0.5 -t 0 0 my skin.png", "my skin.png", False, True),
        ("-o 1 2 3 4.png", "4.png", False, True),
        ("-odd.png", "-odd.png", False, False),
    ],
)
def test_options_before_a_texture_are_told_from_its_name(line, name, clamped, moved):
    """Options take one, two or up to three values; the rest of the line is the name."""
    found = read_mtl(f"newmtl a\nmap_Kd {line}".encode())["a"].maps["colour"]
    assert (found.file, found.clamped, found.moved) == (name, clamped, moved)


@pytest.mark.parametrize(
    ("lines", "colour"),
    [
        ("", (1.0, 1.0, 1.0)),
        ("Kd 0 0 0", (1.0, 1.0, 1.0)),
        ("Kd 0.5 1 1", (0.5, 1.0, 1.0)),
    ],
)
def test_a_texture_is_multiplied_with_the_colour_but_not_with_black(lines, colour):
    """White where nothing is said or the texture could not be seen."""
    assert read_mtl(f"newmtl a\n{lines}".encode())["a"].base_colour(textured=True)[:3] == colour


@pytest.mark.parametrize(
    "line", ["Kd", "Kd 1 1", "Kd a b c", "Kd nan 1 1", "Kd spectral a.rfl", "d"]
)
def test_what_cannot_be_read_is_passed_over(line):
    """The material has the grey of unknown surfaces."""
    assert read_mtl(f"newmtl a\n{line}".encode())["a"].base_colour(textured=False) == GREY


@pytest.mark.parametrize("lines", ["d 1\nTr 1", "Tr 1\nd 1"])
def test_the_opacity_of_d_goes_before_that_of_tr(lines):
    """Some programs write both as if they meant the same; the surface must not vanish."""
    assert read_mtl(f"newmtl a\n{lines}".encode())["a"].opacity == 1.0


def test_values_out_of_range_are_moved_to_its_ends():
    """glTF allows 0 to 1."""
    entry = read_mtl(b"newmtl a\nKd -1 2 0.5\nd 7")["a"]
    assert entry.base_colour(textured=False) == (0.0, 1.0, 0.5, 1.0)


def test_endless_lines_are_passed_over():
    """A number of a million digits, and as many options, take no time."""
    line = b"map_Kd -s " + b"1" * 1_000_000
    many = b"map_Kd " + b"-s 1 1 1 " * 100_000 + b"a.png"
    found = read_mtl(b"newmtl a\n" + line + b"\n" + many + b"\nd 0.5")["a"]
    assert (found.maps, found.opacity) == ({}, 0.5)


def test_bytes_that_are_no_text_are_read_as_far_as_they_go():
    """Old encodings and rubbish raise nothing."""
    assert list(read_mtl(b"\xff\xfe\x00newmtl\nnewmtl k\xf6rper\nKd 1 1 1\n\x00")) == [
        "k\ufffdrper"
    ]


def test_shine_and_emission_are_read():
    """Numbers and textures of the extension for physically based materials, and `norm`."""
    entry = read_mtl(
        b"newmtl a\nKe 0.5 2 0\nPr 0.25\nPm 1\nmap_Pr r.png\nmap_Pm m.png\nnorm -bm 0.5 n.png\n"
        b"map_Ke e.png\n"
    )["a"]
    assert entry.light(textured=False) == (0.5, 1.0, 0.0)
    assert (entry.rough(0.8), entry.metallic) == (0.25, 1.0)
    assert {of: m.file for of, m in entry.maps.items()} == {
        "roughness": "r.png",
        "metallic": "m.png",
        "normal": "n.png",
        "emission": "e.png",
    }
    assert entry.maps["normal"].strength == 0.5
    assert entry.told() == ()


@pytest.mark.parametrize(
    ("lines", "roughness"),
    [
        ("Ns 0\nKs 1 1 1", 1.0),  # width 1, the widest there is
        ("Ns 30\nKs 0.5", 0.5),  # width sqrt(2 / 32) = 1/4
        ("Ns 510\nKs 0.5", 0.25),  # width sqrt(2 / 512) = 1/16
        ("Ns 30\nKs 0 0 0", 0.8),  # no highlight, so its width says nothing
        ("Ns 30\nKs 1 1 1\nPr 0.1", 0.1),
        ("Ns x", 0.8),
        ("Ns -5", 1.0),
    ],
)
def test_roughness_is_that_of_the_highlights_width(lines, roughness):
    """By hand from width = sqrt(2 / (n + 2)) = roughness squared."""
    assert read_mtl(f"newmtl a\n{lines}".encode())["a"].rough(0.8) == pytest.approx(roughness)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("bump a.png\nmap_Bump -bm 2 a.png", ("bump", "map_Bump")),
        ("Ks 1 1 1", ("Ks",)),
        ("Ks 0 0 0\nPc 0\nmap_aat on\nNi 1.5\nillum 2", ()),
        ("map_d a.png\nPc 0.5", ("map_d", "Pc")),
    ],
)
def test_what_is_lost_is_told_where_it_would_be_seen(lines, told):
    """Heights are no normals; a coat of nothing is no loss."""
    assert read_mtl(f"newmtl a\n{lines}".encode())["a"].told() == told
