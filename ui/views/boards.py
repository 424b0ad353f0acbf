"""The page "Boards": what lies in the lot, and how to add a board."""

import streamlit as st

from scanner.app.lot.name_wood import NAMED, name_wood
from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.trust_test import trust_test
from scanner.app.showing.list_boards import BoardLine, board_lines, take_out
from scanner.units import unbroken
from ui.alike import show_alike
from ui.desks import Desk
from ui.downloads import lot_url
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.pictures import small_picture
from ui.taping import ask_tape
from ui.texts import plain
from ui.views.add import add_boards_form
from ui.views.begin import sample_button
from ui.views.typed import typed_boards_form

# As `app.lot.scan_again` names it.
_AGAIN = ": scanned again"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if not page.lot.lines:
        _begin(desk)
        return
    count, done = len(page.lot.lines), page.lot.boards_done
    boards = "board" if count == 1 else "boards"
    first = page.lot.first_to_do()
    if first:
        st.write(f"**{done} of {count} {boards} looked over.** Next: look over {first}.")
    else:
        st.write(f"**{done} of {count} {boards} looked over.** Next: the layout.")
    if st.button("Go on to the flaws" if first else "Go on to the layout", type="primary"):
        go_to_step("flaws" if first else "layout")
    _say_trust(desk)
    add_boards_form(desk, is_first=False)
    typed_boards_form(desk)
    _offer_undo(desk, page.lot.next_undo)
    for line in board_lines(desk.lot):
        _show_line(desk, line)
    show_alike(desk)
    # Its words beside it, as those of the ways to other pages that follow.
    with st.container(horizontal=True, vertical_alignment="center", key="take-along"):
        st.link_button("Take the whole lot along", lot_url(desk.lot.path.stem))
        st.write(
            "One ZIP with everything said of the boards, and their photos: another computer can "
            "bring it in."
        )


def _begin(desk: Desk) -> None:
    if desk.job is not None and desk.job.is_running:
        st.write("Each board shows here as soon as it is scanned.")
    else:
        st.write(
            "This lot is empty. Next: photograph both faces of a board, each with the strip or a "
            "rule beside it, and add the photos here."
        )
    add_boards_form(desk, is_first=True)
    typed_boards_form(desk)
    if desk.job is None:
        sample_button("empty", main=False)


def _offer_undo(desk: Desk, what: str | None) -> None:
    """Offer to take back what was done last, if it was done from here."""
    if what is None:
        return
    if not (
        what.startswith("took out board") or what.endswith((": taped", NAMED)) or _AGAIN in what
    ):
        return
    if not st.button(f"Undo: {what}", type="tertiary", icon=":material/undo:"):
        return
    change(lambda: desk.lot.undo(new_stamp(desk.lot, "page")))


def _say_trust(desk: Desk) -> None:
    """Say what lengths from photos were worth where a tape was held against them."""
    test = trust_test(desk.lot)
    if test is None or not test.lines:
        return
    if test.holds:
        st.write(f"By tape: {plain(test.verdict)}")
    else:
        st.error(plain(test.verdict))


def _ask_wood(desk: Desk, line: BoardLine) -> None:
    """Ask what wood a board is; what is typed is kept at once."""
    typed = st.text_input(
        f"Wood of {line.id}"
        + ("" if line.wood else " (until you say it, parts that name a wood pass it over)"),
        line.wood,
        key=f"wood-{line.id}-{line.wood}",
        placeholder="white ash",
        width=420,
    )
    # Spaces between words make no other wood: kept again and again the page would never rest.
    if typed.split() != line.wood.split():
        change(lambda: name_wood(desk.lot, line.id, typed))


def _show_line(desk: Desk, line: BoardLine) -> None:
    with st.container(border=True, key=f"line-{line.id}"):
        st.markdown(unbroken(f"**{line.id}** · {line.head} · {line.size}"))
        if line.picture:
            st.html(small_picture(line.picture, f"Face 1 of {line.id}"))
        st.write(" ".join(filter(None, (line.trust, line.looked_over, line.photos))))
        if st.button(f"Look at {line.id}", key=f"look-{line.id}"):
            go_to_step("flaws", board=line.id)
        if line.notes:
            # They say what to do of a photo; whoever looks for a board reads past them.
            count = "One note" if len(line.notes) == 1 else f"{len(line.notes)} notes"
            with st.expander(f"{count} on {line.id}"):
                st.markdown("\n".join(f"- {plain(note)}" for note in line.notes))
        if not line.wood:
            _ask_wood(desk, line)
        # Out of the way of a thumb that means the button above.
        with st.expander(f"Tape {line.id}, photograph it again, or take it out"):
            ask_tape(desk, line.id, line.notes)
            if line.wood:
                _ask_wood(desk, line)
            if st.button(f"More photos of {line.id}", key=f"again-{line.id}"):
                go_to_step("again", board=line.id)
            if st.button(f"Take {line.id} out", key=f"out-{line.id}"):
                change(lambda: take_out(desk.lot, line.id))


show(open_page("boards"))
