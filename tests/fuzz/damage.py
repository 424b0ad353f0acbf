"""Ways to damage a file: as a bad card, a broken copy or a hasty hand would, and worse."""

import json
import random
from collections.abc import Callable
from typing import Any

Damage = Callable[[bytes, random.Random], bytes]

# What parsers trip over: limits of integers and floats, odd texts, other types.
_ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**63, -(2**63) - 1, 1e308, -1e308, 5e-324, "", " ", "NaN",
    "1e999", "-0", "\u0000", "\ud83e\udeb5", "a" * 3000, [], {}, [[]], [None], {"": None}, "1/0",
    "23 1/0 in", "=1+1", "../../x", "٣", "½",
)  # fmt: skip
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
            holder[key] = rng.choice(_ODD_VALUES)
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


BYTES: tuple[Damage, ...] = (flip, flip_head, cut, repeat, insert)
TEXT: tuple[Damage, ...] = (*BYTES, odd_number, odd_number)
JSON: tuple[Damage, ...] = (*TEXT, odd_leaf, odd_leaf, odd_leaf)
