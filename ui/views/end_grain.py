"""The page beside "Boards": the rings on a board's end, and what they say of cup and legs."""

from typing import Literal

import streamlit as st

from scanner.app.later.end_in_lot import (
    KeptEnd,
    end_words,
    kept_end,
    look_at_end,
    nod_at_end,
    tap_ring,
)
from scanner.app.lot.later_photo import board_names, picture_at
from ui.desks import Desk
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.kept_fields import kept_board, kept_option, kept_text
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
from ui.pictures import picture_size, picture_url
from ui.rule_taps.component import draw_taps
from ui.texts import plain

_RING = ("on one ring, at the left", "on the same ring, in the middle", "on it, at the right")


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    names = board_names(desk.lot)
    if not names:
        st.write("No board yet, so no end to look at. Next: add boards.")
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    left, right = st.columns(2)
    board = kept_board(desk, left, "end_grain/end_grain-board", names)
    end: Literal["A", "B"] = (
        "B" if kept_option(desk, right, "end_grain/end", "End", ("A", "B")) == "B" else "A"
    )
    kept = kept_end(desk.lot, board, end)
    if kept is not None:
        _show(desk, kept)
    _ask(desk, board, end, is_first=kept is None)


def _ask(desk: Desk, board: str, end: Literal["A", "B"], *, is_first: bool) -> None:
    with st.expander(f"Photograph end {end} of {board}", expanded=is_first):
        st.write(
            "Cut the end fresh, or plane or wet it. Stand the board with face 1 up, hold the strip "
            "or a board card flat against the same surface, and take the photo square on, from "
            "near."
        )
        photo = choose_photo(desk, "Photo of the end", f"end-{board}-{end}")
        rule = ask_rule(desk, "end_grain", "12 in x 25 mm")
        corners, of_rule = tap_corners(photo, "end", CORNERS, rule)
        label = "Width of a leg to be cut from it (may be left empty)"
        leg = kept_text(desk, st.container(width=320), "end_grain/leg", label)
        if st.button("Read the rings", type="primary", disabled=is_busy(desk)) and is_tapped(
            photo, corners, of_rule, rule
        ):
            given = (as_upload(photo), as_text(corners), (rule, as_text(of_rule)), leg)
            what = f"Reading the rings on end {end} of {board}"
            begin(desk, what, look_at_end, board, end, *given, photos=[photo])


def _show(desk: Desk, kept: KeptEnd) -> None:
    agreed = kept.facts is not None and kept.facts.is_confirmed
    if kept.facts is None:
        st.warning(
            "No rings that go together are seen. Tap three points on one ring below, or plane the "
            "end and photograph it again."
        )
    elif agreed:
        st.success(f"You agreed: it stands on {kept.board}’s notes.")
    elif kept.by_hand:
        st.write("**By the ring you tapped.** Does what it says fit the end in your hand?")
    else:
        st.write("**Do the strokes lie along the rings?** If not, tap three points on one ring.")
    show_kept(desk, kept.picture, f"End {kept.end} of {kept.board}")
    for line in end_words(kept, desk.lot.shop().units):
        st.markdown(f"- {plain(line)}")
    if kept.facts is not None and not agreed:
        trimmed = st.text_input(
            "If its fresh face is clean, this much came off in all (may be left empty)",
            key=f"trimmed-{kept.board}-{kept.end}",
            placeholder="as measured from the old end",
            width=420,
        )
        st.write("Then the end counts as looked at. The rings are read here, cracks are not.")
        if st.button("Yes, that is right", type="primary"):
            change(lambda: nod_at_end(desk.lot, kept, trimmed))
    with st.expander("Tap a ring yourself", expanded=kept.facts is None):
        _ring(desk, kept)


def _ring(desk: Desk, kept: KeptEnd) -> None:
    path = picture_at(desk.lot, kept.plain)
    if path is None:
        return
    st.write("Three points on one ring, as far apart as the ring can be followed.")
    size = picture_size(path)
    key = f"ring-{kept.board}-{kept.end}-{kept.plain[:8]}"
    address = picture_url(kept.plain)
    taps = draw_taps(address, size, (), "", key=key, which=_RING, noun="Point")
    if st.button("Take this ring", disabled=len(taps) != 3):
        change(lambda: tap_ring(desk.lot, kept, taps))


show(open_page("end_grain"))
