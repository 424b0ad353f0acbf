"""Two layouts side by side: what looks cost, and what an earlier one was like."""

import streamlit as st

from scanner.app.placing.compare_layouts import (
    Side,
    difference_words,
    former,
    go_back,
    has_matches,
    present,
    side,
)
from scanner.app.showing.page_state import board_view
from ui.board_view.component import draw_sheet
from ui.desks import Desk
from ui.frame import OpenPage, change
from ui.texts import say_problem
from ui.watching import WATCH_S, watch

_UNMATCHED = "the least waste: without matched sets"


def compare_layouts(page: OpenPage) -> None:
    """Offer to hold the layout against another one."""
    desk = page.desk
    if page.lot.layout.standing == "none" or not st.toggle("Compare with another layout"):
        return
    others = {one.title: one for one in former(desk.lot)}
    choices = [*([_UNMATCHED] if has_matches(desk.lot) else []), *others]
    if not choices:
        st.write("There is no other layout yet: each one that is made is kept for a while.")
        return
    chosen = st.selectbox("Compare with", choices)
    mine = present(desk.lot)
    if mine is None:
        return
    if chosen != _UNMATCHED:
        _side_by_side(page, mine, others[chosen], "The present layout takes")
        if st.button("Go back to that one"):
            change(lambda: go_back(desk.lot, others[chosen].layout))
        return
    desk.compare()
    rival = desk.rival
    if rival is None:
        watch(lambda by_timer: _wait(desk, by_timer), WATCH_S)
    if isinstance(rival, str):
        say_problem(rival)
    elif rival is not None:
        _side_by_side(page, mine, side(desk.lot, "Without matches", rival), "The matched sets cost")


def _wait(desk: Desk, by_timer: bool) -> None:
    if by_timer and desk.rival is not None:
        st.rerun()
    st.write("The other layout is being made.")


def _side_by_side(page: OpenPage, one: Side, two: Side, says: str) -> None:
    st.write(f"**{difference_words(page.desk.lot, one, two, says)}**")
    for number, (column, shown) in enumerate(zip(st.columns(2), (one, two), strict=True)):
        with column:
            st.write(f"**{shown.title}.** {shown.figures}")
            ids = sorted({placed.board for placed in shown.layout.placements})
            boards = [board_view(page.desk.lot, id, shown.layout) for id in ids]
            draw_sheet(page.lot, boards, False, key=f"side-{number}")
