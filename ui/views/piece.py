"""The page beside "Cut": a cut or planed piece found again on its board, and what it shows."""

from typing import Literal

import streamlit as st

from scanner.app.later.piece_in_lot import (
    FoundPlace,
    drop_piece,
    is_of_a_piece,
    kept_piece,
    look_at_piece,
    pieces_seen,
    take_place,
)
from scanner.app.lot.open_lot import new_stamp
from scanner.errors import ScannerError
from ui.desks import Desk
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.kept_fields import kept_text, used_up
from ui.later_photo import as_upload, ask_rule, ask_strip, begin, choose_photo, is_busy, show_kept
from ui.own_units import thickness_with_unit
from ui.texts import plain, say_problem

_SAID = "piece-said"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if not page.lot.lines:
        st.write("No board yet, so no piece of one. Next: add boards.")
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    if said := st.session_state.pop(_SAID, None):
        st.success(said)
    _offer_undo(desk, page.lot.next_undo)
    kept = kept_piece(desk.lot)
    if kept is not None:
        _which(desk, kept.places, is_sure=kept.is_sure)
    _ask(desk, is_first=kept is None)
    seen = pieces_seen(desk.lot)
    if seen:
        st.subheader("Looked at again", anchor=False)
        for line in seen:
            st.markdown(f"- {plain(line)}")


def _ask(desk: Desk, *, is_first: bool) -> None:
    with st.expander("Photograph a piece", expanded=is_first):
        st.write(
            "Planed wood shows more than sawn wood did. Lay the piece beside the strip or a rule, "
            "its whole face in the picture. Its place on the board is found by outline, knots and "
            "grain; you say whether it is right."
        )
        photo = choose_photo(desk, "Photo of the piece", "piece")
        # One piece's own: empty again once it was looked at.
        thick = kept_text(
            desk,
            st.container(width=420),
            f"piece/piece-thick-{used_up(desk, 'piece')}",
            "Thickness of the piece now, by caliper (may be left empty)",
            example="24 mm",
        )
        rule = ask_rule(desk, "piece")
        taped, batten = ("", "") if rule else ask_strip(desk, "piece")
        kind: Literal["primary", "secondary"] = "primary" if is_first else "secondary"
        clicked = st.button("Find it again", type=kind, disabled=is_busy(desk))
        if clicked and photo is None:
            st.error("There is no photo yet: choose or take one.")
        elif clicked and photo is not None:
            size = thickness_with_unit(desk, thick)
            given = (as_upload(photo), size, rule, taped, batten)
            begin(desk, "Looking for the piece", look_at_piece, *given, photos=[photo])


def _which(desk: Desk, places: tuple[FoundPlace, ...], *, is_sure: bool) -> None:
    if not places:
        st.warning("The piece fits nowhere on these boards. Is its board in this lot?")
    elif is_sure:
        st.write("**Found. Is it this wood?** Above: the board as scanned. Below: the piece.")
    else:
        st.write(
            "**Which of these is it?** No place fits clearly better than the others. Above: the "
            "board as scanned. Below: the piece. Look at knots and rings."
        )
    for number, place in enumerate(places[:1] if is_sure else places, 1):
        with st.container(border=True, key=f"place-{number}"):
            st.markdown(f"**{number}.** {plain(place.words)}")
            said = f"Place {number}: the board above, the piece below"
            show_kept(desk, place.picture, said)
            label = "Yes, the same wood" if is_sure else f"It is number {number}"
            if st.button(label, key=f"take-{number}", type="primary" if is_sure else "secondary"):
                _take(desk, number)
    if places:
        st.write(
            "With your yes, flaws of this face that nobody spoke of give way to those seen now; "
            "what you confirmed, added or struck stays. Uncut parts are placed again."
        )
    if st.button("None of these" if places else "Let it go", key="none"):
        drop_piece(desk.lot)
        st.rerun()


def _take(desk: Desk, number: int) -> None:
    try:
        board = take_place(desk.lot, number)
    except ScannerError as problem:
        say_problem(problem)
        return
    st.session_state[_SAID] = f"{board} now shows what the planed piece shows."
    st.rerun()


def _offer_undo(desk: Desk, what: str | None) -> None:
    if what is None or not is_of_a_piece(what):
        return
    if st.button(f"Undo: {what}", type="tertiary", icon=":material/undo:"):
        change(lambda: desk.lot.undo(new_stamp(desk.lot, "page")))


show(open_page("piece"))
