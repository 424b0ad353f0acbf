"""Words that come from files and people, shown as they are."""

import re

import streamlit as st

from scanner.units import unbroken

# What Markdown would take for its own (CommonMark, 2.4), and Streamlit for colours and formulas.
_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!<>|~:$&])")


def plain(text: str) -> str:
    """Return a text for Markdown that reads as it was written; a size stays on one line."""
    return unbroken(_MARKS.sub(r"\\\1", text))


def say_problem(problem: object) -> None:
    """Show what went wrong; names of files and parts in it are no Markdown."""
    st.error(plain(str(problem)))
