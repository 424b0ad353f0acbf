"""One lot: what is done, what comes next, the board to look over, the layout."""

import streamlit as st

from scanner.app.page_state import LotView, board_view, lot_view
from scanner.app.review_flaws import take_outbox
from ui.board_view.component import draw_board
from ui.desks import Desk
from ui.views.add import add_board_form, parts_list_form
from ui.views.begin import offer_other_lots, sample_button
from ui.views.layout import show_layout

_BOARD = "board-view"
_WATCH_S = 0.7


def look_over_lot(desk: Desk) -> None:
    """Show a lot."""
    lot = lot_view(desk.lot)
    st.title(lot.name)
    st.session_state["said"] = _where_we_are(lot)
    st.write(st.session_state["said"])
    if not lot.lines:
        add_board_form(desk, is_first=True)
        parts_list_form(desk)
        if desk.job is None:
            sample_button("empty", main=False)
        offer_other_lots()
        return
    goes_on = desk.follow()
    st.session_state["watching"] = goes_on
    st.fragment(_board)(desk)
    st.fragment(_layout, run_every=_WATCH_S if goes_on else None)(desk)
    add_board_form(desk, is_first=False)
    parts_list_form(desk)
    offer_other_lots()


def _where_we_are(lot: LotView) -> str:
    """Return in one line what is done and what comes next."""
    if not lot.lines:
        return (
            "This lot is empty. Next: photograph both faces of a board, each with the strip or a "
            "rule beside it, and add the photos here."
        )
    count, done = len(lot.lines), lot.boards_done
    boards = "board" if count == 1 else "boards"
    first = lot.first_to_do()
    if first:
        step = f"Next: look over {first}."
    elif not lot.has_parts:
        step = "Next: add your parts list below."
    else:
        step = "Every board is looked over; the layout below holds for them."
    return f"**{done} of {count} {boards} looked over.** {step}"


def _board(desk: Desk) -> None:
    """Draw the chosen board and take what the user says of it; a fragment."""

    def take() -> None:
        outbox = (st.session_state.get(_BOARD) or {}).get("outbox") or {}
        take_outbox(desk.lot, outbox, desk.answers)
        desk.remember()

    def turn() -> None:
        wanted = (st.session_state.get(_BOARD) or {}).get("board") or {}
        st.query_params["board"] = str(wanted.get("id", ""))

    # The callback misses an outbox that is the first thing a new visit sees; ids make twice safe.
    take()
    lot = lot_view(desk.lot)
    ids = [line.id for line in lot.lines]
    if not ids:
        st.rerun()
    wanted = st.query_params.get("board")
    chosen = wanted if wanted in ids else (lot.first_to_do() or ids[0])
    outbox = (st.session_state.get(_BOARD) or {}).get("outbox") or {}
    answers = [
        desk.answers[operation["id"]]
        for operation in outbox.get("ops", [])
        if isinstance(operation, dict) and operation.get("id") in desk.answers
    ]
    draw_board(
        lot,
        board_view(desk.lot, chosen),
        answers,
        desk.is_planning,
        key=_BOARD,
        on_outbox=take,
        on_board=turn,
    )
    if _where_we_are(lot) != st.session_state.get("said") or _must_watch(desk):
        st.rerun()


def _must_watch(desk: Desk) -> bool:
    """Return whether the layout lags and nobody watches it yet."""
    return desk.wants_plan() and not st.session_state.get("watching")


def _layout(desk: Desk) -> None:
    """Show the layout in words and keep it up to date; a fragment, with a timer while it lags."""
    goes_on = desk.follow()
    show_layout(desk, goes_on)
    if st.session_state.get("watching") and not goes_on:
        st.rerun()
