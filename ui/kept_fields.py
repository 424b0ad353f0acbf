"""Fields that keep what was given while another page is shown: Streamlit forgets them there."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import streamlit as st

from ui.limits import PHOTO_MB
from ui.texts import plain
from ui.visits import given, keep_chosen, keep_given

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from streamlit.delta_generator import DeltaGenerator
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk

_Given = TypeVar("_Given", str, bool)
# What lies beside the boards is the shop's and not a visit's: it stands in every window, and a
# phone that loads the page anew is not asked for it again.
_BESIDE = frozenset({"beside", "strip", "batten", "rule"})


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
    typed = given().typed
    kept, key = _shelved(desk, typed, name, default)
    typed[kept] = place.text_input(
        label, key=key, placeholder=example or None, on_change=_keep, args=(desk, typed, name)
    )
    return typed[kept]


def kept_option(
    desk: Desk, place: DeltaGenerator, name: str, label: str, options: Sequence[str]
) -> str:
    """Draw a few choices, the first of which holds until another is made, and return the choice.

    ``name`` as of `kept_text`: pages that share a field share its options.
    """
    meant = given().meant
    kept, key = _shelved(desk, meant, name, options[0])
    meant[kept] = place.radio(
        label, options, key=key, horizontal=True, on_change=_keep, args=(desk, meant, name)
    )
    return meant[kept]


def mean(desk: Desk, name: str, option: str) -> None:
    """Choose an option of a field (see `kept_option`) for the user; a button's callback."""
    st.session_state[_keys(desk, name)[1]] = option
    _keep(desk, given().meant, name)


def kept_board(
    desk: Desk,
    place: DeltaGenerator,
    name: str,
    names: Sequence[str],
    words: Callable[[str], str] = str,
) -> str:
    """Ask which board is meant: the one that the page's address names, or the one meant before.

    ``words`` say a board's name and how it stands.
    """
    is_fresh = f"{desk.lot.path.stem}/{name}" not in st.session_state
    meant = given().meant
    kept, key = _shelved(desk, meant, name, names[0])
    asked = st.query_params.get("board")
    now = asked if is_fresh and asked in names else st.session_state[key]
    # Said every time: with other words the field would begin anew. And the board may have been
    # taken out of the lot meanwhile.
    st.session_state[key] = now if now in names else names[0]
    meant[kept] = place.selectbox(
        "Board", names, format_func=words, key=key, on_change=_keep, args=(desk, meant, name)
    )
    return meant[kept]


def _keys(desk: Desk, name: str) -> tuple[str, str]:
    """Return what a field of this name is kept under, and its own key on its page."""
    page, field = name.split("/")
    return f"{desk.lot.path.stem}/{field}", f"{desk.lot.path.stem}/{page}/{field}"


def _shelved(desk: Desk, shelf: dict[str, _Given], name: str, default: _Given) -> tuple[str, str]:
    """Put what was given before into a field of this name; return its keys (see ``_keys``)."""
    kept, key = _keys(desk, name)
    if key not in st.session_state:
        # Another window may have said since what lies beside the boards.
        before = desk.beside.get(name.split("/")[1], shelf.get(kept, default))
        st.session_state[key] = before
    return kept, key


def _keep(desk: Desk, shelf: dict[str, _Given], name: str) -> None:
    """Keep what was given before the page is drawn: who taps elsewhere right after sees another."""
    kept, key = _keys(desk, name)
    if key not in st.session_state:
        return
    shelf[kept] = st.session_state[key]
    keep_given()
    field = name.split("/")[1]
    if field in _BESIDE:
        desk.beside[field] = st.session_state[key]


def was_typed(desk: Desk, *fields: str) -> bool:
    """Whether something stands in one of these fields (see ``kept_text``), shown or not."""
    typed = given().typed
    return any(typed.get(f"{desk.lot.path.stem}/{field}") for field in fields)


