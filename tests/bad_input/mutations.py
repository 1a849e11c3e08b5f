"""Damages the bytes of a file as transfers, broken writers and ill will do, by a seed.

Each mutator takes the bytes, those of another file of the kind, and a random generator, and gives
other bytes. `mutated` applies one to four of them, after one another.
"""

from __future__ import annotations

import base64
import json
import re
import struct
from collections.abc import Callable
from random import Random
from typing import Any

MOST_BYTES = 1 << 21
"""A mutated file is cut here, so that what reading it takes can be judged beside its size."""
WORDS = (
    *("nan", "-inf", "1e400", "-1", "-0", "-0.0", "1e-400", "0", "1e30", "1e308", "2147483648"),
    *("4294967295", "-2147483649", "18446744073709551616", "9" * 40, "9" * 5000, "1" + "0" * 30),
    *("0x10", "1_000", "٣", "１２", "²", "1.5", "+7", "1e", ".", "-", "", "true", "null", "[]"),
    *('"text"', "{}", "../../other.bin", "/dev/zero", "\x1b[31m", "\0", "é" * 300, "a" * 70000),
)
"""What stands for a number or a word: values out of range, of another type, in other digits."""
VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, -0.0, 1, 3, 255, 2**31, 2**32 - 1, 2**63, 10**18, 10**400, 1e300),
    *(1e-320, float("nan"), float("inf"), "", "text", "1", "٣", "\ud800", "\0", "../a.bin"),
    *("/dev/zero", "data:,", "data:application/octet-stream;base64,!!", "http://127.0.0.1/a.bin"),
    *([], [0], [[]], [1e400, 0, 0], [0] * 3, ["a"] * 4, {}, {"a": {}}, "MAT4", "SCALAR", "VEC3"),
)
"""What stands in place of a JSON value."""
NUMBER = re.compile(rb"(?<![\w.])[-+]?\d+(?:\.\d*)?(?:[eE][-+]?\d+)?(?![\w.])")
WORD = re.compile(rb"[^\s\"'<>=,;{}\[\]()]+")
GLB_HEAD, CHUNK_HEAD = struct.Struct("<4sII"), struct.Struct("<I4s")

Mutator = Callable[[bytes, bytes, Random], bytes]


def mutated(data: bytes, other: bytes, random: Random) -> bytes:
    """The file after one to four mutations, at most MOST_BYTES long."""
    structured = [m for m, fits in STRUCTURED if fits(data)]
    for _ in range(random.choice((1, 1, 1, 2, 2, 3, 4))):
        choices = structured if structured and random.random() < 0.6 else PLAIN
        data = random.choice(choices)(data, other, random)[:MOST_BYTES]
    return data


def _span(data: bytes, random: Random) -> tuple[int, int]:
    """Start and end of a piece, most often a short one."""
    start = random.randrange(len(data) + 1)
    most = random.choice((1, 4, 16, 64, 1024, len(data)))
    return start, min(len(data), start + random.randint(0, most))


def truncate(data: bytes, other: bytes, random: Random) -> bytes:
    """The beginning only."""
    return data[: random.choice((random.randrange(len(data) + 1), max(0, len(data) - 1)))]


def flip_bits(data: bytes, other: bytes, random: Random) -> bytes:
    """Some bits turned over."""
    out = bytearray(data)
    for _ in range(random.choice((1, 1, 4, 32))):
        if out:
            out[random.randrange(len(out))] ^= 1 << random.randrange(8)
    return bytes(out)


def set_bytes(data: bytes, other: bytes, random: Random) -> bytes:
    """One to eight bytes set to one value: huge counts and NaN in binary files."""
    start = random.randrange(len(data) + 1)
    if random.random() < 0.5:  # what formats with a header keep there
        start = random.randrange(min(len(data), 256) + 1)
    value = random.choice((b"\xff", b"\0", b"\x7f", b"\x80", b"\n", b'"', b"\xff\xff\xff\x7f"))
    row = (value * 8)[: random.choice((1, 2, 4, 8))]
    return data[:start] + row + data[start + len(row) :]


def delete(data: bytes, other: bytes, random: Random) -> bytes:
    """A piece left out."""
    start, end = _span(data, random)
    return data[:start] + data[end:]


