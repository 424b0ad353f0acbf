"""Ways to damage a file: as a bad card, a broken copy or a hasty hand would, and worse."""

import contextlib
import io
import json
import random
import sqlite3
import zipfile
import zlib
from collections.abc import Callable
from copy import deepcopy
from typing import Any

Damage = Callable[[bytes, random.Random], bytes]

# What parsers trip over: limits of integers and floats, odd texts, other types.
_ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**63, -(2**63) - 1, 1e308, -1e308, 5e-324, "", " ", "NaN",
    "1e999", "-0", "\u0000", "\ud83e\udeb5", "a" * 3000, [], {}, [[]], [None], {"": None}, "1/0",
    "23 1/0 in", "=1+1", "../../x", "٣", "½",
)  # fmt: skip
# What a column of a table can hold.
_ODD_CELLS = (
    *(None, 0, -1, 2**31, 2**62, -(2**63), 1e308, -1e308, "", " ", "NaN", "\u0000", "a" * 3000),
    *("{}", "[]", "[[]]", "null", "../../x", b"", b"\x00\xff"),
)
_ODD_NAMES = ("../x", "/x", "lot/", "photos/", "photos/x.jpg", "LOT", "lot\\x", "a" * 300, "\u0001")
_ODD_BYTES = (
    *(b"\x00", b"\xff", b"\xff\xd8", b"\xff\xd9", b"\xff\xe1", b"\xff\xff\xff\xff"),
    *(b"\x7f\xff\xff\xff", b"\x80\x00\x00\x00", b"Exif\x00\x00", b"PK\x03\x04", b"\xef\xbb\xbf"),
    *(b"\xff\xfe", b"\r", b"\n\n", b'"', b",,,,", b"{", b"}", b"[" * 3000),
    *(b"1e999", b"-1", b"NaN", b"Infinity", b"1/0"),
)


def flip(content: bytes, rng: random.Random) -> bytes:
    """Change a few bytes."""
    damaged = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 8, 40))):
        if damaged:
            damaged[rng.randrange(len(damaged))] = rng.randrange(256)
    return bytes(damaged)


def flip_head(content: bytes, rng: random.Random) -> bytes:
    """Change bytes where headers and EXIF stand."""
    head = min(len(content), 400)
    return flip(content[:head], rng) + content[head:]


def cut(content: bytes, rng: random.Random) -> bytes:
    """Leave out the end, or a piece in the middle."""
    a, b = sorted(rng.randrange(len(content) + 1) for _ in range(2))
    return content[:a] if rng.random() < 0.5 else content[:a] + content[b:]


def repeat(content: bytes, rng: random.Random) -> bytes:
    """Say a piece again, somewhere else."""
    a, b = sorted(rng.randrange(len(content) + 1) for _ in range(2))
    at = rng.randrange(len(content) + 1)
    return content[:at] + content[a : min(b, a + 4096)] * rng.choice((1, 2, 30)) + content[at:]


def insert(content: bytes, rng: random.Random) -> bytes:
    """Put something odd in."""
    at = rng.randrange(len(content) + 1)
    return content[:at] + rng.choice(_ODD_BYTES) + content[at:]


def odd_number(content: bytes, rng: random.Random) -> bytes:
    """Write something odd in the place of a number of a text."""
    text = content.decode("utf-8", "replace")
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    if not places:
        return insert(content, rng)
    begin = end = rng.choice(places)
    while end < len(text) and (text[end].isdigit() or text[end] in ".-"):
        end += 1
    odd = (
        json.dumps(rng.choice(_ODD_VALUES)) if rng.random() < 0.5 else str(rng.choice(_ODD_VALUES))
    )
    return (text[:begin] + odd + text[end:]).encode("utf-8", "replace")


def odd_leaf(content: bytes, rng: random.Random) -> bytes:
    """Put something odd, nothing, or a copy from elsewhere into a JSON record."""
    try:
        record = json.loads(content)
    except (ValueError, RecursionError):
        return flip(content, rng)
    if not isinstance(record, dict | list):
        return insert(content, rng)
    for _ in range(rng.choice((1, 1, 2, 5))):
        holder, key = _any_place(record, rng)
        if holder is None:
            break
        way = rng.random()
        if way < 0.25 and isinstance(holder, dict):
            del holder[key]
        elif way < 0.4:
            other, there = _any_place(record, rng)
            holder[key] = json.loads(json.dumps(other[there]))
        else:
            # A copy: one value put in twice could come to hold itself.
            holder[key] = deepcopy(rng.choice(_ODD_VALUES))
    return json.dumps(record).encode()


