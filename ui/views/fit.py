"""The page beside "Layout": groups of parts put together from their photographed wood."""

from collections.abc import Callable

import streamlit as st

from scanner.app.fitting.fit_by_hand import flip, put_together, slide, swap, take_proposal, turn
from scanner.app.fitting.fit_in_lot import (
    FitView,
    PieceLine,
    fit_view,
    group_titles,
    kept_price,
    look_for_price,
    way_names,
)
from scanner.errors import ScannerError
from ui.desks import Desk, Job
from ui.downloads import fit_url
from ui.fit_view.component import draw_fit
from ui.frame import FIT, OpenPage, answers_to, go_to_step, open_page, take_late
from ui.texts import plain, say_problem
from ui.watching import WATCH_S, watch

_REFUSED, _SLIDES = "fit-refused", "slides-refused"
_WAYS = {
    "edge_to_edge": "edge to edge, glued",
    "stacked": "one above the other",
    "upright": "upright, side by side",
    "in_a_row": "in a row, end to end",
}


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    titles = group_titles(desk.lot)
    if not titles:
        st.write(
            "There is nothing to put together yet: a layout with a panel of staves, a matched set "
            "or several copies of a part makes a group. Next: the layout."
        )
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    goes_on = desk.follow()
    title = st.selectbox("Group", titles)
    try:
        view = fit_view(desk.lot, title)
    except ScannerError as problem:
        say_problem(problem)
        return
    # No fragment round what is taken in hand: a restarted server would not know it.
    drawn = draw_fit(
        page.lot,
        view,
        desk.lot.shop().units,
        answers_to(desk, FIT),
        key=FIT,
        on_outbox=lambda: take_late(desk, FIT),
    )
    take_late(desk, FIT, drawn.get("outbox"))
    # Below: nothing may push the wood from under a finger.
    watch(lambda by_timer: _wait(desk, by_timer and goes_on), WATCH_S if goes_on else None)
    refused = st.session_state.pop(_REFUSED, None)
    if refused:
        say_problem(refused)
    if view.has_proposal and st.button("Lay it in the order that matches best", type="primary"):
        _do(lambda: take_proposal(desk.lot, title))
    st.write(
        "Shimmer shows in no photo. An arrow is a board’s own: neighbours of one board whose "
        "arrows agree shimmer alike."
    )
    with st.expander("Hints, not rules", expanded=True):
        for hint in view.hints:
            st.markdown(f"- {plain(hint)}")
    _take_along(desk, view)
    _price(desk, title)
    with st.expander("Without dragging: each piece by its number"):
        for piece in view.pieces:
            _piece(desk, view, piece)


def _price(desk: Desk, title: str) -> None:
    """Offer to find out what a better match would cost in wood; that takes some seconds."""
    busy = desk.job is not None and desk.job.is_running
    if st.button("What would a better match cost in wood?", disabled=busy):
        lot = desk.lot
        desk.job = Job("Looking for a better match", lambda report: look_for_price(lot, title))
        st.rerun()
    for line in kept_price(desk.lot, title):
        st.markdown(f"- {plain(line)}")


def _wait(desk: Desk, went_on: bool) -> None:
    """Say that the rest is placed again, as long as that goes on."""
    goes_on = desk.follow()
    if desk.plan_problem:
        say_problem(desk.plan_problem)
    if goes_on:
        st.write("The parts are being placed again; what you moved stays.")
    if went_on and not goes_on:
        st.rerun()


def _take_along(desk: Desk, view: FitView) -> None:
    names = list(way_names())
    chosen = st.selectbox(
        "How it is put together",
        names,
        index=names.index(view.way),
        format_func=lambda name: _WAYS.get(name, name),
        key=f"way-{view.title}-{view.way}",
    )
    if chosen != view.way:
        _do(lambda: put_together(desk.lot, view.title, chosen))
    with st.container(horizontal=True):
        name = desk.lot.path.stem
        st.link_button("Get it as PDF", fit_url(name, view.title, "pdf"))
        st.link_button("Get the picture", fit_url(name, view.title, "png"))


def _piece(desk: Desk, view: FitView, piece: PieceLine) -> None:
    lot, title, number = desk.lot, view.title, piece.number
    with st.container(border=True, key=f"piece-{number}"):
        st.markdown(f"**{number}. {plain(piece.title)}** · {plain(piece.where)} · {piece.lies}")
        with st.container(horizontal=True, vertical_alignment="bottom"):
            if st.button(f"Flip {number}: other face up", disabled=not piece.may_flip):
                _do(lambda: flip(lot, title, number))
            if st.button(f"Turn {number} end for end"):
                _do(lambda: turn(lot, title, number))
            if number < len(view.pieces) and st.button(
                f"Swap {number} and {number + 1}", disabled=piece.is_cut
            ):
                _do(lambda: swap(lot, title, number, number + 1))
        # Its own key for each place it lay: the field is empty again.
        key = f"slide-{title}-{number}-{hash(piece.where)}"
        typed = st.text_input(
            f"Slide {number} along its board towards end B (or - towards end A)",
            key=key,
            placeholder="40 mm",
            disabled=piece.is_cut,
            width=360,
        )
        if typed:
            _slide(lambda: slide(lot, title, number, typed), key, typed, number)


def _slide(change: Callable[[], object], field: str, typed: str, number: int) -> None:
    """Slide as typed; what is refused stays in its field, with the reason below it."""
    refused = st.session_state.setdefault(_SLIDES, {})
    # Tried once: each run of the page finds the words in the field again. What was in the way may
    # be gone meanwhile, and the same words typed again are no change that the page would hear of.
    if refused.get(field, ("",))[0] != typed or st.button(f"Try again to slide {number}"):
        try:
            change()
        except ScannerError as problem:
            refused[field] = (typed, str(problem))
        else:
            refused.pop(field, None)
            # Or a slide that leaves the piece where it lay would be done again in every run.
            del st.session_state[field]
        st.rerun()
    say_problem(refused[field][1])


def _do(change: Callable[[], object]) -> None:
    """Make one change and draw the page anew; a refusal is said there."""
    try:
        change()
    except ScannerError as problem:
        st.session_state[_REFUSED] = str(problem)
    st.rerun()


show(open_page("fit"))
