"""The page "Cut": the board maps to take along, and which parts are cut."""

import streamlit as st

from scanner.app.page_state import layout_view
from ui.desks import Desk
from ui.downloads import maps_url
from ui.frame import OpenPage, go_to_step, open_page

_WATCH_S = 0.7


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if page.lot.layout.standing == "none" and not desk.wants_plan():
        st.write("No layout yet. Next: see where your parts may lie.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    goes_on = desk.follow()
    st.fragment(_maps, run_every=_WATCH_S if goes_on else None)(desk, goes_on)


def _maps(desk: Desk, went_on: bool) -> None:
    """Offer the board maps; a fragment, with a timer while the layout lags behind the lot."""
    goes_on = desk.follow()
    layout = layout_view(desk.lot)
    if desk.plan_problem:
        st.error(desk.plan_problem)
    if goes_on:
        st.write("You changed something: the parts are being placed again.")
    elif layout.standing == "current":
        st.write(
            f"**{layout.headline}.** Take the board maps along, look at both faces again before "
            "each cut, and keep clear of loose knots and closing cracks at the blade."
        )
        st.link_button("Get the board maps", maps_url(desk.lot.path.stem), type="primary")
    else:
        st.write("The layout is older than what you said of the boards: place the parts again.")
    for line in layout.lines:
        st.markdown(f"- {line}")
    if went_on and not goes_on:
        st.rerun()


show(open_page("cut"))
