"""Which boards look alike: shown on "Boards", and where a set or a spoiled part needs another."""

import streamlit as st

from ui.desks import Desk
from ui.texts import plain

_MOST_SHOWN = 5


def show_alike(desk: Desk) -> None:
    """Offer to sort the boards of a species by likeness to a chosen one."""
    # Only now: a lot of one board loads none of it.
    from scanner.app.lot import likeness_in_lot as likeness

    names = likeness.boards_with_fellows(desk.lot)
    if not names:
        return
    with st.expander("Which boards look alike"):
        # Nobody's board at first: holding rings side by side takes a moment.
        chosen = st.selectbox(
            "Boards like", names, index=None, placeholder="choose a board", key="alike-to"
        )
        if chosen not in names:
            return
        looks = likeness.board_looks_words(desk.lot, chosen)
        if not looks:
            st.write(
                f"Nothing is known of what {chosen} looks like: it was typed in, or scanned before "
                "looks were kept. Photograph it again to have it compared."
            )
            return
        st.markdown(f"**{plain(chosen)}**: {plain(looks)}")
        lines = likeness.alike_in_lot(desk.lot, chosen)
        rows = [
            f"1. **{plain(line.id)}**, {line.word}: {plain(line.words)}"
            for line in lines[:_MOST_SHOWN]
        ]
        st.markdown("\n".join(rows))
        if len(lines) > _MOST_SHOWN:
            st.write(f"{len(lines) - _MOST_SHOWN} more are less like it.")
        st.write(f"{likeness.ROUGH} {likeness.HALF}")


def show_second_boards(desk: Desk, *, spoiled_only: bool = False) -> None:
    """Say which boards look most like those that spoiled parts and matched sets come out of."""
    from scanner.app.lot import likeness_in_lot as likeness

    said = likeness.second_board_words(desk.lot, with_sets=not spoiled_only)
    if not said:
        return
    with st.expander("Another board of the same looks"):
        st.markdown("\n".join(f"- {plain(line)}" for line in said))
        st.write(f"{likeness.ROUGH} {likeness.HALF}")
