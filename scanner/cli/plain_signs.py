"""Printing where the terminal's letters lack a sign: plain ones stand for it."""

import codecs
import io
import sys

# What our sentences use beyond ASCII, as a typewriter writes it.
_PLAIN = {
    "±": "+-",
    "×": "x",
    "°": " deg",
    "·": "-",
    "–": "-",
    "\u2212": "-",
    "…": "...",
    "\u2019": "'",
    "\u00a0": " ",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "½": "1/2",
    "€": "EUR",
    "£": "GBP",
    "¥": "JPY",
}


def print_in_any_letters() -> None:
    """Let nothing that is printed end in a fault, whatever encoding the terminal has."""
    codecs.register_error("plain", _plainer)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plain")


def _plainer(problem: UnicodeError) -> tuple[str | bytes, int]:
    """Return what stands for the first sign that cannot be written, and where to go on."""
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    sign = problem.object[problem.start]
    if "\udc80" <= sign <= "\udcff":
        # A byte of a file's name that was no text: it goes out as it came in.
        return bytes([ord(sign) - 0xDC00]), problem.start + 1
    return _PLAIN.get(sign, "?"), problem.start + 1
