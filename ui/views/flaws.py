"""The page "Flaws": look over one board after the other."""

import streamlit as st

from scanner.app.placing.layout_state import layout_view
from scanner.app.showing.page_state import board_view
from ui.board_view.component import draw_board
from ui.board_view.shapes import held_by
from ui.desks import Desk
from ui.frame import BOARD, OpenPage, answers_to, go_to_step, open_page, state_of, take_late
from ui.watching import WATCH_S, watch


def show(page: OpenPage) -> None:
    """Show the page."""
    desk, lot = page.desk, page.lot
    if not lot.lines:
        st.write("No boards yet. Next: add the photos of your boards.")
        if st.button("Add boards", type="primary"):
            go_to_step("boards")
        return
    count, done = len(lot.lines), lot.boards_done
    boards = "board" if count == 1 else "boards"
    first = lot.first_to_do()
    if first is None:
        step = "Every board is looked over. Next: the layout."
    else:
        step = f"Next: look over {first}."
    st.write(f"**{done} of {count} {boards} looked over.** {step}")
    # No fragment round the board: a fragment of a former run is unknown to a restarted server,
    # and what the window sends again would never arrive (seen in tests/ui).
    goes_on = desk.follow() or page.is_behind()
    _show_board(page)
    watch(lambda by_timer: _follow(desk, by_timer and goes_on), WATCH_S if goes_on else None)
    if st.button("Go on to the layout", type="primary" if first is None else "secondary"):
        go_to_step("layout")


def _show_board(page: OpenPage) -> None:
    """Draw the chosen board, and take what the user says of it."""
    desk, lot = page.desk, page.lot

    def turn() -> None:
        st.query_params["board"] = str(state_of(BOARD, "board").get("id", ""))

    ids = [line.id for line in lot.lines]
    wanted = st.query_params.get("board")
    chosen = wanted if wanted in ids else (lot.first_to_do() or ids[0])
    view = draw_board(
        lot,
        board_view(desk.lot, chosen),
        answers_to(desk, BOARD),
        desk.is_planning,
        held=held_by(state_of(BOARD, "outbox")),
        key=BOARD,
        on_outbox=lambda: take_late(desk, BOARD),
        on_board=turn,
    )
    take_late(desk, BOARD, view.get("outbox"))


def _follow(desk: Desk, went_on: bool) -> None:
    """Say how the layout follows, again and again while it lags behind the lot."""
    goes_on = desk.follow()
    layout = layout_view(desk.lot)
    if goes_on and layout.standing == "none":
        st.write("The parts are being placed.")
    elif goes_on:
        st.write("Something was changed: the parts are being placed again.")
    elif layout.headline:
        st.write(f"Layout: {layout.headline}.")
    if went_on and not goes_on:
        # The drawing must show the new layout, and the timer may stop.
        st.rerun()


show(open_page("flaws"))
