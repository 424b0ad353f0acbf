"""What is not placed and why, folded away: the parts that are placed come first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import streamlit as st

from ui.texts import plain

if TYPE_CHECKING:
    from scanner.app.placing.layout_state import LayoutView

# "2 × rail not placed: why (what comes nearest; what would help; or what else would)".
_LINE = re.compile(r"(?P<what>.+?) not placed: (?P<why>.+?)(?: \((?P<nearest>.+)\))?", re.DOTALL)
# The parts list's own columns; here the words before them say the same.
_COLUMN = re.compile(r" \((?:length|width)_allowance\)")
_TIMES = re.compile(r"(\d) x (\d)")


def say_missing(layout: LayoutView) -> None:
    """Offer the parts that are not placed, each with its reason."""
    if not layout.missing:
        return
    count = layout.asked - layout.placed
    with st.expander(f"{count} {'part' if count == 1 else 'parts'} not placed, and why"):
        st.markdown("\n".join(missing_lines(layout.missing)))


def missing_lines(missing: tuple[str, ...]) -> list[str]:
    """Return a Markdown list: each part with its reason, below it what comes nearest."""
    lines = []
    for said in missing:
        found = _LINE.fullmatch(_COLUMN.sub("", said))
        if found is None:
            lines.append(f"- {plain(said)}")
            continue
        lines.append(f"- **{plain(found['what'])} not placed**: {_in_words(found['why'])}")
        nearest = (found["nearest"] or "").split("; ")
        lines += [f"  - {_in_words(one.removeprefix('or '))}" for one in nearest if one]
    return lines


def _in_words(said: str) -> str:
    # A size stays on one line.
    return plain(_TIMES.sub("\\1\u00a0×\u00a0\\2", said))
