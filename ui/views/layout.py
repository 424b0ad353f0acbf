"""The layout in words: what is placed, what is not and why, and what it rests on."""

import streamlit as st

from scanner.app.page_state import layout_view
from ui.desks import Desk
from ui.downloads import maps_url


def show_layout(desk: Desk, goes_on: bool) -> None:
    """Show the newest layout of a lot."""
    st.subheader("Layout")
    lot = desk.lot
    if lot.parts_text() is None:
        st.write("No parts list yet: add one below, and the parts are placed on these boards.")
        return
    layout = layout_view(lot)
    if desk.plan_problem:
        st.error(desk.plan_problem)
    if layout.headline:
        st.write(f"**{layout.headline}.**")
    if goes_on and layout.standing == "none":
        st.write("The parts are being placed.")
    elif goes_on:
        st.write("You changed something: the parts are being placed again.")
    elif layout.standing == "old":
        st.write("This layout is older than what you said of the boards.")
    for line in layout.lines:
        st.markdown(f"- {line}")
    with st.container(horizontal=True):
        if layout.standing == "current" and not goes_on:
            all_done = all(line.is_done for line in lot.standings())
            st.link_button(
                "Get the board maps",
                maps_url(lot.path.stem),
                type="primary" if all_done else "secondary",
            )
        if st.button("Place the parts again", disabled=desk.is_planning):
            desk.place_again()
            st.rerun()
