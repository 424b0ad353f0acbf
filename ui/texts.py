"""Words that come from files and people, shown as they are."""

import re

import streamlit as st

_IN_A_SIZE = re.compile(r" (?=± )|(?<=±) |(?<=\d) (?=\d+/\d|mm\b|in\b)")
# What Markdown would take for its own (CommonMark, 2.4), and Streamlit for colours and formulas.
_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!<>|~:$&])")


def plain(text: str) -> str:
    """Return a text for Markdown that reads as it was written."""
    return _MARKS.sub(r"\\\1", text)


def unbroken(text: str) -> str:
    """Return a text whose sizes are not broken over two lines: ``2442 ± 5 mm``, ``1 1/16 in``."""
    return _IN_A_SIZE.sub("\u00a0", text)


def say_problem(problem: object) -> None:
    """Show what went wrong; names of files and parts in it are no Markdown."""
    st.error(plain(str(problem)))
