"""The page "Cut": the board maps to take along, and what became of each part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.cutting.tick_parts import boards_to_cut, spoiled_words
from scanner.app.placing.layout_state import layout_view
from scanner.app.scanning.check_line import read_check_line
from scanner.errors import ScannerError
from ui.alike import show_second_boards
from ui.cut_list.component import draw_cut_list
from ui.downloads import maps_url, sticks_url
from ui.frame import CUTS, OpenPage, answers_to, go_to_step, look_over_first, open_page, take_late
from ui.missing import say_missing
from ui.texts import plain, say_problem
from ui.watching import WATCH_S, watch

if TYPE_CHECKING:
    from scanner.app.showing.cut_steps import CutStep
    from ui.desks import Desk


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if page.lot.layout.standing == "none" and not desk.wants_plan():
        st.write("No layout yet. Next: see where your parts may lie.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    goes_on = desk.follow() or page.is_behind()
    watch(lambda by_timer: _maps(page, by_timer and goes_on), WATCH_S if goes_on else None)
    if page.lot.layout.standing == "current":
        _saws(desk)
        _sticks(desk)
    spoiled = spoiled_words(desk.lot)
    if spoiled:
        st.write(f"Spoiled, and asked for again: {', '.join(spoiled)}.")
        show_second_boards(desk, spoiled_only=True)
    # No fragment round what is tapped: a restarted server would not know it.
    drawn = draw_cut_list(
        page.lot,
        boards_to_cut(desk.lot),
        answers_to(desk, CUTS),
        key=CUTS,
        on_outbox=lambda: take_late(desk, CUTS),
    )
    take_late(desk, CUTS, drawn.get("outbox"))


def _maps(page: OpenPage, went_on: bool) -> None:
    """Offer the board maps; looked at again while the layout lags behind the lot."""
    desk = page.desk
    goes_on = desk.follow()
    layout = layout_view(desk.lot)
    if desk.plan_problem:
        say_problem(desk.plan_problem)
    if goes_on:
        st.write("Something was changed: the parts are being placed again.")
    elif layout.standing == "current":
        st.write(
            f"**{layout.headline}.** Take the board maps along, look at both faces again before "
            "each cut, and keep clear of loose knots and closing cracks at the blade."
        )
        name = desk.lot.path.stem
        with st.container(horizontal=True):
            st.link_button(
                "Board maps to print (PDF)",
                maps_url(name),
                type="secondary" if look_over_first(page.lot, layout.boards) else "primary",
            )
            st.link_button("Each map as a file (ZIP)", maps_url(name, "zip"))
    else:
        st.write("The layout is older than what you said of the boards: place the parts again.")
    for line in layout.warnings:
        st.write(line)
    # The work stands above what is not to be cut.
    say_missing(layout)
    if went_on and not goes_on:
        st.rerun()


def _saws(desk: Desk) -> None:
    """Show the cuts of a board, saw by saw, and what may jump there."""
    # Not at the top: the first page need not wait for it.
    from scanner.app.showing.cut_steps import boards_with_cuts, cut_steps

    boards = boards_with_cuts(desk.lot)
    if not boards:
        return
    with st.expander("Cut by cut: which saw, and what may jump"):
        chosen = boards[0] if len(boards) == 1 else st.selectbox("Cuts of board", boards)
        st.write("The numbers are those on the board’s map.")
        for number, step in enumerate(cut_steps(desk.lot, chosen or boards[0]), 1):
            _show_step(number, step)
        st.write(
            "By what is known of the boards: a knot that nobody saw may jump as well. The manual "
            "of your machine comes first."
        )


def _show_step(number: int, step: CutStep) -> None:
    st.markdown(f"**{number}. {plain(step.title)}** · {plain(step.saw)}  \n{plain(step.marked)}")
    rows = ["| Cut | Mark at | Makes |", "|---:|:---|:---|"]
    for cut in step.cuts:
        mind = f" · **mind: {plain(cut.mind)}**" if cut.mind else ""
        mind = " · done" if cut.is_done else mind
        named = f"**{cut.number}**" if cut.number else ""
        rows.append(f"| {named} | {plain(cut.at)} | {plain(cut.makes)}{mind} |")
    st.markdown("\n".join(rows))
    for line in step.means:
        st.markdown(f"- {plain(line)}")


def _sticks(desk: Desk) -> None:
    """Offer the story sticks; one may be used once its printed check line was measured."""
    name = desk.lot.path.stem
    with st.expander("Story sticks: mark from paper tape without measuring"):
        st.write(
            "A story stick is a full-size paper tape of one board with its cuts and part labels. "
            "Print it at 100 %, glue the pieces at their joint lines, and lay it along the board."
        )
        st.link_button("Get the story sticks", sticks_url(name))
        typed = st.text_input(
            "Before you use it: what do the 250.0 mm from joint line to joint line measure?",
            placeholder="250.0 mm",
        )
        if not typed.strip():
            st.write("Not to be used yet: measure that line with a steel rule and type it here.")
            return
        try:
            line = read_check_line(typed)
        except ScannerError as problem:
            say_problem(problem)
            return
        if line.is_true:
            st.success(line.words)
            return
        st.error(line.words)
        st.link_button("Get story sticks that make up for it", sticks_url(name, line.measured_mm))


show(open_page("cut"))
