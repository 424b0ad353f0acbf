"""Add a board from photos, and the parts list."""

from dataclasses import replace

import streamlit as st

from scanner.app.open_lot import set_parts
from scanner.app.page_state import part_rows
from scanner.errors import ScannerError
from ui.desks import Desk, Job, Progress
from ui.uploads import TypedFacts, Upload

_WATCH_S = 0.5
_STRIP, _RULE = "the printed strip", "a plain rule"


def show_work(desk: Desk) -> None:
    """Show how far a scan is, or why it ended."""
    # A place of its own, so that what stands below is not set up anew.
    with st.container():
        if desk.job is not None:
            busy = desk.job.is_running
            st.fragment(_show_job, run_every=_WATCH_S if busy else None)(desk, _round(desk), busy)


def add_board_form(desk: Desk, *, is_first: bool) -> None:
    """Offer to add a board from a photo of each face."""
    busy = desk.job is not None and desk.job.is_running
    with st.expander("Add a board from two photos", expanded=is_first):
        # Shown while a scan goes on as well: fields that are not shown forget their photos.
        _ask(desk, is_first, busy)


def _ask(desk: Desk, is_first: bool, busy: bool) -> None:
    # A row of columns for each pair: on a phone they follow one another in this order.
    left, right = st.columns(2)
    face_1 = left.file_uploader("Photo of face 1", type="image", key=f"face-1-{_round(desk)}")
    face_2 = right.file_uploader("Photo of face 2", type="image", key=f"face-2-{_round(desk)}")
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


def _show_job(desk: Desk, boards_shown: int, was_busy: bool) -> None:
    """Show how far a scan is; a fragment, with a timer while it goes on."""
    job = desk.job
    if job is None:
        return
    if job.is_running:
        if len(desk.lot.standings()) != boards_shown:
            st.rerun()
        st.progress(min(max(job.share, 0.0), 1.0), text=f"{job.what}: {job.step or 'starting'}")
        return
    if job.problem:
        if was_busy:
            # The timer may stop, the button may be pressed again.
            st.rerun()
        st.error(job.problem)
        if st.button("Understood"):
            desk.job = None
            st.rerun()
        return
    desk.job = None
    st.rerun()


def parts_list_form(desk: Desk) -> None:
    """Show the parts list, and take another."""
    lot = desk.lot
    kept = lot.parts_text()
    with st.expander("Parts list" if kept is None else f"Parts list: {kept.name}"):
        if kept is not None:
            st.table(part_rows(lot))
        given = st.file_uploader("A parts list (CSV or JSON, finished sizes)", type=["csv", "json"])
        if given is None or st.session_state.get("parts-taken") == given.file_id:
            return
        try:
            set_parts(lot, given.getvalue().decode("utf-8-sig", "replace"), given.name)
        except ScannerError as problem:
            st.error(str(problem))
            return
        st.session_state["parts-taken"] = given.file_id
        st.rerun()
