"""The page beside "Boards": further photos of a board, with all that was said of it kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.lot.add_boards import thumbnail
from scanner.app.lot.later_photo import board_names
from scanner.app.scanning.scan_request import TypedOptions
from ui.frame import OpenPage, go_to_step, open_page
from ui.kept_fields import kept_board, kept_option, kept_photos, kept_text, used_up
from ui.later_photo import RULE, STRIP, as_upload, begin, choose_photo, is_busy
from ui.own_units import what_bare_means, with_unit
from ui.texts import plain
from ui.uploads import BATTEN, STRIP_TAPED

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk

_THUMBNAIL_PX = 120
_ADD, _INSTEAD = "beside the earlier ones", "instead of the earlier ones"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    names = board_names(desk.lot)
    if not names:
        st.write("No board yet. Next: add boards.")
        if st.button("Go to the boards", type="primary"):
            go_to_step("boards")
        return
    board = kept_board(desk, st.container(), "again/again-board", names)
    _say_of(desk, board)
    st.write(
        "Give what you have, of one face or both; the rest stays as it is. The board is scanned "
        "again with all its photos. Flaws that you kept, drew or struck stay, moved by the grain "
        "that both scans show; what the new photos show besides is asked about. Undo brings the "
        "earlier scan back."
    )
    left, right = st.columns(2, gap="large")
    with left:
        one = _ask_face(desk, board, 1)
    with right:
        two = _ask_face(desk, board, 2)
    typed = _ask_rule(desk)
    if st.button(f"Scan {board} again", type="primary", disabled=is_busy(desk)):
        if not any(photos or low for photos, _, low in (one, two)):
            st.error("There is no photo yet: choose or take one.")
            return
        _begin(desk, board, {1: one, 2: two}, typed)


_Chosen = tuple[list["UploadedFile"], bool, "UploadedFile | None"]


def _say_of(desk: Desk, board: str) -> None:
    from scanner.app.showing.list_boards import photos_words
    from scanner.app.showing.page_state import short_notes

    known, kept = desk.lot.board(board), desk.lot.photos(board)
    st.write(photos_words(known))
    st.markdown("\n".join(f"- {plain(line)}" for line in short_notes(known)))
    if not kept:
        st.warning(
            "The earlier photos of this board are not kept with the lot: give photos of both faces."
        )
    if st.button(f"Look at {board}"):
        go_to_step("flaws", board=board)


def _show_earlier(desk: Desk, board: str, face: int) -> None:
    """Show the photos of a face that are kept, small: which side they were taken from."""
    with st.container(horizontal=True, key=f"earlier-{face}"):
        for photo in desk.lot.photos(board).get(face, ()):
            path = desk.lot.picture(photo.file)
            small = None if path is None else _small(str(path))
            if small is not None:
                st.image(small, width=_THUMBNAIL_PX, alt=f"Earlier photo of face {face}")


@st.cache_data(max_entries=60, show_spinner=False)
def _small(path: str) -> bytes | None:
    return thumbnail(Path(path).read_bytes())


def _ask_face(desk: Desk, board: str, face: int) -> _Chosen:
    name = f"again-{board}-{face}"
    st.subheader(f"Face {face}", anchor=False)
    _show_earlier(desk, board, face)
    label = f"More photos of face {face}, from above"
    photos = kept_photos(desk, name, f"{name}-{desk.rounds}", label)
    how = _ADD
    if photos:
        # Of these photos only: the next ones replace nothing unasked.
        field = f"again/{name}-how-{used_up(desk, name)}"
        how = kept_option(desk, st.container(), field, "They count", [_ADD, _INSTEAD])
    low = choose_photo(
        desk,
        f"If you like, face {face} under a low lamp, nothing moved since: it shows thin checks"
        " and saw marks",
        f"{name}-low",
    )
    return photos, how == _INSTEAD, low


def _ask_rule(desk: Desk) -> TypedOptions:
    st.write(what_bare_means(desk))
    left, right = st.columns(2)
    beside = kept_option(desk, left, "again/beside", "What lies beside the board?", [STRIP, RULE])
    if beside == RULE:
        rule = kept_text(desk, right, "again/rule", "Length of the rule", default="36 in").strip()
        return TypedOptions(rule=with_unit(desk, rule) or None)
    strip = kept_text(desk, right, "again/strip", STRIP_TAPED).strip()
    batten = kept_text(desk, right, "again/batten", BATTEN).strip()
    return TypedOptions(
        strip_taped=with_unit(desk, strip) or None, batten=with_unit(desk, batten) or None
    )


def _begin(desk: Desk, board: str, chosen: dict[int, _Chosen], typed: TypedOptions) -> None:
    from scanner.app.lot.add_board import UploadedPhoto
    from scanner.app.lot.scan_again import MorePhotos, scan_again

    def kept(photo: UploadedFile) -> UploadedPhoto:
        upload = as_upload(photo)
        return UploadedPhoto(upload.name, upload.content)

    more = {
        face: MorePhotos(tuple(kept(one) for one in photos), instead, kept(low) if low else None)
        for face, (photos, instead, low) in chosen.items()
    }
    used = [one for photos, _, low in chosen.values() for one in (*photos, low) if one]
    begin(desk, f"Scanning {board} again", scan_again, board, more, typed, photos=used)


show(open_page("again"))
