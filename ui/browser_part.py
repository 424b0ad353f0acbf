"""Register a part of the page that runs in the browser, from its files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Iterable

    from streamlit.components.v2.types import ComponentRenderer

SHARED = Path(__file__).parent / "board_view"


def browser_part(
    name: str, html: str, scripts: Iterable[Path], styles: Iterable[Path]
) -> ComponentRenderer:
    """Return the part: its scripts are read as one, in order; the last exports what is called.

    Registered on every run: each test and each server start has a registry of its own. All is text
    of our own, never the user's: a component's sources are trusted code.
    """
    return st.components.v2.component(
        f"bothfaces_{name}",
        html=html,
        css="\n".join(path.read_text(encoding="utf-8") for path in styles),
        js="\n".join(path.read_text(encoding="utf-8") for path in scripts),
    )
