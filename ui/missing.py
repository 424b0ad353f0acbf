"""What is not placed and why, folded away: the parts that are placed come first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from scanner.app.layout_state import LayoutView


def say_missing(layout: LayoutView) -> None:
    """Offer the parts that are not placed, each with its reason."""
    if not layout.missing:
        return
    count = layout.asked - layout.placed
    with st.expander(f"{count} {'part' if count == 1 else 'parts'} not placed, and why"):
        for line in layout.missing:
            st.markdown(f"- {line}")
