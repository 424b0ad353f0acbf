"""The start: go on with the lot the page was asked for, or choose one."""

import streamlit as st

from scanner.errors import ScannerError
from ui.frame import go_to_lot, is_choosing, open_wanted, wanted_lot
from ui.texts import say_problem
from ui.views.begin import choose_lot


def show() -> None:
    """Show the page."""
    name = None if is_choosing() else wanted_lot()
    if name is None:
        choose_lot()
        return
    try:
        open_wanted()
        go_to_lot(name)
    except ScannerError as problem:
        say_problem(problem)
        st.query_params.clear()
        choose_lot()


show()