def kept_tick(desk: Desk, name: str, label: str, *, is_switch: bool = False) -> bool:
    """Draw a box to tick, or a switch, and return whether it is on."""
    ticked = given().ticked
    kept, key = _shelved(desk, ticked, name, default=False)
    draw = st.toggle if is_switch else st.checkbox
    ticked[kept] = draw(label, key=key, on_change=_keep, args=(desk, ticked, name))
    return ticked[kept]


_Photos = list["UploadedFile"]


def were_chosen(desk: Desk, name: str) -> bool:
    """Whether photos that nothing was made of yet stood in a field (see ``kept_photos``)."""
    return bool(_unused(desk, _chosen_before(desk, name)[1])) or _were_let_go(desk, name)


def used_up(desk: Desk, name: str) -> int:
    """Return how many photos of a field something was made of: what was said beside them is done.

    Only those of this window: what is typed here outlasts a scan that ends elsewhere.
    """
    ever = given().ever.get(f"{desk.lot.path.stem}/{name}", set())
    return len(ever & (desk.scanned | desk.looked_at))


def kept_photos(desk: Desk, name: str, key: str, label: str) -> _Photos:
    """Draw a field for photos and return those in it, and those chosen before another page.

    The field itself comes back empty: what was in it stands below, and can be taken out. Photos
    that became boards, or were looked at, are left out.

    Parameters
    ----------
    name
        Of what is chosen, whatever ``key`` the field has now.
    """
    before, widget = _still_here(desk, name, key)
    new = st.file_uploader(
        label,
        type="image",
        accept_multiple_files=True,
        max_upload_size=PHOTO_MB,
        key=widget,
        on_change=keep_given,
    )
    return _put_back(desk, name, before, new)


def kept_photo(desk: Desk, name: str, key: str, label: str) -> UploadedFile | None:
    """Draw a field for one photo, else as `kept_photos`; one that is chosen now replaces it."""
    before, widget = _still_here(desk, name, key)
    new = st.file_uploader(
        label, type="image", max_upload_size=PHOTO_MB, key=widget, on_change=keep_given
    )
    found = _put_back(desk, name, before if new is None else [], [new] if new else [])
    return found[0] if found else None


def _chosen_before(desk: Desk, name: str) -> tuple[_Photos, _Photos]:
    """Return what was chosen before the field was last drawn anew, and all that it gave last."""
    return given().chosen.get(f"{desk.lot.path.stem}/{name}", ([], []))


def _were_let_go(desk: Desk, name: str) -> bool:
    """Whether photos of a field that nothing was made of yet were let go for lack of room."""
    gone = given().let_go.get(f"{desk.lot.path.stem}/{name}", set())
    return bool(gone - desk.scanned - desk.looked_at)


def _still_here(desk: Desk, name: str, key: str) -> tuple[_Photos, str]:
    """Return the photos that the field itself has lost, and the field's own key."""
    before, last = _chosen_before(desk, name)
    widget = f"{desk.lot.path.stem}/{key}"
    return _unused(desk, before if widget in st.session_state else last), widget


def _put_back(desk: Desk, name: str, before: _Photos, new: _Photos) -> _Photos:
    """Say which photos were chosen before, and return them with those in the field now."""
    place = f"{desk.lot.path.stem}/{name}"
    if before and _take_out(place, before):
        before = []
        keep_given()
    keep_chosen(place, before, [*before, *new])
    if _were_let_go(desk, name):
        st.write(
            "What you chose here before was let go for lack of memory: please choose it again."
        )
    return [*before, *new]


def _unused(desk: Desk, photos: _Photos) -> _Photos:
    return [one for one in photos if one.file_id not in desk.scanned | desk.looked_at]


def _take_out(place: str, before: _Photos) -> bool:
    """Say which photos were chosen before; return whether they are to go."""
    room = st.empty()
    with room.container(horizontal=True, vertical_alignment="center"):
        st.markdown(f"Still here: {', '.join(plain(photo.name) for photo in before)}.")
        label = "Take them out" if len(before) > 1 else "Take it out"
        is_out = st.button(label, key=f"{place}/out")
    if is_out:
        room.empty()
    return is_out
