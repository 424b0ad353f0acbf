"""Boards without photos: one typed into a form, or many as a list."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.errors import ScannerError
from ui.downloads import boards_list_url
from ui.kept_fields import kept_text, kept_tick, was_typed
from ui.limits import PARTS_MB
from ui.own_units import what_bare_means
from ui.texts import plain, say_problem
from ui.visits import given, keep_given

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

    from ui.desks import Desk

_TAKEN, _SAID = "boards-taken", "typed-said"
_OF_ONE_BOARD = ("length", "width", "price", "flaws")
_FLAWS = (
    "Flaws: kind, face (1, 2 or both), along from end A, across from face 1’s upper edge; "
    "several parted by |"
)


def typed_boards_form(desk: Desk) -> None:
    """Offer to type boards in, and to take the lot's boards along as a list."""
    said = st.session_state.pop(_SAID, "")
    # Who types one board has more of them: from the first on the form stays open.
    number = _typed_before(desk)
    is_begun = was_typed(desk, *(f"typed-{field}-{number}" for field in _OF_ONE_BOARD))
    with st.expander("Type boards in, without photos", expanded=number > 0 or is_begun):
        if said:
            st.success(said)
        _one(desk)
        _list(desk)
        if desk.lot.boards():
            st.link_button("The boards as a list (CSV)", boards_list_url(desk.lot.path.stem))


def _typed_before(desk: Desk) -> int:
    """Return how many boards this visit has typed into the lot."""
    return given().typed_boards.get(desk.lot.path.stem, 0)


def _one(desk: Desk) -> None:
    # Only now: reading a list loads what a page without one need not wait for.
    from scanner.app.lot.typed_boards import flaw_like, take_typed_board

    st.write(f"A board with straight edges, by tape. {what_bare_means(desk)}")
    # Empty fields for the next board once one was added; wood and thickness stay as they are.
    number = _typed_before(desk)

    def field(
        place: DeltaGenerator, name: str, label: str, default: str = "", like: str = ""
    ) -> str:
        return kept_text(desk, place, f"typed/typed-{name}", label, default=default, example=like)

    # No form: what stands in one is not known until it is sent, and lost with a look elsewhere.
    with st.container(border=True):
        first, second, third = st.columns(3)
        cells = {
            "length": field(first, f"length-{number}", "Length"),
            "width": field(second, f"width-{number}", "Width"),
            "thickness": field(third, "thickness", "Thickness (4/4, 1 1/16 in or 27 mm)", "4/4"),
        }
        left, right = st.columns([2, 1])
        cells["species"] = field(left, "species", "Species", like="white ash")
        cells["price"] = field(right, f"price-{number}", "Price (may be left empty)")
        cells["flaws"] = field(st.container(), f"flaws-{number}", _FLAWS, like=flaw_like(desk.lot))
        label = "I looked both faces over: these are all flaws"
        looked = kept_tick(desk, f"typed/looked-{number}", label)
        if not st.button("Add this board"):
            return
    cells["looked_over"] = "yes" if looked else ""
    try:
        name = take_typed_board(desk.lot, cells)
    except ScannerError as problem:
        say_problem(problem)
    else:
        given().typed_boards[desk.lot.path.stem] = number + 1
        keep_given()
        _done(f"{name} lies in the lot, without photos.")


def _list(desk: Desk) -> None:
    """Take a list of boards; each upload once."""
    from scanner.app.lot.take_parts_files import text_of_upload
    from scanner.app.lot.typed_boards import take_typed_boards

    new = st.file_uploader("Or take a list of boards (CSV)", "csv", max_upload_size=PARTS_MB)
    if new is None or new.file_id == st.session_state.get(_TAKEN):
        return
    # The browser refuses a larger one as well; what does not come from our page need not.
    if new.size > PARTS_MB * 1_000_000:
        say_problem(f"{new.name} is more than a list takes: choose one under {PARTS_MB} MB.")
        return
    try:
        text = text_of_upload(new.getvalue(), plain(new.name))
        names = take_typed_boards(desk.lot, text, plain(new.name))
    except ScannerError as problem:
        say_problem(problem)
        return
    st.session_state[_TAKEN] = new.file_id
    count = "1 board lies" if len(names) == 1 else f"{len(names)} boards lie"
    _done(f"{count} in the lot, without photos.")


def _done(said: str) -> None:
    st.session_state[_SAID] = said
    st.rerun()
