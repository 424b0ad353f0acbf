"""The page beside "Cut": the milling plan, its passes to tick, what to measure after the rest."""

from datetime import date
from functools import partial

import streamlit as st

from scanner.app.cutting.milling_in_lot import (
    BatchView,
    StepView,
    batch_views,
    choose,
    late_words,
    mark_words,
    measure,
    milled_parts,
    milling_choice,
    rest_choices,
    set_glue_up,
    tick_step,
    unseen_lines,
)
from scanner.errors import SettingsError
from ui.desks import Desk
from ui.downloads import milling_url
from ui.frame import OpenPage, change, go_to_step, open_page
from ui.mark_drawings import MARKS
from ui.outdated import say_if_outdated
from ui.texts import plain

_LIKE = "2027-03-01"


def show(page: OpenPage) -> None:
    """Show the page."""
    desk = page.desk
    if page.lot.layout.standing == "none":
        st.write("No layout yet, so nothing to mill. Next: see where your parts may lie.")
        if st.button("Go to the layout", type="primary"):
            go_to_step("layout")
        return
    is_old = say_if_outdated(page)
    batches = batch_views(desk.lot)
    if not batches:
        st.write("Nothing is left to mill: every part is done.")
        if st.button("Back to the parts to cut", type="primary"):
            go_to_step("cut")
        return
    _say_how_far(batches)
    for line in unseen_lines(desk.lot):
        st.write(f"**{plain(line)}**")
    for line in late_words(desk.lot):
        st.warning(line)
    _choices(desk)
    if not is_old:
        st.link_button("Get the milling sheet", milling_url(desk.lot.path.stem), type="primary")
    _marks(desk)
    for number, batch in enumerate(batches, 1):
        _batch(desk, number, batch)


def _say_how_far(batches: tuple[BatchView, ...]) -> None:
    steps = [(number, step) for number, batch in enumerate(batches, 1) for step in batch.steps]
    left = [(number, step.words) for number, step in steps if not step.done]
    what = f"Next: batch {left[0][0]}, {left[0][1].lower()}." if left else "All is milled."
    st.write(f"**{len(steps) - len(left)} of {len(steps)} passes done.** {what}")


def _choices(desk: Desk) -> None:
    over, rest, stickers, begin = milling_choice(desk.lot)
    rests = rest_choices()
    with st.expander("How you mill: makers disagree, so choose"), st.form("milling-choice"):
        typed = st.text_input("The first pass leaves over the final thickness", over)
        days = st.selectbox(
            "Rest between the passes",
            list(rests),
            index=list(rests).index(rest) if rest in rests else 2,
            format_func=lambda count: f"{count} days: {rests[count]}" if count else rests[0],
        )
        on_stickers = st.checkbox("The pieces rest on stickers, air on all sides", stickers)
        day = st.text_input(
            "Day of the first pass, where no glue-up is dated (may be left empty)",
            begin.isoformat() if begin else "",
            placeholder=_LIKE,
        )
        if st.form_submit_button("Keep"):
            change(
                lambda: choose(
                    desk.lot, over=typed, rest_days=days, stickers=on_stickers, begin=_day(day)
                )
            )
    with st.expander("Days of the glue-ups"):
        for name, known in milled_parts(desk.lot):
            before = known.isoformat() if known else ""
            # Its own key for each day kept; Streamlit's own field for days has no name for an
            # empty one that a screen reader could say.
            key = f"glue-{name}-{before}"
            typed = st.text_input(f"{name} is glued on", before, key=key, placeholder=_LIKE)
            if typed.strip() != before:
                change(partial(_glue, desk, name, typed))


def _marks(desk: Desk) -> None:
    """Say how to mark pieces so that the planer leaves the marks."""
    with st.expander("Before the planer: marks that survive it"):
        for column, (said, drawn) in zip(st.columns(2), MARKS.items(), strict=True):
            column.image(drawn(), width=300, alt=said)
        for line in mark_words(desk.lot):
            st.markdown(f"- {plain(line)}")


def _batch(desk: Desk, number: int, batch: BatchView) -> None:
    with st.container(border=True, key=f"batch-{number}"):
        st.markdown(f"**{number}. {plain(batch.title)}**")
        for step in batch.steps:
            _step(desk, step)
        for line in batch.said:
            st.markdown(f"- {plain(line)}")
        names = ", ".join(title for _, title in batch.pieces)
        st.markdown(plain(names))
        if batch.must_measure:
            st.info("The rest is over: measure each piece again before the final pass.")
        with st.expander("Thickness after the rest", expanded=batch.must_measure):
            for key, title in batch.pieces:
                typed = st.text_input(title, key=f"thick-{key}", placeholder="as the caliper says")
                if typed and typed != st.session_state.get(f"kept-{key}"):
                    st.session_state[f"kept-{key}"] = typed
                    change(partial(measure, desk.lot, key, typed))


def _step(desk: Desk, step: StepView) -> None:
    due = f", due {step.due}" if step.due else ""
    label = f"{step.words}{due}" + (f", done {step.done}" if step.done else "")
    # Its own key for each state: another window may have ticked it.
    ticked = st.checkbox(label, bool(step.done), key=f"step-{step.key}-{step.done}")
    if ticked != bool(step.done):
        change(lambda: tick_step(desk.lot, step.key, date.today() if ticked else None))


def _glue(desk: Desk, name: str, typed: str) -> None:
    set_glue_up(desk.lot, name, _day(typed))


def _day(typed: str) -> date | None:
    """Return a day as typed, None where nothing was."""
    if not typed.strip():
        return None
    try:
        return date.fromisoformat(typed.strip())
    except ValueError:
        raise SettingsError(f'"{typed}" is no date', f"write it like {_LIKE}") from None


show(open_page("milling"))
