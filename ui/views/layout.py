"""The page "Layout": parts on their boards, to be moved; what is placed, what is not and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.placing.layout_state import layout_view, so_far, worse_words
from scanner.app.showing.layout_board import hand_words, laid_boards
from ui.alike import show_second_boards
from ui.board_view.shapes import held_by
from ui.frame import (
    LAYOUT,
    OpenPage,
    answers_to,
    go_to_step,
    look_over_first,
    open_page,
    state_of,
    take_late,
)
from ui.layout_view.component import draw_layout
from ui.missing import say_missing
from ui.texts import say_problem
from ui.views.compare import compare_layouts
from ui.watching import WATCH_S, watch

if TYPE_CHECKING:
    from scanner.app.showing.page_state import LotView
    from ui.desks import Desk

_FOLLOWED = "layout-followed"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk, lot = page.desk, page.lot
    if not lot.lines or not lot.has_parts:
        missing, step = ("parts list", "parts") if not lot.has_parts else ("boards", "boards")
        st.write(f"No {missing} yet. Next: add {'it' if missing == 'parts list' else 'them'}.")
        if st.button("Add the parts list" if step == "parts" else "Add boards", type="primary"):
            go_to_step("parts" if step == "parts" else "boards")
        return
    goes_on = desk.follow() or page.is_behind()
    best = desk.best_so_far() if desk.is_improving else None
    drawn = so_far(best) if best else ""
    watch(
        lambda by_timer: _in_words(desk, lot, goes_on, drawn, by_timer),
        WATCH_S if goes_on else None,
    )
    standing = "placing" if goes_on else lot.layout.standing
    # No fragment round what is taken in hand: a restarted server would not know it.
    view = draw_layout(
        lot,
        laid_boards(desk.lot, best),
        hand_words(desk.lot),
        answers_to(desk, LAYOUT),
        "improving" if desk.is_improving else standing,
        held=held_by(state_of(LAYOUT, "outbox")),
        key=LAYOUT,
        on_outbox=lambda: take_late(desk, LAYOUT),
    )
    take_late(desk, LAYOUT, view.get("outbox"))
    wanted = view.get("board") or {}
    if wanted.get("n") != st.session_state.get(_FOLLOWED):
        st.session_state[_FOLLOWED] = wanted.get("n")
        if wanted.get("id") in [line.id for line in lot.lines]:
            go_to_step("flaws", board=str(wanted["id"]))
    if not desk.is_improving:
        show_second_boards(desk)
        compare_layouts(page)


def _in_words(desk: Desk, lot: LotView, went_on: bool, drawn: str, by_timer: bool) -> None:
    """Say how the layout stands; looked at again while it lags behind the lot."""
    goes_on = desk.follow()
    best = desk.best_so_far() if desk.is_improving else None
    if desk.plan_problem:
        say_problem(desk.plan_problem)
    if desk.is_improving:
        _while_improving(desk, so_far(best) if best else "")
    else:
        _at_rest(desk, goes_on, lot)
    is_other = (went_on and not goes_on) or (best is not None and so_far(best) != drawn)
    if by_timer and is_other:
        # The drawing must show the new layout, and the timer may stop.
        st.rerun()


def _while_improving(desk: Desk, found: str) -> None:
    said = st.container()
    if st.button("Stop, keep the best", type="primary", disabled=desk.is_stopping):
        desk.stop_planning()
    # A search ends where it may, and its best is judged: till then a tap must not seem lost.
    if desk.is_stopping:
        said.write(f"**Stopping: {found or 'nothing better was found'}.** The best is kept.")
    else:
        said.write(f"**Improving: {found or 'nothing better yet'}.** It goes on until you stop it.")


def _at_rest(desk: Desk, goes_on: bool, lot: LotView) -> None:
    layout = layout_view(desk.lot)
    if layout.headline:
        st.write(f"**{layout.headline}.** {layout.bound}")
    # One line always: the boards below must not jump under a finger when it changes.
    st.write(f"{layout.totals} {_standing_words(layout.standing, goes_on)}")
    if layout.standing == "current" and (worse := worse_words(desk.lot)):
        st.write(worse)
    for line in layout.warnings:
        st.write(line)
    say_missing(layout)
    with st.container(horizontal=True):
        if st.button(
            "Go on to cutting",
            type="secondary" if look_over_first(lot, layout.boards) else "primary",
            disabled=layout.standing == "none",
        ):
            go_to_step("cut")
        if st.button("Place the parts again", disabled=desk.is_planning):
            desk.place_again()
            st.rerun()
        if st.button("Improve while I watch", disabled=desk.is_planning):
            desk.improve()
            st.rerun()


def _standing_words(standing: str, goes_on: bool) -> str:
    if goes_on:
        return f"The parts are being placed{'' if standing == 'none' else ' again'}."
    if standing == "old":
        return "This layout is older than what you said of the boards."
    return "This layout is up to date." if standing == "current" else ""


show(open_page("layout"))
