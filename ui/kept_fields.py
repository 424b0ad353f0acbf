"""Fields that keep what was given while another page is shown: Streamlit forgets them there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from ui.limits import PHOTO_MB
from ui.texts import plain

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk

_TYPED, _TICKED, _CHOSEN = "typed-before", "ticked-before", "chosen-before"


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
        the strip's length is typed once. On one page no two fields have the same name.
    default, example
        What stands in it before anybody typed, and what shows while it is empty.
    """
    page, field = name.split("/")
    typed: dict[str, str] = st.session_state.setdefault(_TYPED, {})
    kept, key = (f"{desk.lot.path.stem}/{one}" for one in (field, f"{page}/{field}"))
    if key not in st.session_state:
        st.session_state[key] = typed.get(kept, default)
    typed[kept] = place.text_input(
        label, key=key, placeholder=example or None, on_change=_keep, args=(_TYPED, kept, key)
    )
    return typed[kept]


def _keep(shelf: str, kept: str, key: str) -> None:
    """Keep what was given before the page is drawn: who taps elsewhere right after sees another."""
    if key in st.session_state:
        st.session_state.setdefault(shelf, {})[kept] = st.session_state[key]


def was_typed(desk: Desk, *fields: str) -> bool:
    """Whether something stands in one of these fields (see ``kept_text``), shown or not."""
    typed = st.session_state.get(_TYPED, {})
    return any(typed.get(f"{desk.lot.path.stem}/{field}") for field in fields)


def kept_tick(desk: Desk, name: str, label: str, *, is_switch: bool = False) -> bool:
    """Draw a box to tick, or a switch, and return whether it is on."""
    ticked: dict[str, bool] = st.session_state.setdefault(_TICKED, {})
    key = f"{desk.lot.path.stem}/{name}"
    if key not in st.session_state:
        st.session_state[key] = ticked.get(key, False)
    draw = st.toggle if is_switch else st.checkbox
    ticked[key] = draw(label, key=key, on_change=_keep, args=(_TICKED, key, key))
    return ticked[key]


def were_chosen(desk: Desk, name: str) -> bool:
    """Whether photos that became no boards yet stand in a field (see ``kept_photos``)."""
    _, last = st.session_state.get(_CHOSEN, {}).get(f"{desk.lot.path.stem}/{name}", ([], []))
    return any(photo.file_id not in desk.scanned for photo in last)


def kept_photos(desk: Desk, name: str, key: str, label: str) -> list[UploadedFile]:
    """Draw a field for photos and return those in it, and those chosen before another page.

    The field itself comes back empty: what was in it stands below, and can be taken out. Photos
    that became boards are left out.

    Parameters
    ----------
    name
        Of what is chosen, whatever ``key`` the field has now.
    """
    chosen: dict[str, tuple[list[UploadedFile], list[UploadedFile]]]
    chosen = st.session_state.setdefault(_CHOSEN, {})
    place, widget = f"{desk.lot.path.stem}/{name}", f"{desk.lot.path.stem}/{key}"
    before, last = chosen.get(place, ([], []))
    if widget not in st.session_state:
        before = last
    before = [photo for photo in before if photo.file_id not in desk.scanned]
    given = st.file_uploader(
        label,
        type="image",
        accept_multiple_files=True,
        max_upload_size=PHOTO_MB,
        key=widget,
    )
    if before and _take_out(place, before):
        before = []
    chosen[place] = (before, [*before, *given])
    return chosen[place][1]


def _take_out(place: str, before: list[UploadedFile]) -> bool:
    """Say which photos were chosen before; return whether they are to go."""
    room = st.empty()
    with room.container(horizontal=True, vertical_alignment="center"):
        st.markdown(f"Still here: {', '.join(plain(photo.name) for photo in before)}.")
        is_out = st.button("Take them out", key=f"{place}/out")
    if is_out:
        room.empty()
    return is_out
