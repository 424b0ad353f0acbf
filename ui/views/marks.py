"""The page beside "Cut": what is drawn on a board, held against the layout before the saw runs."""

from functools import partial

import streamlit as st

from scanner.app.cutting.marks_in_lot import (
    KeptMarks,
    boards_with_parts,
    is_of_this_layout,
    kept_marks,
    look_again_as,
    look_at_marks,
)
from ui.desks import Desk
from ui.frame import OpenPage, go_to_step, open_page
from ui.kept_fields import kept_board
from ui.later_photo import as_upload, ask_rule, ask_strip, begin, choose_photo, is_busy, show_kept
from ui.outdated import say_if_outdated
from ui.texts import plain


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    boards = boards_with_parts(desk.lot)
    if not boards:
        if page.lot.layout.standing == "none":
            st.write("No part lies on a board yet, so there are no lines to look at.")
        else:
            st.write("No part is left to cut, so there are no lines to look at.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    say_if_outdated(page)
    kept = {board: kept_marks(desk.lot, board) for board in boards}
    good = [b for b, one in kept.items() if one is not None and _is_good(desk, one)]
    left = [board for board in boards if board not in good]
    step = f"Next: {left[0]}." if left else "Every board with parts is right."
    st.write(f"**{len(good)} of {len(boards)} boards with their lines right.** {step}")
    names = boards if not left else (left[0], *(b for b in boards if b != left[0]))
    # One whose lines are right gives way to the next.
    field = f"marks/marks-board-{len(good)}"
    words = partial(_standing, desk, kept)
    board = kept_board(desk, st.container(), field, names, words)
    _ask(desk, board, is_first=kept[board] is None)
    if (seen := kept[board]) is not None:
        _show(desk, seen)


def _is_good(desk: Desk, kept: KeptMarks) -> bool:
    return not kept.said and kept.is_clear and is_of_this_layout(desk.lot, kept)


def _standing(desk: Desk, kept: dict[str, KeptMarks | None], board: str) -> str:
    seen = kept[board]
    if seen is None:
        return f"{board}: not looked at"
    if not is_of_this_layout(desk.lot, seen):
        return f"{board}: looked at for an older layout"
    return f"{board}: {'right' if _is_good(desk, seen) else 'to be mended'}"


def _ask(desk: Desk, board: str, *, is_first: bool) -> None:
    with st.expander(f"Photograph {board} with its lines", expanded=is_first):
        st.write(
            "Draw each part’s four sides in white, yellow, red, blue or green chalk or crayon "
            "(pencil and black crayon are not seen). Lay the strip or a rule beside the board as "
            "you did for the scan, all of the board in the picture."
        )
        photo = choose_photo(desk, "Photo of the marked face", f"marks-{board}")
        rule = ask_rule(desk, "marks")
        taped, batten = ("", "") if rule else ask_strip(desk, "marks")
        clicked = st.button("Look at my lines", type="primary", disabled=is_busy(desk))
        if clicked and photo is None:
            st.error("There is no photo yet: choose or take one.")
        elif clicked and photo is not None:
            given = (board, as_upload(photo), rule, taped, batten)
            what = f"Looking at the lines on {board}"
            begin(desk, what, look_at_marks, *given, photos=[photo])


def _show(desk: Desk, kept: KeptMarks) -> None:
    if not is_of_this_layout(desk.lot, kept):
        st.warning(
            f"The parts on {kept.board} were placed again since: wipe the old lines, draw the new "
            "ones and photograph them."
        )
        return
    if kept.said:
        st.error(f"{kept.board}, face {kept.face}: mend this before you saw.")
    else:
        st.success(f"{kept.board}, face {kept.face}: all {kept.lines} lines are where they belong.")
    for line in kept.said:
        st.markdown(f"- {plain(line)}")
    if not kept.is_clear:
        st.write("The photo would fit the other face nearly as well. Which face is it?")
        with st.container(horizontal=True):
            for face in (1, 2):
                if st.button(f"It is face {face}", key=f"face-{face}", disabled=is_busy(desk)):
                    what = f"Looking at the lines on {kept.board} again"
                    begin(desk, what, look_again_as, kept.board, face)
    show_kept(desk, kept.picture, f"The marks on {kept.board}")
    st.write(
        "Thin line: drawn where it belongs. Dashed: no line is seen there. Thick with an arrow: "
        "drawn too far to that side, by more than 6 mm."
    )
    st.write(
        "Only lines along the parts are looked at, not what is written in them. Hold the board map "
        "beside the board before each cut."
    )


show(open_page("marks"))