def _any_place(record: Any, rng: random.Random) -> tuple[Any, Any]:
    places: list[tuple[Any, Any]] = []
    waiting = [record]
    while waiting:
        here = waiting.pop()
        keys = here.keys() if isinstance(here, dict) else range(len(here))
        for key in keys:
            places.append((here, key))
            if isinstance(here[key], dict | list):
                waiting.append(here[key])
    return rng.choice(places) if places else (None, None)


def odd_cell(content: bytes, rng: random.Random) -> bytes:
    """Put something odd into a few cells of a lot, which stays a sound database."""
    with contextlib.closing(sqlite3.connect(":memory:")) as lot:
        try:
            lot.deserialize(content)
            lot.execute("PRAGMA ignore_check_constraints = ON")
            for _ in range(rng.choice((1, 1, 2, 5))):
                _spoil_a_cell(lot, rng)
            lot.commit()
            return lot.serialize()
        except (sqlite3.Error, UnicodeError):
            return flip(content, rng)


def _spoil_a_cell(lot: sqlite3.Connection, rng: random.Random) -> None:
    tables = lot.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    filled = [
        name
        for (name,) in tables.fetchall()
        if lot.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
    ]
    table = rng.choice(filled)
    column = rng.choice([row[1] for row in lot.execute(f'PRAGMA table_info("{table}")')])
    rows = [row[0] for row in lot.execute(f'SELECT rowid FROM "{table}"')]
    at = rng.choice(rows)
    (old,) = lot.execute(f'SELECT "{column}" FROM "{table}" WHERE rowid = ?', (at,)).fetchone()
    # A record in a cell is read further: spoil a leaf of it as often as the whole cell.
    value = rng.choice(_ODD_CELLS)
    if isinstance(old, str) and old.startswith(("{", "[")) and rng.random() < 0.7:
        value = odd_leaf(old.encode(), rng).decode("utf-8", "replace")
    # Another type than the table's, or nothing where something must be: it refuses.
    with contextlib.suppress(sqlite3.Error):
        lot.execute(f'UPDATE "{table}" SET "{column}" = ? WHERE rowid = ?', (value, at))


def odd_member(content: bytes, rng: random.Random) -> bytes:
    """Damage a file inside a ZIP whose sums are right again."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = {name: archive.read(name) for name in archive.namelist()}
    except Exception:  # a damaged archive fails in more ways than zipfile names
        return flip(content, rng)
    if not members:
        return insert(content, rng)
    name = rng.choice(sorted(members))
    way = rng.random()
    if way < 0.1:
        del members[name]
    elif way < 0.2:
        members[rng.choice(_ODD_NAMES)] = members[name]
    elif name == "lot" and way < 0.8:
        members[name] = odd_cell(members[name], rng)
    else:
        members[name] = rng.choice(BYTES)(members[name], rng)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, inside in members.items():
            archive.writestr(name, inside)
    return made.getvalue()


def odd_chunk(content: bytes, rng: random.Random) -> bytes:
    """Damage a chunk of a PNG; its sum is right again, and packed pixels unpack."""
    chunks, at = [], 8
    while at + 12 <= len(content):
        size = int.from_bytes(content[at : at + 4], "big")
        chunks.append((content[at + 4 : at + 8], content[at + 8 : at + 8 + size]))
        at += 12 + size
    if not chunks:
        return insert(content, rng)
    kinds = sorted({kind for kind, _ in chunks})
    chosen, damage = rng.choice(kinds), rng.choice((flip, flip, cut, repeat))
    if chosen == b"IDAT":
        packed = b"".join(inside for kind, inside in chunks if kind == chosen)
        with contextlib.suppress(zlib.error):
            packed = zlib.compress(damage(zlib.decompress(packed), rng), 1)
        at = [kind for kind, _ in chunks].index(chosen)
        others = [chunk for chunk in chunks if chunk[0] != chosen]
        chunks = [*others[:at], (chosen, packed), *others[at:]]
    else:
        chunks = [
            (kind, damage(inside, rng) if kind == chosen else inside) for kind, inside in chunks
        ]
    return content[:8] + b"".join(_chunk(kind, inside) for kind, inside in chunks)


def _chunk(kind: bytes, inside: bytes) -> bytes:
    sum_of = zlib.crc32(kind + inside).to_bytes(4, "big")
    return len(inside).to_bytes(4, "big") + kind + inside + sum_of


BYTES: tuple[Damage, ...] = (flip, flip_head, cut, repeat, insert)
TEXT: tuple[Damage, ...] = (*BYTES, odd_number, odd_number)
JSON: tuple[Damage, ...] = (*TEXT, odd_leaf, odd_leaf, odd_leaf)
PNG: tuple[Damage, ...] = (*BYTES, odd_chunk, odd_chunk, odd_chunk)
LOT: tuple[Damage, ...] = (*BYTES, odd_cell, odd_cell, odd_cell)
ZIP: tuple[Damage, ...] = (*BYTES, odd_member, odd_member, odd_member)
