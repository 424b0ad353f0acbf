"""One lot: what is done, what comes next, the board to look over, the layout."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from scanner.app.page_state import board_view, lot_view
from scanner.app.review_flaws import take_outbox
from ui.board_view.component import draw_board
from ui.views.add import add_board_form, parts_list_form, show_work
from ui.views.begin import offer_other_lots, sample_button
from ui.views.layout import show_layout

if TYPE_CHECKING:
    from scanner.app.page_state import LotView
    from ui.desks import Desk

_BOARD = "board-view"
_WATCH_S = 0.7


def look_over_lot(desk: Desk) -> None:
    """Show a lot."""
    # The callback misses an outbox that is the first thing a new visit sees; ids make twice safe.
    _take(desk)
    lot = lot_view(desk.lot)
    st.title(lot.name)
    st.write(_where_we_are(lot, desk.job is not None and desk.job.is_running))
    show_work(desk)
    if not lot.lines:
        add_board_form(desk, is_first=True)
        parts_list_form(desk)
        if desk.job is None:
            sample_button("empty", main=False)
        offer_other_lots()
        return
    # No fragment round the board: a fragment of a former run is unknown to a restarted server,
    # and what the window sends again would never arrive (seen in tests/ui).
    goes_on = desk.follow()
    _show_board(desk, lot)
    st.fragment(_layout, run_every=_WATCH_S if goes_on else None)(desk, goes_on)
    add_board_form(desk, is_first=False)
    parts_list_form(desk)
    offer_other_lots()


def _where_we_are(lot: LotView, is_scanning: bool) -> str:
    """Return in one line what is done and what comes next."""
    if not lot.lines and is_scanning:
        return "Each board shows here as soon as it is scanned."
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
        step = "Every board is looked over. Next: get the board maps, below the boards."
    return f"**{done} of {count} {boards} looked over.** {step}"


def _state(name: str) -> dict[str, Any]:
    """Return what the board view holds under a name; it comes from the browser."""
    view = st.session_state.get(_BOARD) or {}
    value = view.get(name) if hasattr(view, "get") else None
    return value if isinstance(value, dict) else {}


def _take(desk: Desk) -> None:
    take_outbox(desk.lot, _state("outbox"), desk.answers)
    desk.remember()


def _show_board(desk: Desk, lot: LotView) -> None:
    """Draw the chosen board, and take what the user says of it."""

    def turn() -> None:
        st.query_params["board"] = str(_state("board").get("id", ""))

    ids = [line.id for line in lot.lines]
    wanted = st.query_params.get("board")
    chosen = wanted if wanted in ids else (lot.first_to_do() or ids[0])
    # What the window still waits for; the answer lets it drop the tap.
    sent = _state("outbox").get("ops")
    names = [str(op.get("id")) for op in sent if isinstance(op, dict)] if sent else []
    view = draw_board(
        lot,
        board_view(desk.lot, chosen),
        [desk.answers[name] for name in names if name in desk.answers],
        desk.is_planning,
        key=_BOARD,
        on_outbox=lambda: _take(desk),
        on_board=turn,
    )
    # The first outbox of a visit calls nothing: it counts as the value to begin with.
    waiting = (view.get("outbox") or {}).get("ops") or []
    if any(isinstance(op, dict) and op.get("id") not in desk.answers for op in waiting):
        answered = len(desk.answers)
        _take(desk)
        if len(desk.answers) > answered:
            st.rerun()


def _layout(desk: Desk, went_on: bool) -> None:
    """Show the layout in words; a fragment, with a timer while it lags behind the lot."""
    goes_on = desk.follow()
    show_layout(desk, goes_on)
    if went_on and not goes_on:
        # The drawing must show the new layout, and the timer may stop.
        st.rerun()
