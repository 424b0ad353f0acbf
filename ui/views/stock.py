"""The page beside "Boards": left-overs into stock, and out of it into this lot."""

import streamlit as st

from scanner.app.cutting.keep_stock import find_in_stock, keep_from_lot, left_overs, take_from_stock
from scanner.errors import ScannerError
from ui.desks import Desk
from ui.frame import OpenPage, open_page
from ui.outdated import say_if_outdated
from ui.place import stock_folder
from ui.texts import plain, say_problem

# As small as may be asked for.
_ANY_SIZE = "1 mm"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    _say(st.session_state.pop("stock-said", None))
    _into_stock(page)
    _out_of_stock(desk)


def _say(said: str | None) -> None:
    if said:
        st.success(said)


def _into_stock(page: OpenPage) -> None:
    desk = page.desk
    st.subheader("From this lot into stock", anchor=False)
    is_old = say_if_outdated(page)
    rests = left_overs(desk.lot)
    if not rests:
        st.write("This lot’s layout leaves no piece worth keeping, or there is no layout yet.")
        return
    chosen = {one.key for one in rests if st.checkbox(plain(one.said), True, key=one.key)}
    st.write(
        "Once they are cut, they go to stock with their pictures and flaws. The size is what is "
        "free of the flaws found so far: look again before you use one."
    )
    if st.button("Keep these", type="primary", disabled=is_old or not chosen):
        try:
            kept = keep_from_lot(desk.lot, stock_folder(), chosen)
        except ScannerError as problem:
            say_problem(problem)
        else:
            st.session_state["stock-said"] = (
                f"{len(kept)} piece{'s are' if len(kept) != 1 else ' is'} now in stock."
            )
            st.rerun()


def _out_of_stock(desk: Desk) -> None:
    st.subheader("From stock into this lot", anchor=False)
    # What was taken out again leaves its folder behind.
    if not any(stock_folder().glob("*/board.json")):
        st.write("Nothing is in stock yet. Pieces kept above, here or in another lot, show here.")
        return
    units = desk.lot.shop().units
    length, width, wood = st.columns(3)
    # Empty at first: what was just kept above is seen here, however small.
    long = length.text_input(
        "At least this long (empty: any)", placeholder="18 in" if units == "inch" else "450 mm"
    )
    wide = width.text_input(
        "At least this wide (empty: any)", placeholder="4 in" if units == "inch" else "100 mm"
    )
    species = wood.text_input("Wood (empty: any)", "")
    least = long.strip() or _ANY_SIZE, wide.strip() or _ANY_SIZE
    try:
        found = find_in_stock(stock_folder(), *least, species or None, units)
    except ScannerError as problem:
        say_problem(problem)
        return
    if not found:
        st.write(
            "No such piece in stock is known to be free of flaws. Try a smaller size or any wood."
        )
    for line in found:
        name = line.split()[0]
        said, take = st.columns([3, 1], vertical_alignment="center")
        said.markdown(plain(line))
        if take.button("Lay it into this lot", key=f"take-{name}"):
            try:
                board = take_from_stock(desk.lot, stock_folder(), name)
            except ScannerError as problem:
                say_problem(problem)
            else:
                st.session_state["stock-said"] = f"{board} lies in this lot."
                st.rerun()


show(open_page("stock"))
