"""The page beside "Boards": three boards against the tape."""

import streamlit as st

from scanner.app.lot.trust_test import TrustTest, trust_test
from scanner.app.showing.list_boards import board_lines
from ui.frame import OpenPage, go_to_step, open_page
from ui.taping import ask_tape
from ui.texts import plain

# A lot of forty boards shall not ask for forty lengths: the rest are taped on their own page.
_ASKED = 6
_WANTED = 3


def show(page: OpenPage) -> None:
    """Show the page."""
    test = trust_test(page.desk.lot)
    if test is None:
        st.write(
            "No board of this lot was scanned from a phone's photos on this page, so there is no "
            "length to hold against the tape. Next: add boards from photos."
        )
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    _say_how_it_stands(test)
    if test.is_enough and st.button("Go on to the flaws", type="primary"):
        go_to_step("flaws")
    _show_boards(page, test)


def _say_how_it_stands(test: TrustTest) -> None:
    if test.lines and not test.holds:
        st.error(test.verdict)
    elif test.is_enough:
        st.success(test.verdict)
    else:
        left = [board for board in test.boards if board not in test.taped]
        step = f"Next: tape {left[0]}." if left else "Next: scan one more board."
        st.write(f"**{len(test.taped)} of {_WANTED} boards taped.** {step}")
    st.write(
        "Hook the tape at end A, read it at end B along the middle of the board, and type what it "
        "says. Each length is held against the one from the photos with its ±. Three boards that "
        "hold show that this ± can be believed with your phone."
    )


def _show_boards(page: OpenPage, test: TrustTest) -> None:
    said = {line.split(":", 1)[0]: line.split(":", 1)[1].strip() for line in test.lines}
    lines = {line.id: line for line in board_lines(page.desk.lot)}
    # Those already taped stay in sight; the field takes a second reading.
    waiting = [board for board in test.boards if board not in test.taped]
    for board in [*test.taped, *waiting][: max(_ASKED, len(test.taped) + 1)]:
        with st.container(border=True, key=f"trust-{board}"):
            st.markdown(f"**{board}** · {plain(lines[board].size)}")
            if board in said:
                st.markdown(plain(said[board]))
            ask_tape(page.desk, board, lines[board].notes)


show(open_page("trust"))
