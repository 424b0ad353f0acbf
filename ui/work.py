"""How far a scan is, or why it ended; shown on every page of the lot."""

import streamlit as st

from ui.desks import Desk

_WATCH_S = 0.5


def show_work(desk: Desk) -> None:
    """Show how far a scan is, or why it ended."""
    # A place of its own, so that what stands below is not set up anew.
    with st.container():
        if desk.job is not None:
            busy = desk.job.is_running
            boards = len(desk.lot.standings())
            st.fragment(_show_job, run_every=_WATCH_S if busy else None)(desk, boards, busy)


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
