"""The page beside "Layout": which one change saves a board; nothing is changed by it."""

import streamlit as st

from scanner.app.placing.save_a_board import kept_savings, look_for_savings
from ui.desks import Job
from ui.frame import OpenPage, go_to_step, open_page
from ui.outdated import say_if_outdated
from ui.texts import plain


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if say_if_outdated(page):
        return
    if page.lot.layout.standing == "none":
        st.write("No layout yet. Next: place the parts.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    step = "an eighth of an inch" if desk.lot.shop().units == "inch" else "3 mm"
    st.write(
        f"A little less allowance, {step} off a size, a knot allowed where it does "
        "not count: one thing is changed at a time, the parts are laid out again, and what that "
        "saves is measured. Nothing is changed in your list."
    )
    busy = desk.job is not None and desk.job.is_running
    if st.button("Look for savings", type="primary", disabled=busy):
        lot = desk.lot
        desk.job = Job(
            "Looking for savings", lambda report: look_for_savings(lot, report), may_stop=True
        )
        st.rerun()
    for line in kept_savings(desk.lot):
        st.markdown(f"- {plain(line)}")


show(open_page("saving"))