def duplicate(data: bytes, other: bytes, random: Random) -> bytes:
    """A piece repeated, also many times."""
    start, end = _span(data, random)
    times = min(random.choice((1, 1, 2, 50)), 1 + MOST_BYTES // (end - start + 1))
    return data[:end] + data[start:end] * times + data[end:]


def swap(data: bytes, other: bytes, random: Random) -> bytes:
    """Two pieces that have changed places."""
    a, b, c, d = sorted((*_span(data, random), *_span(data, random)))
    return data[:a] + data[c:d] + data[b:c] + data[a:b] + data[d:]


def splice(data: bytes, other: bytes, random: Random) -> bytes:
    """The beginning of one file and the end of another."""
    return data[: random.randrange(len(data) + 1)] + other[random.randrange(len(other) + 1) :]


def replace_number(data: bytes, other: bytes, random: Random) -> bytes:
    """One number in the text, or the same everywhere, replaced by something that is none."""
    return _replace(NUMBER, data, random)


def replace_word(data: bytes, other: bytes, random: Random) -> bytes:
    """One word of the text replaced, by another of the file or by something strange."""
    return _replace(WORD, data, random)


def _replace(kind: re.Pattern[bytes], data: bytes, random: Random) -> bytes:
    found = list(kind.finditer(data))
    if not found:
        return data
    chosen = random.choice(found)
    new = random.choice((random.choice(WORDS).encode(), random.choice(found)[0]))
    if random.random() < 0.1:
        return data.replace(chosen[0], new, 1 + MOST_BYTES // (len(new) + 1))
    return data[: chosen.start()] + new + data[chosen.end() :]


def nest(data: bytes, other: bytes, random: Random) -> bytes:
    """Brackets or the file's own opening lines repeated until they are nested very deep."""
    start, _ = _span(data, random)
    opening = random.choice(
        (b"[", b'{"a":', b"{", b"(", b"<Group>", b"JOINT a\n{\nOFFSET 0 0 1\n", b"[[a]]\n", b"a.")
    )
    deep = random.choice((50, 600, 3000, 100_000))
    return data[:start] + opening * deep + data[start:]


def repeat_line(data: bytes, other: bytes, random: Random) -> bytes:
    """A line that stands again elsewhere: keys, joints and elements twice."""
    lines = data.splitlines(keepends=True)
    if not lines:
        return data
    line = random.choice(lines)
    chosen = [line] * min(random.choice((1, 1, 1, 5000)), 1 + MOST_BYTES // len(line))
    at = random.randrange(len(lines) + 1)
    return b"".join(lines[:at] + chosen + lines[at:])


def swap_lines(data: bytes, other: bytes, random: Random) -> bytes:
    """Two lines that have changed places."""
    lines = data.splitlines(keepends=True)
    if len(lines) > 1:
        a, b = random.randrange(len(lines)), random.randrange(len(lines))
        lines[a], lines[b] = lines[b], lines[a]
    return b"".join(lines)


def change_json(data: bytes, other: bytes, random: Random) -> bytes:
    """A JSON file, or a binary glTF's, with one to three values changed, moved or left out."""
    tree, rest = _json_of(data)
    if tree is None:
        return data
    for _ in range(random.choice((1, 1, 2, 3))):
        holder, key = random.choice(_places(tree) or [([None], 0)])
        what = random.random()
        if what < 0.5:
            holder[key] = random.choice(VALUES)
        elif what < 0.65 and isinstance(holder[key], int):  # another index: cycles, wrong kinds
            holder[key] += random.choice((-1, 1, random.randint(-9, 9), 10**6))
        elif what < 0.75:
            del holder[key]
        elif what < 0.85:  # a value from elsewhere in the file
            there, where = random.choice(_places(tree))
            holder[key] = json.loads(json.dumps(there[where]))
        elif isinstance(holder[key], list):
            holder[key] = holder[key] * random.choice((0, 2, 3, 200))
        elif isinstance(holder[key], str):
            holder[key] = random.choice(WORDS)
        elif isinstance(holder, dict):
            holder[random.choice(WORDS) or "x"] = holder[key]
    text = json.dumps(tree, ensure_ascii=random.random() < 0.5).encode("utf-8", "surrogatepass")
    if rest is None:
        return text
    text += b" " * (-len(text) % 4)
    body = CHUNK_HEAD.pack(len(text), b"JSON") + text + rest
    return GLB_HEAD.pack(b"glTF", 2, GLB_HEAD.size + len(body)) + body


def change_buffer(data: bytes, other: bytes, random: Random) -> bytes:
    """The binary part of a glTF file damaged, its JSON left sound."""
    tree, rest = _json_of(data)
    change = random.choice((truncate, flip_bits, set_bytes, swap))
    if tree is None:
        return data
    if rest is not None:
        return data[: len(data) - len(rest)] + change(rest, other, random)
    for buffer in tree.get("buffers", []) if isinstance(tree, dict) else []:
        head, _, text = str(buffer.get("uri", "")).partition(",")
        if text:
            try:
                content = change(base64.b64decode(text), other, random)
            except ValueError:
                continue
            buffer["uri"] = f"{head},{base64.b64encode(content).decode()}"
    return json.dumps(tree).encode("utf-8", "surrogatepass")


def _json_of(data: bytes) -> tuple[Any, bytes | None]:
    """The JSON of a file, None where there is none; and of a binary glTF what follows."""
    rest = None
    if data[:4] == b"glTF" and len(data) > 20:
        end = 20 + int.from_bytes(data[12:16], "little")
        data, rest = data[20:end], data[end:]
    try:
        return json.loads(data), rest
    except (ValueError, RecursionError):
        return None, rest


def _places(tree: Any) -> list[tuple[Any, Any]]:
    """Every value of a tree, as what holds it and under which key; a branch is not preferred."""
    found: list[tuple[Any, Any]] = []
    waiting = [tree]
    while waiting:
        holder = waiting.pop()
        keys = range(len(holder)) if isinstance(holder, list) else list(holder)
        for key in keys:
            found.append((holder, key))
            if isinstance(holder[key], dict | list):
                waiting.append(holder[key])
    # numbers outweigh all else: every second pick is of what has a name
    named = [place for place in found if isinstance(place[1], str)]
    return found + named * (1 + len(found) // (2 * len(named))) if named else found


PLAIN: list[Mutator] = [
    *(truncate, flip_bits, set_bytes, delete, duplicate, swap, splice),
    *(replace_number, replace_number, replace_word, nest, repeat_line, swap_lines),
]
STRUCTURED: list[tuple[Mutator, Callable[[bytes], bool]]] = [
    (change_json, lambda data: data[:4] == b"glTF" or data.lstrip()[:1] == b"{"),
    (change_json, lambda data: data[:4] == b"glTF" or data.lstrip()[:1] == b"{"),
    (change_json, lambda data: data[:4] == b"glTF" or data.lstrip()[:1] == b"{"),
    (change_buffer, lambda data: data[:4] == b"glTF" or b'"buffers"' in data),
    (replace_number, lambda data: b"\0" not in data),
    (replace_word, lambda data: b"\0" not in data),
]
