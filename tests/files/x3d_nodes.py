"""Builds the nodes of an X3D file as objects of the `x3d` package, whose classes check every field.

The package is that of X3D's working group. Each XML element must be a node it knows, each attribute
a field that this node declares, and each value one that the field's type and range allow.
"""

from __future__ import annotations

import contextlib
import io
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

with contextlib.redirect_stdout(io.StringIO()):  # it greets
    from x3d import x3d

NUMBERS = {"SFFloat": 1, "SFVec3f": 3, "SFRotation": 4, "SFColor": 3, "SFInt32": 1}
LISTS = {"MFVec3f": 3, "MFVec2f": 2, "MFFloat": 1, "MFInt32": 1}


def read_nodes(path: Path) -> tuple[Any, str]:
    """The one HAnimHumanoid of a file, and what the package printed while it was built."""
    tree = ElementTree.parse(path)
    root = tree.getroot()
    assert root.tag == "X3D"
    assert root.attrib == {"profile": "Immersive", "version": "4.0"}
    head, scene = root
    assert (head.tag, scene.tag) == ("head", "Scene")
    for element in head:
        node(element)
    (humanoid,) = scene
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        built = node(humanoid)
    assert isinstance(built, x3d.HAnimHumanoid)
    return built, said.getvalue()


def node(element: ElementTree.Element) -> Any:
    """An element with all that is within it, as an object of its class."""
    kind = getattr(x3d, element.tag)
    types = {row[0]: row[2].__name__ for row in kind.FIELD_DECLARATIONS()}
    fields: dict[str, Any] = {}
    for name, text in element.attrib.items():
        if name == "containerField":
            continue
        assert name in types, f"{element.tag} has no field {name}"
        fields[name] = value(types[name], text)
    for child in element:
        built = node(child)
        default = type(built).CONTAINERFIELD_DEFAULT()
        default = default[0] if isinstance(default, tuple | list) else default
        where = child.attrib.get("containerField", default)
        assert where in types, f"{element.tag} holds no {where}"
        if types[where] == "MFNode":
            fields.setdefault(where, []).append(built)
        else:
            assert types[where] == "SFNode"
            assert where not in fields, f"{element.tag} has two {where}"
            fields[where] = built
    return kind(**fields)


def value(kind: str, text: str) -> Any:
    """The text of an attribute as a value of the field's type; the classes judge it."""
    words = text.replace(",", " ").split()
    if kind == "SFString":
        return text
    if kind == "MFString":
        assert text.startswith('"')
        assert text.endswith('"')
        return [text[1:-1].replace('\\"', '"').replace("\\\\", "\\")]
    if kind == "SFBool":
        return {"true": True, "false": False}[text]
    number = int if "Int32" in kind else float
    numbers = [number(word) for word in words]
    if kind in NUMBERS:
        assert len(numbers) == NUMBERS[kind]
        return numbers[0] if NUMBERS[kind] == 1 else tuple(numbers)
    width = LISTS[kind]
    assert len(numbers) % width == 0
    if width == 1:
        return numbers
    return [tuple(numbers[i : i + width]) for i in range(0, len(numbers), width)]
