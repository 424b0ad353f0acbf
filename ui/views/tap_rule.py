"""Tap a rule's corners on the photos of one board, where the rule was not found by itself."""

from __future__ import annotations

import base64
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.add_boards import upright_copy
from scanner.errors import ScannerError
from ui.rule_taps.component import draw_taps

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.rule_taps.component import Corners
    from ui.uploads import TypedFacts


def tap_rule(photos: tuple[UploadedFile, ...], facts: TypedFacts) -> TypedFacts:
    """Ask for the rule's corners on each photo; return the facts with what was tapped."""
    st.write("Tap the four corners of the rule, round it, its zero end's two first.")
    texts = []
    for face, photo in enumerate(photos[:2], 1):
        st.write(f"**Face {face}**, {photo.name}")
        texts.append(_ask(photo, facts.rule))
    return replace(facts, corners_1=texts[0], corners_2=texts[1] if len(texts) > 1 else "")


def _ask(photo: UploadedFile, rule: str) -> str:
    """Return the corners of one photo as the scan takes them; "" while they are not set."""
    found = _upright(photo.file_id, photo)
    if found is None:
        st.error(f"{photo.name} is no photo that can be read.")
        return ""
    copy, size = found
    moved_key = f"moved-{photo.file_id}"
    kept: tuple[Corners, str, str] = st.session_state.get(moved_key, ((), "", ""))
    moved, text, said = kept
    corners = draw_taps(copy, size, moved, said, key=f"taps-{photo.file_id}")
    if len(corners) != 4:
        st.session_state.pop(moved_key, None)
        return ""
    fresh = _moved(photo.file_id, rule, corners, photo)
    if fresh != kept:
        st.session_state[moved_key] = fresh
        st.rerun()
    return text


@st.cache_data(max_entries=20, show_spinner=False)
def _upright(file_id: str, _photo: UploadedFile) -> tuple[str, tuple[int, int]] | None:
    found = upright_copy(_photo.getvalue())
    if found is None:
        return None
    picture, size = found
    return f"data:image/jpeg;base64,{base64.b64encode(picture).decode()}", size


@st.cache_data(max_entries=50, show_spinner="Looking for the rule's corners")
def _moved(
    file_id: str, rule: str, corners: Corners, _photo: UploadedFile
) -> tuple[Corners, str, str]:
    """Return the corners as found near the taps, as text, and what to say of them."""
    # Only now: this loads what looking at photos needs.
    from scanner.app.tap_rule import corners_text, refine_rule_taps

    with tempfile.TemporaryDirectory(prefix="bothfaces-") as folder:
        # The user's name for it never names a file; errors speak of it.
        path = Path(folder) / "photo"
        path.write_bytes(_photo.getvalue())
        try:
            found = refine_rule_taps(path, rule, corners)
        except ScannerError as problem:
            return (), "", str(problem).replace(path.name, _photo.name)
    return found, corners_text(found), "The corners were moved onto the rule, to part of a pixel."
