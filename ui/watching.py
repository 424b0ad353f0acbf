"""A part of the page that looks again by itself while something goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Callable

# How often work that goes on elsewhere is looked at, s: a person sees it move, and a phone on a
# slow network keeps up (a choice).
WATCH_S = 0.7


def watch(look: Callable[[bool], None], every_s: float | None) -> None:
    """Draw what ``look`` draws, and draw it again every so many seconds; None: once.

    ``look`` is told whether the timer, or a tap on what it drew, runs it. Only then may it ask for
    a fresh page: a page that begins anew while it is drawn forgets the tap that made it run and
    that stands further down.
    """
    drawing = [True]

    def run() -> None:
        by_timer = not drawing
        drawing.clear()
        look(by_timer)

    st.fragment(run, run_every=every_s)()
