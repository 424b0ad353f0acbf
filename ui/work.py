"""How far a scan is, or why it ended; shown on every page of the lot."""

import streamlit as st

from ui.desks import Desk, Job
from ui.texts import say_problem
from ui.watching import watch

_WATCH_S = 0.5


def show_work(desk: Desk) -> None:
    """Show how far a scan is, or why it ended."""
    # A place of its own, so that what stands below is not set up anew.
    with st.container():
        if desk.job is not None:
            job, busy = desk.job, desk.job.is_running
            boards = len(desk.lot.standings())
            every = None if job.problem and not busy else _WATCH_S
            watch(lambda by_timer: _show_job(desk, job, boards, busy, by_timer), every)


def _show_running(job: Job) -> None:
    """Show how far work is, and offer to end it where nothing is lost by that."""
    step = "stopping" if job.is_stopping else job.step or "starting"
    st.progress(min(max(job.share, 0.0), 1.0), text=f"{job.what}: {step}")
    if job.may_stop:
        st.button("Stop", on_click=job.stop, disabled=job.is_stopping)


def _show_job(desk: Desk, job: Job, boards_shown: int, was_busy: bool, by_timer: bool) -> None:
    """Show how far a scan is; looked at again while it goes on and once after."""
    if job.is_running:
        if by_timer and len(desk.lot.standings()) != boards_shown:
            st.rerun()
        _show_running(job)
        return
    if job.problem and desk.job is job:
        if by_timer and was_busy:
            # The timer may stop, the button may be pressed again.
            st.rerun()
        say_problem(job.problem)
        for picture in job.pictures:
            st.image(picture, alt="Both faces laid over each other, with what disagrees marked")
        if st.button("Understood"):
            desk.job = None
            st.rerun()
        return
    if desk.job is job:
        desk.job = None
    if by_timer:
        st.rerun()
