"""Choose a lot, begin one, or open the sample."""

import streamlit as st

from scanner.app.lot.move_lot import bring_in, name_of_packed
from scanner.app.lot.open_lot import begin_lot
from scanner.errors import ScannerError
from ui.frame import go_to_lot, help_button, lost_lot
from ui.limits import LOT_MB
from ui.place import home, known_lots, sample_lot
from ui.sample import can_open_sample, open_sample
from ui.texts import say_problem


def choose_lot() -> None:
    """Offer the sample, the lots of this folder, and a new one."""
    st.title("Both faces of every board", anchor=False)
    if (lost := lost_lot()) is not None:
        say_problem(f'No lot "{lost}" lies in this folder: choose another, or begin it anew.')
    st.write(
        "Photograph both faces of your rough boards, look over what was found, and see where your "
        "parts may lie. Start with a lot: the boards of one purchase or one job. You need a phone, "
        "a tape, and beside each board a plain rule or a paper strip that the page lets you print."
    )
    sample_button("first")
    lots = [name for name, path in known_lots().items() if path != sample_lot()]
    if lots:
        st.subheader("Lots in this folder", anchor=False)
        for name in lots:
            if st.button(name, key=f"lot-{name}"):
                go_to_lot(name)
    st.subheader("A new lot", anchor=False)
    with st.form("new-lot", width=520):
        name = st.text_input("Name of the lot", placeholder="hall bench")
        begins = st.form_submit_button("Begin the lot")
        if begins and not name.strip():
            say_problem("Give the lot a name first.")
        elif begins:
            try:
                path = begin_lot(home(), name)
            except ScannerError as problem:
                say_problem(problem)
            else:
                path.touch()
                go_to_lot(path.stem)
    _bring_in()
    help_button()


def _bring_in() -> None:
    with st.expander("Bring in a lot from another computer"):
        given = st.file_uploader("A packed lot (ZIP)", type=["zip"], max_upload_size=LOT_MB)
        if given is None or st.session_state.get("brought-in") == given.file_id:
            return
        try:
            path = bring_in(home(), name_of_packed(given.name), given)
        except ScannerError as problem:
            say_problem(problem)
            return
        st.session_state["brought-in"] = given.file_id
        go_to_lot(path.stem)


def sample_button(key: str, main: bool = True) -> None:
    """Offer the sample lot, if it is there to be opened."""
    if not can_open_sample():
        return
    if st.button(
        "Open the sample lot", type="primary" if main else "secondary", key=f"sample-{key}"
    ):
        with st.spinner("Opening the sample lot"):
            try:
                open_sample()
            except ScannerError as problem:
                say_problem(problem)
                return
        go_to_lot(sample_lot().stem)
    st.write(
        "The sample is a lot of rendered boards (no photographs), with the parts of a hall bench, "
        "a wall shelf and a small box."
    )
