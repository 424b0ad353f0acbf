"""The page beside "Boards": what each board costs and is worth, which to take, grade estimates."""

from functools import partial

import streamlit as st

from scanner.app.buying.choose_boards import choose_in_lot, kept_choice, price_text, set_price
from scanner.app.buying.grade_boards import grade_lot, grade_png, no_inspection
from scanner.app.buying.tally_boards import thick_enough
from scanner.app.showing.list_boards import board_lines
from scanner.errors import ScannerError
from ui.desks import Desk, Job
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.texts import plain, say_problem


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    lines = board_lines(desk.lot)
    if not lines:
        st.write("No board yet, so none to choose from. Next: add boards.")
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    _choice(desk)
    st.subheader("What each board costs", anchor=False)
    currency = desk.lot.shop().currency
    for board in lines:
        name, price = st.columns([2, 1], vertical_alignment="center")
        name.markdown(f"**{board.id}** · {plain(board.size)}")
        before = price_text(desk.lot, board.id)
        # Its own key for each price: what was typed would else be taken for a change again.
        label = f"Price of {board.id}" + (f" in {currency}" if currency else "")
        typed = price.text_input(label, before, key=f"price-{board.id}-{before}")
        if typed.strip() != before:
            change(partial(set_price, desk.lot, board.id, typed))
    _by_the_foot(desk)
    _thickness(desk)
    _grades(desk)


def _by_the_foot(desk: Desk) -> None:
    """Ask the prices of a board foot; a board's own price wins over them."""
    # Only now: reading prices loads what the page above need not wait for.
    from scanner.app.lot.foot_prices import cost_lines, foot_prices_text, set_foot_prices

    with st.expander("Price by the board foot"):
        prices, currency = st.columns([3, 1])
        before = foot_prices_text(desk.lot)
        typed = prices.text_area(
            "One wood a line: species, thickness class if the price depends on it, price",
            before,
            placeholder="white ash = 6.50\nwalnut 8/4 = 14",
            key=f"foot-prices-{before}",
        )
        money = currency.text_input("Currency", desk.lot.shop().currency)
        if st.button("Keep these prices"):
            try:
                set_foot_prices(desk.lot, typed, money)
            except ScannerError as problem:
                say_problem(problem)
            else:
                st.rerun()
    for line in cost_lines(desk.lot):
        st.markdown(f"- {plain(line)}")


def _thickness(desk: Desk) -> None:
    told = thick_enough(desk.lot)
    if not told:
        return
    st.subheader("Thick enough?", anchor=False)
    st.write("Flattening takes bow, cup and twist off a piece, more off a long one than a short.")
    for line in told:
        st.markdown(f"- {plain(line)}")


def _choice(desk: Desk) -> None:
    if desk.lot.parts_text() is None:
        st.write("Which boards to take follows from the parts list, and there is none yet.")
        if st.button("Write the parts list", type="primary"):
            go_to_step("parts")
        return
    st.write(
        "Boards are left out one after the other for as long as the rest still holds your parts. "
        "Where a price is missing, all count by their board feet. What is cut already stays, and "
        "its board costs nothing more."
    )
    left, right = st.columns(2)
    budget = left.text_input("Spend no more than (may be left empty)", "")
    surcharge = right.text_input(
        "What the yard adds for picking by hand, % (may be left empty)", ""
    )
    busy = desk.job is not None and desk.job.is_running
    if st.button("Which boards to take?", type="primary", disabled=busy):
        lot = desk.lot
        desk.job = Job(
            "Looking which boards to take",
            lambda tell: choose_in_lot(lot, budget, tell, surcharge),
            may_stop=True,
        )
        st.rerun()
    for line in kept_choice(desk.lot):
        st.markdown(f"- {plain(line.strip())}")


def _grades(desk: Desk) -> None:
    st.subheader("Grade estimates", anchor=False)
    st.write(plain(no_inspection()))
    if not st.toggle("Estimate the grade of each board"):
        return
    for board, lines in grade_lot(desk.lot):
        with st.expander(plain(lines[0])):
            for line in lines[1:]:
                st.markdown(f"- {plain(line.strip())}")
            st.image(grade_png(desk.lot, board))


show(open_page("taking"))
