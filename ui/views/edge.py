"""The page beside "Boards": thickness along an edge, and the grain's slope through the board."""

import streamlit as st

from scanner.app.later.edge_in_lot import (
    KeptEdge,
    edge_words,
    kept_edge,
    look_at_edge,
    nod_at_edge,
)
from scanner.app.lot.later_photo import board_names
from ui.desks import Desk
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.kept_fields import kept_board
from ui.later_photo import (
    CORNERS,
    as_text,
    as_upload,
    ask_rule,
    begin,
    choose_photo,
    is_busy,
    is_tapped,
    show_kept,
    tap_corners,
)
from ui.texts import plain


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    names = board_names(desk.lot)
    if not names:
        st.write("No board yet, so no edge to look at. Next: add boards.")
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    board = kept_board(desk, st.container(), "edge/edge-board", names)
    kept = kept_edge(desk.lot, board)
    if kept is not None:
        _show(desk, kept)
    _ask(desk, board, is_first=kept is None)


def _ask(desk: Desk, board: str, *, is_first: bool) -> None:
    with st.expander(f"Photograph an edge of {board}", expanded=is_first):
        st.write(
            "Stand the board on edge with face 1 up in the picture, hold the strip flat against "
            "the same surface, and take the photo square on. Thickness is read at five places."
        )
        photo = choose_photo(desk, "Photo of the edge", f"edge-{board}")
        rule = ask_rule(desk, "edge", "36 in x 28 mm")
        corners, of_rule = tap_corners(photo, "edge", CORNERS, rule)
        if st.button("Read the edge", type="primary", disabled=is_busy(desk)) and is_tapped(
            photo, corners, of_rule, rule
        ):
            given = (as_upload(photo), as_text(corners), (rule, as_text(of_rule)))
            what = f"Reading an edge of {board}"
            begin(desk, what, look_at_edge, board, *given, photos=[photo])


def _show(desk: Desk, kept: KeptEdge) -> None:
    if kept.facts.is_confirmed:
        st.success(f"You agreed: {kept.board} counts as thick as its thinnest place here.")
    elif kept.facts.thinnest is None:
        st.warning("No thickness was read: measure with a caliper, or photograph the edge again.")
    else:
        st.write("**Hold a caliper to one of these places.** Does it agree?")
    if kept.facts.stations:
        said = f"The edge of {kept.board} close up, each place with its thickness"
        show_kept(desk, kept.picture, said)
    for line in edge_words(kept, desk.lot.shop().units):
        st.markdown(f"- {plain(line)}")
    if kept.facts.is_confirmed or kept.facts.thinnest is None:
        return
    if st.button("Yes, take this thickness", type="primary"):
        change(lambda: nod_at_edge(desk.lot, kept))
    st.write(
        "The thinnest place becomes the board’s thickness: what flattening leaves is reckoned from "
        "it, and the parts are placed again."
    )


show(open_page("edge"))
