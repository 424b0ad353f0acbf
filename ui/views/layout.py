"""The page "Layout": what is placed, what is not and why, and what it rests on."""

import streamlit as st

from scanner.app.layout_state import layout_view
from scanner.app.page_state import board_view
from ui.board_view.component import draw_sheet
from ui.desks import Desk
from ui.frame import OpenPage, go_to_step, open_page

_WATCH_S = 0.7
# What a person waits for without asking twice.
_LONGER_S = 20.0


def show(page: OpenPage) -> None:
    """Show the page."""
    desk, lot = page.desk, page.lot
    if not lot.lines or not lot.has_parts:
        missing, step = ("parts list", "parts") if not lot.has_parts else ("boards", "boards")
        st.write(f"No {missing} yet. Next: add {'it' if missing == 'parts list' else 'them'}.")
        if st.button("Add the parts list" if step == "parts" else "Add boards", type="primary"):
            go_to_step("parts" if step == "parts" else "boards")
        return
    goes_on = desk.follow()
    st.fragment(_in_words, run_every=_WATCH_S if goes_on else None)(desk, goes_on)
    opened = lot.layout.boards
    boards = [board_view(desk.lot, line.id) for line in lot.lines if line.id in opened]
    wanted = draw_sheet(lot, boards, goes_on, key="sheet").get("board") or {}
    if wanted.get("id") in opened and wanted.get("n") != st.session_state.get("sheet-followed"):
        st.session_state["sheet-followed"] = wanted.get("n")
        go_to_step("flaws", board=str(wanted["id"]))
    untouched = [line.id for line in lot.lines if line.id not in opened]
    if untouched and opened:
        st.write(f"Not needed: {', '.join(untouched)}.")


def _in_words(desk: Desk, went_on: bool) -> None:
    """Say how the layout stands; a fragment, with a timer while it lags behind the lot."""
    goes_on = desk.follow()
    layout = layout_view(desk.lot)
    if desk.plan_problem:
        st.error(desk.plan_problem)
    if layout.headline:
        st.write(f"**{layout.headline}.** {layout.bound}")
    if goes_on and layout.standing == "none":
        st.write("The parts are being placed.")
    elif goes_on:
        st.write("The parts are being placed again.")
    elif layout.standing == "old":
        st.write("This layout is older than what you said of the boards.")
    for line in layout.lines:
        st.markdown(f"- {line}")
    with st.container(horizontal=True):
        if st.button("Go on to cutting", type="primary", disabled=layout.standing == "none"):
            go_to_step("cut")
        if st.button("Place the parts again", disabled=desk.is_planning):
            desk.place_again()
            st.rerun()
        if st.button(f"Search longer ({_LONGER_S:.0f} s)", disabled=desk.is_planning):
            desk.place_again(_LONGER_S)
            st.rerun()
    if went_on and not goes_on:
        # The drawing must show the new layout, and the timer may stop.
        st.rerun()


show(open_page("layout"))
