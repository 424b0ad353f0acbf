"""Boards without photos: one typed into a form, or many as a list."""

import streamlit as st

from scanner.errors import ScannerError
from ui.desks import Desk
from ui.downloads import boards_list_url
from ui.limits import PARTS_MB
from ui.own_units import what_bare_means
from ui.texts import plain, say_problem

_TAKEN, _SAID, _ROUND = "boards-taken", "typed-said", "typed-round"


def typed_boards_form(desk: Desk) -> None:
    """Offer to type boards in, and to take the lot's boards along as a list."""
    said = st.session_state.pop(_SAID, "")
    # Who types one board has more of them: from the first on the form stays open.
    with st.expander("Type boards in, without photos", expanded=_ROUND in st.session_state):
        if said:
            st.success(said)
        _one(desk)
        _list(desk)
        if desk.lot.boards():
            st.link_button("The boards as a list (CSV)", boards_list_url(desk.lot.path.stem))


def _one(desk: Desk) -> None:
    # Only now: reading a list loads what a page without one need not wait for.
    from scanner.app.lot.typed_boards import flaw_like, take_typed_board

    st.write(f"A board with straight edges, by tape. {what_bare_means(desk)}")
    # Empty fields for the next board once one was added; wood and thickness stay as they are.
    number = st.session_state.get(_ROUND, 0)
    with st.form("typed-board"):
        first, second, third = st.columns(3)
        length = first.text_input("Length", key=f"typed-length-{number}")
        width = second.text_input("Width", key=f"typed-width-{number}")
        thick = third.text_input(
            "Thickness (4/4, 1 1/16 in or 27 mm)", "4/4", key="typed-thickness"
        )
        left, right = st.columns([2, 1])
        species = left.text_input("Species", placeholder="white ash", key="typed-species")
        price = right.text_input("Price (may be left empty)", key=f"typed-price-{number}")
        flaws = st.text_input(
            "Flaws: kind, face (1, 2 or both), along from end A, across from face 1’s upper edge; "
            "several parted by |",
            placeholder=flaw_like(desk.lot),
            key=f"typed-flaws-{number}",
        )
        looked = st.checkbox(
            "I looked both faces over: these are all flaws", key=f"typed-looked-{number}"
        )
        if not st.form_submit_button("Add this board"):
            return
    cells = {
        "length": length, "width": width, "thickness": thick, "species": species, "price": price,
        "flaws": flaws, "looked_over": "yes" if looked else "",
    }  # fmt: skip
    try:
        name = take_typed_board(desk.lot, cells)
    except ScannerError as problem:
        say_problem(problem)
    else:
        st.session_state[_ROUND] = number + 1
        _done(f"{name} lies in the lot, without photos.")


def _list(desk: Desk) -> None:
    """Take a list of boards; each upload once."""
    from scanner.app.lot.take_parts_files import text_of_upload
    from scanner.app.lot.typed_boards import take_typed_boards

    given = st.file_uploader("Or take a list of boards (CSV)", "csv", max_upload_size=PARTS_MB)
    if given is None or given.file_id == st.session_state.get(_TAKEN):
        return
    # The browser refuses a larger one as well; what does not come from our page need not.
    if given.size > PARTS_MB * 1_000_000:
        say_problem(f"{given.name} is more than a list takes: choose one under {PARTS_MB} MB.")
        return
    try:
        text = text_of_upload(given.getvalue(), plain(given.name))
        names = take_typed_boards(desk.lot, text, plain(given.name))
    except ScannerError as problem:
        say_problem(problem)
        return
    st.session_state[_TAKEN] = given.file_id
    count = "1 board lies" if len(names) == 1 else f"{len(names)} boards lie"
    _done(f"{count} in the lot, without photos.")


def _done(said: str) -> None:
    st.session_state[_SAID] = said
    st.rerun()
