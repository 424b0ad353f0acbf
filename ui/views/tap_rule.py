"""Tap a rule's corners on photos in which it was not found by itself, one after the other."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from scanner.errors import ScannerError
from ui.frame import state_of
from ui.later_photo import upright
from ui.rule_taps.component import draw_taps
from ui.texts import plain

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.photo_pairs import ChosenBoard
    from ui.rule_taps.component import Corners


_FOUND, _SET, _OPEN = "found by itself", "corners set", "to tap"


def tap_in_turn(
    boards: Sequence[ChosenBoard], rule: str, found: Mapping[str, bool]
) -> list[tuple[str, str]]:
    """Ask for the rule's corners, one photo after the other.

    Parameters
    ----------
    found
        Of each photo by upload, whether the rule was found in it by itself.

    Returns
    -------
    list
        The corners in the first photo of face 1 and of face 2 of each board, as the scan takes
        them; "" where they were not tapped.
    """
    # The corners of a face are those in its first photo.
    spots = [
        _Spot(number, face, several[0])
        for number, board in enumerate(boards, 1)
        for face, several in enumerate((board.face_1, board.face_2), 1)
        if several
    ]
    names = [spot.photo.file_id for spot in spots]
    key = f"tapping-{hash(tuple(names))}"

    def standing(spot: _Spot) -> str:
        if _kept(spot.photo, rule)[1]:
            return _SET
        return _FOUND if found.get(spot.photo.file_id) else _OPEN

    if st.session_state.get(key) not in names:
        first = next((spot for spot in spots if standing(spot) == _OPEN), spots[0])
        st.session_state[key] = first.photo.file_id
    st.write("Tap the four corners of the rule, round it, its zero end's two first.")
    by_name = {spot.photo.file_id: spot for spot in spots}
    if len(spots) > 1:
        name = st.radio(
            "Photo to tap on",
            names,
            format_func=lambda one: by_name[one].words(len(boards)),
            # Not in the label: with other labels it would be another field, and begin anew.
            captions=[standing(spot) for spot in spots],
            key=key,
        )
    else:
        name = names[0]
    _ask(by_name[name].photo, rule)
    at = names.index(name)
    # On round the list: a photo that was left out comes up again.
    later = [one for one in (*names[at + 1 :], *names[:at]) if standing(by_name[one]) == _OPEN]
    if later and standing(by_name[name]) != _OPEN:
        words = by_name[later[0]].words(len(boards))
        # A callback may still set what a field shows; here it has been drawn already.
        st.button(f"On to {words}", type="primary", on_click=_go_on, args=(key, later[0]))
    texts = {spot.photo.file_id: _kept(spot.photo, rule)[1] for spot in spots}

    def text(several: tuple[UploadedFile, ...]) -> str:
        return texts[several[0].file_id] if several else ""

    return [(text(board.face_1), text(board.face_2)) for board in boards]


@dataclass(frozen=True, slots=True)
class _Spot:
    """A photo that a rule may be tapped on: its board in the list, and the face it shows."""

    board: int
    face: int
    photo: UploadedFile

    def words(self, boards: int) -> str:
        """Return what it shows and how it is called."""
        where = f"board {self.board}, " if boards > 1 else ""
        return f"{where}face {self.face}, {plain(self.photo.name)}"


def _go_on(key: str, name: str) -> None:
    st.session_state[key] = name


_Kept = tuple["Corners", str, str]


def _kept(photo: UploadedFile, rule: str) -> _Kept:
    """Return corners, text and words kept of a photo; they outlive its being shown."""
    kept: _Kept = st.session_state.get(_key(photo, rule), ((), "", ""))
    return kept


def _key(photo: UploadedFile, rule: str) -> str:
    return f"moved-{photo.file_id}-{rule}"


def _ask(photo: UploadedFile, rule: str) -> None:
    """Show one photo to tap on, and keep its corners once all four are set."""
    found = upright(photo.file_id, photo)
    if found is None:
        st.error(f"{plain(photo.name)} is no photo that can be read.")
        return
    copy, size = found
    key = f"taps-{photo.file_id}"
    was_told = bool(state_of(key, "corners"))
    kept = _kept(photo, rule)
    corners = draw_taps(copy, size, kept[0], kept[2], key=key)
    if len(corners) != 4:
        # Shown again after another photo it has told nothing yet: what was kept stands.
        if was_told and kept[1]:
            st.session_state.pop(_key(photo, rule), None)
            st.rerun()
        return
    fresh = _moved(photo.file_id, rule, corners, photo)
    if fresh != kept:
        st.session_state[_key(photo, rule)] = fresh
        st.rerun()


@st.cache_data(max_entries=50, show_spinner="Looking for the rule's corners")
def _moved(
    file_id: str, rule: str, corners: Corners, _photo: UploadedFile
) -> tuple[Corners, str, str]:
    """Return the corners as found near the taps, as text, and what to say of them."""
    # Only now: this loads what looking at photos needs.
    from scanner.app.scanning.tap_rule import corners_text, refine_rule_taps

    with tempfile.TemporaryDirectory(prefix="bothfaces-") as folder:
        # The user's name for it never names a file; errors speak of it.
        path = Path(folder) / "photo"
        path.write_bytes(_photo.getvalue())
        try:
            found = refine_rule_taps(path, rule, corners)
        except ScannerError as problem:
            return (), "", str(problem).replace(path.name, _photo.name)
    return found, corners_text(found), "The corners were moved onto the rule, to part of a pixel."
