"""The page "Parts": what is wanted, in finished sizes."""

import hashlib
from typing import Literal

import streamlit as st

from scanner.app.lot.open_lot import Lot
from scanner.app.lot.parts_table import (
    clean_table,
    columns_of,
    keep_table,
    read_table,
    set_units,
    table_of,
)
from scanner.app.lot.take_parts_files import (
    drawing_views,
    take_out_drawing,
    take_parts_files,
    text_of_upload,
)
from scanner.errors import ScannerError
from ui.frame import OpenPage, go_to_step, open_page, state_of
from ui.limits import PARTS_MB
from ui.parts_table.component import TableState, draw_table
from ui.shop_form import choose_shop_sizes
from ui.texts import plain, say_problem

_TABLE, _TAKEN = "parts-table", "parts-taken"
_UNITS: dict[str, Literal["mm", "inch"]] = {"millimetres": "mm", "inches": "inch"}


def show(page: OpenPage) -> None:
    """Show the page."""
    lot = page.desk.lot
    # Filled once it is known whether a list is being written: then its button is the main one.
    top = st.container()
    _choose_units(lot)
    is_writing = _table(lot)
    with top:
        _say_how_it_stands(page, is_writing)
    choose_shop_sizes(lot)
    _take_files(lot)
    _show_drawings(lot)


def _say_how_it_stands(page: OpenPage, is_writing: bool) -> None:
    """Say what is done and what is next."""
    lot = page.desk.lot
    sizes = (
        "Write **finished sizes**, as the part is in the piece of furniture; the rough size beside "
        "it is what is cut. Type, or paste rows from a spreadsheet into any cell."
    )
    if is_writing:
        st.write(f"**You are writing.** Next: keep the list, below it. {sizes}")
        return
    if lot.parts_text() is None:
        st.write(f"**No parts yet.** Next: write them here. {sizes}")
        return
    step, label = ("boards", "Go on to the boards")
    if page.lot.lines:
        step, label = (
            ("flaws", "Go on to the flaws")
            if page.lot.first_to_do()
            else ("layout", "Go on to the layout")
        )
    st.write(f"**The list is kept.** Next: the {step}.")
    if st.button(label, type="primary"):
        go_to_step(step)


def _choose_units(lot: Lot) -> None:
    now = next(words for words, units in _UNITS.items() if units == lot.shop().units)
    chosen = st.radio(
        "A figure without a unit means",
        list(_UNITS),
        index=list(_UNITS).index(now),
        horizontal=True,
    )
    if _UNITS[chosen] != lot.shop().units:
        set_units(lot, _UNITS[chosen])
        st.rerun()


def _table(lot: Lot) -> bool:
    """Show the table, keep what it asks to keep; return whether something else is being written."""

    def keep() -> None:
        wish = state_of(_TABLE, "keep")
        try:
            keep_table(lot, clean_table(wish.get("rows")))
        except ScannerError as problem:
            st.session_state["parts-problem"] = str(problem)
        else:
            st.session_state["parts-kept"] = str(wish.get("n"))

    try:
        kept = table_of(lot)
    except ScannerError as problem:
        say_problem(problem)
        kept = []
    asked = _newest(state_of(_TABLE, "table"), state_of(_TABLE, "keep"))
    was_kept = bool(asked) and st.session_state.get("parts-kept") == asked.get("n")
    rows = clean_table(asked["rows"]) if asked and not was_kept else kept
    text, drawings = lot.parts_text(), lot.drawings()
    state = TableState(
        lot=lot.path.stem,
        columns=columns_of([*kept, *rows], has_drawings=bool(drawings)),
        rows=kept,
        stamp="" if text is None else hashlib.sha256(text.text.encode()).hexdigest()[:12],
        units=lot.shop().units,
        reading=read_table(rows, lot.shop(), drawings),
        read=str(asked.get("n", "")),
        kept=str(st.session_state.get("parts-kept", "")),
    )
    draw_table(state, key=_TABLE, on_keep=keep)
    return bool(asked) and not was_kept


def _newest(*sent: dict[str, object]) -> dict[str, object]:
    """Return what the browser sent last; its numbers begin with the time."""
    return max(sent, key=lambda one: str(one.get("n", "")))


def _take_files(lot: Lot) -> None:
    """Take a list, drawings of its curved parts, or both; each upload once."""
    given = st.file_uploader(
        "Or take files: a list (CSV or JSON), and drawings of curved parts (SVG or JSON)",
        type=["csv", "json", "svg"],
        accept_multiple_files=True,
        max_upload_size=PARTS_MB,
    )
    fresh = [one for one in given if one.file_id not in st.session_state.get(_TAKEN, set())]
    if not fresh:
        return
    # The browser refuses a larger one as well; what does not come from our page need not.
    huge = next((one for one in fresh if one.size > PARTS_MB * 1_000_000), None)
    if huge is not None:
        say_problem(f"{huge.name} is more than a parts list takes: choose one under {PARTS_MB} MB.")
        return
    try:
        take_parts_files(lot, {one.name: text_of_upload(one.getvalue(), one.name) for one in fresh})
    except ScannerError as problem:
        say_problem(problem)
        return
    st.session_state[_TAKEN] = {one.file_id for one in given}
    st.rerun()


def _show_drawings(lot: Lot) -> None:
    """Show the drawings of curved parts that the lot has."""
    views = drawing_views(lot)
    if not views:
        return
    st.subheader("Drawings of curved parts", anchor=False)
    st.write("The grain runs from left to right. A part has the drawing that its row names.")
    for view in views:
        with st.container(horizontal=True, vertical_alignment="center", key=f"drawing-{view.name}"):
            st.image(view.picture, width=140, alt=f"The outline in {view.name}")
            used = (
                f"for {', '.join(view.parts)}"
                if view.parts
                else ("no part has it yet: write its name in the column Shape, and these sizes")
            )
            st.write(f"**{plain(view.name)}**, {view.size}: {plain(used)}.")
            if not view.parts and st.button(f"Take {view.name} out"):
                take_out_drawing(lot, view.name)
                st.rerun()


show(open_page("parts"))
