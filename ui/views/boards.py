"""The page "Boards": open a lot, look its boards over, see the layout follow."""

import streamlit as st

from scanner.errors import ScannerError
from ui.desks import desk_of
from ui.place import known_lots, started_with
from ui.sample import fill_new_lot
from ui.views.begin import choose_lot
from ui.views.look_over import look_over_lot


def _wanted() -> str | None:
    """Return the lot this visit is about: named in the address, else the one started with."""
    if st.session_state.get("choosing"):
        return None
    lots = known_lots()
    named = st.query_params.get("lot")
    if named in lots:
        return named
    first = started_with()
    return first.stem if first is not None else None


def show() -> None:
    """Show the page."""
    name = _wanted()
    if name is None:
        choose_lot()
        return
    st.query_params["lot"] = name
    try:
        desk = desk_of(known_lots()[name])
        fill_new_lot(desk)
        look_over_lot(desk)
    except ScannerError as problem:
        st.error(str(problem))


show()
