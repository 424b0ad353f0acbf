"""A terminal that lacks a sign of ours gets a plain one, never a fault."""

import io
import sys

import pytest

from scanner.cli.plain_signs import print_in_any_letters


@pytest.mark.parametrize(
    ("encoding", "errors", "seen"),
    [
        ("ascii", "strict", b"2442 +- 5 mm, 3 x leg, 20 deg, the cup's, 9 JPY, ?\xff"),
        ("ascii", "surrogateescape", b"2442 +- 5 mm, 3 x leg, 20 deg, the cup's, 9 JPY, ?\xff"),
        ("latin-1", "strict", b"2442 \xb1 5 mm, 3 \xd7 leg, 20\xb0, the cup's, 9 \xa5, ?\xff"),
        ("utf-8", "strict", "2442 ± 5 mm, 3 × leg, 20°, the cup’s, 9 ¥, 木".encode() + b"\xff"),
    ],
)
def test_a_size_is_readable_on_any_terminal(encoding, errors, seen, monkeypatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding, errors))
    print_in_any_letters()
    print("2442 ± 5 mm, 3 × leg, 20°, the cup’s, 9 ¥, 木\udcff", end="", flush=True)
    assert raw.getvalue() == seen
