"""What rests on a layout says when it is outdated, while the parts are placed again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.placing.layout_state import layout_view
from ui.texts import say_problem
from ui.watching import WATCH_S, watch

if TYPE_CHECKING:
    from ui.desks import Desk
    from ui.frame import OpenPage


def say_if_outdated(page: OpenPage) -> bool:
    """Say that what stands below is of an outdated layout; return whether it is.

    Placing goes on meanwhile, and what has come of it is drawn by itself.
    """
    desk = page.desk
    goes_on = desk.follow()
    is_old = page.lot.layout.standing == "old"
    # A place of its own, so that what stands below is not set up anew.
    with st.container():
        if is_old:
            watch(lambda by_timer: _say(desk, by_timer and goes_on), WATCH_S if goes_on else None)
    return is_old


def _say(desk: Desk, went_on: bool) -> None:
    goes_on = desk.follow()
    if desk.plan_problem:
        say_problem(desk.plan_problem)
    if goes_on:
        st.warning(
            "Something was changed: the parts are being placed again. What stands below is of the "
            "layout before."
        )
    elif layout_view(desk.lot).standing == "old":
        st.warning(
            "What stands below is of a layout older than what you said since: place the parts "
            "again, on Layout."
        )
    if went_on and not goes_on:
        st.rerun()
