"""The page beside "Parts": how much wood to buy, what to take along, how wide parts move."""

import streamlit as st

from scanner.app.buying.buy_wood import kept_buying, known_grades, look_what_to_buy
from scanner.app.buying.wood_movement import known_species, movement_lines, wood_of
from scanner.app.lot.foot_prices import read_amount
from scanner.errors import ScannerError
from ui.desks import Job
from ui.downloads import yard_card_url
from ui.frame import OpenPage, go_to_step, open_page
from ui.texts import plain, say_problem


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if desk.lot.parts_text() is None:
        st.write("No parts yet, so nothing to buy wood for. Next: write the parts list.")
        if st.button("Go to the parts", type="primary"):
            go_to_step("parts")
        return
    _how_much(page)
    st.subheader("Take along to the yard", anchor=False)
    st.write("What is still to find: a sheet, or a file for a phone without a signal.")
    name = desk.lot.path.stem
    budget = st.text_input(
        "Money for it all (may be left empty): the card then says the most to pay", ""
    )
    try:
        # A link that cannot be followed would answer on a page of its own.
        read_amount(budget, "money for it all")
    except ScannerError as problem:
        say_problem(problem)
        budget = ""
    sheet, phone = st.columns(2)
    sheet.link_button("The card as a sheet", yard_card_url(name, "pdf", budget))
    phone.link_button("The card for the phone", yard_card_url(name, "html", budget))
    _movement(page)


def _how_much(page: OpenPage) -> None:
    desk = page.desk
    st.write(
        "Your parts are laid out on forty lots drawn at random. What is enough for nine in ten is "
        "what to buy. Takes up to a minute."
    )
    grade = st.selectbox("Boards to buy: a grade, or like your own", known_grades(desk.lot))
    busy = desk.job is not None and desk.job.is_running
    if st.button("Work it out", type="primary", disabled=busy):
        lot = desk.lot
        desk.job = Job(
            "Working out what to buy",
            lambda tell: look_what_to_buy(lot, grade, tell),
            may_stop=True,
        )
        st.rerun()
    found = kept_buying(desk.lot)
    if found is None:
        return
    # The answers stand out; what they rest on is indented in the lines, and folded away here.
    answers = [line for line in found.lines[:-1] if not line.startswith(" ")]
    st.markdown("\n".join(f"- **{plain(line)}**" for line in answers))
    with st.expander("How sure that is, and which widths to ask for"):
        for line in found.lines:
            st.markdown(f"**{plain(line)}**" if line in answers else f"- {plain(line.strip())}")
        said = "The chance that everything fits, over the board feet bought"
        st.image(found.picture, width="stretch", alt=said)


def _movement(page: OpenPage) -> None:
    st.subheader("How much a wide part will move", anchor=False)
    units = page.desk.lot.shop().units
    with st.form("movement"):
        width, species = st.columns(2)
        typed = width.text_input("Width", "12 in" if units == "inch" else "300 mm")
        woods = known_species()
        own = woods.index(wood_of(page.desk.lot))
        wood = species.selectbox("Wood", woods, index=own)
        now, later = st.columns(2)
        begin = now.number_input("Moisture now, %", 0.0, 30.0, 8.0, 0.5, "%.1f")
        end = later.number_input("Moisture later, %", 0.0, 30.0, 11.0, 0.5, "%.1f")
        if st.form_submit_button("How much?"):
            try:
                lines = movement_lines(typed, wood, begin, end, units)
            except ScannerError as problem:
                say_problem(problem)
            else:
                for line in lines:
                    st.markdown(f"- {plain(line.strip())}")


show(open_page("buying"))
