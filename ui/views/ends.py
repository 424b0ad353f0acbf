"""The page beside "Cut": trim an end, look at its fresh face, tick it."""

from functools import partial

import streamlit as st

from scanner.app.cutting.lasting_ends import (
    TrimStep,
    exchanges_of,
    survival_lines,
    take_exchange,
    tick_end,
    trim_steps,
)
from ui.desks import Desk
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.outdated import say_if_outdated
from ui.texts import plain


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    steps = trim_steps(desk.lot)
    if not steps:
        st.write("No part lies on a board yet. Next: see where your parts may lie.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    say_if_outdated(page)
    left = [step for step in steps if not step.is_seen]
    st.write(
        f"**{len(steps) - len(left)} of {len(steps)} ends looked at.** Trim an end and look at the "
        "fresh cut with a lamp from the side. Where a check shows, cut again: it may run on "
        "inside. Then type what came off. What an end loses beyond its room takes a part, which "
        "the next layout puts elsewhere."
    )
    with st.container(horizontal=True, vertical_alignment="center"):
        if st.button("Photograph a fresh end"):
            go_to_step("end_grain")
        st.write(
            "Its rings say which way the board cups and which face to hide; you can tick it there."
        )
    for step in left:
        _step(desk, step)
    seen = [step for step in steps if step.is_seen]
    if not left and st.button("Go on to cutting", type="primary"):
        go_to_step("cut")
    if seen:
        with st.expander("Looked at already: say if more came off"):
            for step in seen:
                _step(desk, step)
    _exchanges(desk)
    boards = list(dict.fromkeys(step.board for step in steps))
    chosen = st.selectbox("What would a longer check take?", ["", *boards])
    if chosen:
        for line in survival_lines(desk.lot, chosen):
            st.markdown(f"- {plain(line.strip())}")


def _exchanges(desk: Desk) -> None:
    """Offer what brings parts away from doubtful ends; asked for, as it takes some seconds."""
    if not st.toggle("Parts that show, at ends nobody looked at: what may change places?"):
        return
    found = exchanges_of(desk.lot)
    if not found:
        st.write("None that costs nothing.")
    for number, words in enumerate(found):
        st.markdown(f"- {plain(words)}")
        if st.button("Let them change places", key=f"exchange-{number}"):
            change(partial(take_exchange, desk.lot, words))


def _step(desk: Desk, step: TrimStep) -> None:
    with st.container(border=True, key=f"end-{step.board}-{step.end}"):
        state = "looked at" if step.is_seen else "to be trimmed"
        st.markdown(f"**{plain(step.said)}** · {state}")
        # Its own key for each trim kept: the field is empty again.
        typed = st.text_input(
            f"Came off {step.board}, end {step.end}, in all, once its fresh face shows no check",
            key=f"trim-{step.board}-{step.end}-{step.trim_mm:.1f}-{step.is_seen}",
            placeholder="as measured from the old end",
            width=520,
        )
        if not typed:
            return
        change(lambda: tick_end(desk.lot, step.board, step.end, typed))


show(open_page("ends"))
