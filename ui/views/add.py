"""Add a board from photos."""

from dataclasses import replace

import streamlit as st

from ui.desks import Desk, Job, Progress
from ui.limits import PHOTO_MB
from ui.uploads import TypedFacts, Upload

_STRIP, _RULE = "the printed strip", "a plain rule"


def add_board_form(desk: Desk, *, is_first: bool) -> None:
    """Offer to add a board from a photo of each face."""
    busy = desk.job is not None and desk.job.is_running
    with st.expander("Add a board from two photos", expanded=is_first):
        # Shown while a scan goes on as well: fields that are not shown forget their photos.
        _ask(desk, is_first, busy)


def _ask(desk: Desk, is_first: bool, busy: bool) -> None:
    # A row of columns for each pair: on a phone they follow one another in this order.
    left, right = st.columns(2)
    face_1 = left.file_uploader(
        "Photo of face 1", type="image", max_upload_size=PHOTO_MB, key=f"face-1-{_round(desk)}"
    )
    face_2 = right.file_uploader(
        "Photo of face 2", type="image", max_upload_size=PHOTO_MB, key=f"face-2-{_round(desk)}"
    )
    left, right = st.columns(2)
    species = left.text_input("Species", placeholder="white ash")
    thickness = right.text_input("Thickness (4/4, 1 1/16 in or 27 mm)", value="4/4")
    left, right = st.columns(2)
    beside = left.radio("What lies beside the board?", [_STRIP, _RULE], horizontal=True)
    facts = TypedFacts(species=species, thickness=thickness)
    if beside == _RULE:
        facts = replace(facts, rule=right.text_input("Length of the rule", value="36 in"))
    else:
        strip = right.text_input("Length of the strip as taped (may be left empty)")
        facts = replace(facts, strip_taped=strip)
    taped = st.text_input("Length of the board as taped (may be left empty)")
    facts = replace(facts, taped=taped)
    if st.button("Scan this board", type="primary" if is_first else "secondary", disabled=busy):
        if face_1 is None:
            st.error("There is no photo of face 1: choose or take one, then scan.")
            return
        photos = tuple(Upload(f.name, f.getvalue()) for f in (face_1, face_2) if f is not None)

        def scan(progress: Progress) -> None:
            # vision loads its heavy libraries only when there is something to scan
            from scanner.app.add_board import UploadedPhoto, add_board

            ready = [UploadedPhoto(photo.name, photo.content) for photo in photos]
            second = ready[1] if len(ready) > 1 else None
            add_board(desk.lot, ready[0], second, facts.options(), progress)

        desk.job = Job("Scanning", scan)
        st.rerun()


def _round(desk: Desk) -> int:
    """Return how many boards there are: new upload fields for each board."""
    return len(desk.lot.standings())
