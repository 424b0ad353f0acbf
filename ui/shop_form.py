"""The shop's own sizes, folded away below the parts whose rough sizes they make."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zlib import crc32

import streamlit as st

from scanner.app.lot.shop_sizes import GROUPS, are_usual, set_shop_sizes, shop_sizes
from scanner.errors import ScannerError
from ui.texts import say_problem

if TYPE_CHECKING:
    from scanner.app.lot.open_lot import Lot


def choose_shop_sizes(lot: Lot) -> None:
    """Offer kerf, allowances and machines of this lot's shop."""
    now = shop_sizes(lot)
    how = "the usual ones" if are_usual(lot) else "your own"
    long, wide = (now[f"{name}_allowance_mm"].text for name in ("length", "width"))
    # Once other sizes are kept the fields begin anew; what another window does leaves them alone.
    which = crc32(" ".join(size.text for size in now.values()).encode())
    with st.expander(f"Your shop’s sizes, {how}: rough is {long} longer and {wide} wider"):
        with st.form(f"shop-{which}", border=False):
            typed: dict[str, str] = {}
            for group, labels in GROUPS.items():
                st.write(f"**{group}**")
                fields = st.columns(2)
                for number, (name, label) in enumerate(labels.items()):
                    typed[name] = fields[number % 2].text_input(
                        label,
                        now[name].text,
                        placeholder=now[name].usual,
                        key=f"shop-{name}-{which}",
                    )
            st.write("An emptied field is the usual size again.")
            wanted = st.form_submit_button("Keep these sizes")
        if not wanted:
            return
        try:
            set_shop_sizes(lot, typed)
        except ScannerError as problem:
            say_problem(problem)
        else:
            st.rerun()
