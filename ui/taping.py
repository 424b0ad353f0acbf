"""Ask for a board's length by tape, and keep it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.lot.tape_board import tape_board
from scanner.errors import ScannerError
from ui.texts import say_problem

if TYPE_CHECKING:
    from ui.desks import Desk


def ask_tape(desk: Desk, board: str, notes: tuple[str, ...]) -> None:
    """Show the field for a board's length by tape; what is typed is kept at once.

    ``notes`` are the board's: they change with each length kept, and the field is empty again.
    """
    typed = st.text_input(
        f"Length of {board} by tape",
        key=f"tape-{board}-{hash(notes)}",
        placeholder="as the tape says",
        width=320,
    )
    if not typed:
        return
    try:
        tape_board(desk.lot, board, typed)
    except ScannerError as problem:
        say_problem(problem)
    else:
        st.rerun()
