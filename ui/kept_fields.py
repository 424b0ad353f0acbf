"""Fields that keep what was typed while another page is shown: Streamlit forgets them there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

    from ui.desks import Desk

_TYPED = "typed-before"


def kept_text(
    desk: Desk, place: DeltaGenerator, name: str, label: str, default: str = "", example: str = ""
) -> str:
    """Draw a text field and return what stands in it.

    Parameters
    ----------
    place
        Where it is drawn: a column, say.
    name
        ``PAGE/FIELD``: what one page was told of a field stands on all that ask for it, so that
        the strip's length is typed once.
    default, example
        What stands in it before anybody typed, and what shows while it is empty.
    """
    page, field = name.split("/")
    typed: dict[str, str] = st.session_state.setdefault(_TYPED, {})
    kept, key = (f"{desk.lot.path.stem}/{one}" for one in (field, f"{page}/{field}"))
    if key not in st.session_state:
        st.session_state[key] = typed.get(kept, default)
    typed[kept] = place.text_input(label, key=key, placeholder=example or None)
    return typed[kept]
