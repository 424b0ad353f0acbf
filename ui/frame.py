"""What every page of a lot has: the lot it is about, its road, and the work going on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

from scanner.app.placing.layout_state import layout_view
from scanner.app.showing.page_state import lot_view
from scanner.app.showing.road_state import next_step, road
from scanner.app.take_outbox import take_outbox
from scanner.errors import ScannerError
from ui.desks import desk_of
from ui.place import known_lots, started_with
from ui.road.component import draw_road
from ui.sample import fill_new_lot
from ui.side_pages import beside, side_page
from ui.texts import say_problem
from ui.watching import watch
from ui.work import show_work

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from scanner.app.lot.open_lot import Answer
    from scanner.app.showing.page_state import LotView
    from ui.desks import Desk

_VIEWS = Path(__file__).parent / "views"
_START = _VIEWS / "start.py"
# What the browser's parts are known by; each may bring taps.
_ROAD, BOARD, CUTS, LAYOUT, FIT = "road", "board-view", "cut-list", "layout-tool", "fit-view"
# Streamlit drops a page's address on the way to another; the visit remembers its lot.
_LOT = "lot"
_CHOOSING, _DRAWN, _LOST = "choosing", "drawn-revision", "lost-lot"
# A phone in the shop and a page at the desk: soon enough for whoever walks from one to the other.
_OTHERS_S = 4.0
_FOLLOWED, _GOING, _BEEN = "road-followed", "going-to", "been-at-a-lot"
# On the way to where lots are chosen, a run of the page that is left may come in between.
_LEAVING, _THERE = "leaving", "there"


@dataclass(frozen=True, slots=True)
class OpenPage:
    """A page of an open lot."""

    desk: Desk
    lot: LotView

    def is_behind(self) -> bool:
        """Whether a layout came, or grew old, after the road of this page was drawn."""
        return self.lot.layout != layout_view(self.desk.lot)


def is_choosing() -> bool:
    """Whether the start is to offer lots: this visit comes from one, by the button or by Back.

    Whoever goes back and is sent on again each time never gets away.
    """
    comes_back = _BEEN in st.session_state and _GOING not in st.session_state
    if comes_back or _CHOOSING in st.session_state:
        st.session_state[_CHOOSING] = _THERE
    return _CHOOSING in st.session_state


def wanted_lot() -> str | None:
    """Return the lot this visit is about: named in the address, else the one started with."""
    if _CHOOSING in st.session_state:
        return None
    lots = known_lots()
    for named in (st.query_params.get("lot"), st.session_state.get(_LOT)):
        if named in lots:
            return str(named)
        if named:
            # No other lot stands in for it unasked.
            st.session_state[_LOST] = named
            return None
    first = started_with()
    return first.stem if first is not None else None


def lost_lot() -> str | None:
    """Return the name of the lot that was asked for and is not there; told once."""
    name = st.session_state.pop(_LOST, None)
    return None if name is None else str(name)


def open_wanted() -> Desk:
    """Return the desk of the wanted lot; without one, go to where lots are chosen."""
    name = wanted_lot()
    if name is None:
        st.switch_page(_START)
    st.session_state[_LOT] = name
    st.query_params["lot"] = name
    desk = desk_of(known_lots()[name])
    fill_new_lot(desk)
    return desk


def open_page(here: str) -> OpenPage:
    """Open the wanted lot and draw what stands above a step or side page of that name."""
    going = st.session_state.get(_GOING)
    if going is not None and going[0] != here:
        # A run that the browser asked for meanwhile came in between.
        st.switch_page(_view(going[0]), query_params=going[1])
    st.session_state.pop(_GOING, None)
    if st.session_state.get(_CHOOSING) == _THERE:
        # From where lots are chosen, by the browser's Back.
        del st.session_state[_CHOOSING]
    try:
        desk = open_wanted()
        st.session_state[_BEEN] = True
        # The callback misses an outbox that is the first thing a new visit sees; ids make twice
        # safe.
        for key in (_ROAD, BOARD, CUTS, LAYOUT, FIT):
            take(desk, state_of(key, "outbox"))
        view = lot_view(desk.lot)
        _draw_head(desk, view, here)
    except ScannerError as problem:
        say_problem(problem)
        if st.button("Other lots"):
            leave_lot()
        st.stop()
    st.session_state[_DRAWN] = view.revision
    return OpenPage(desk, view)


def watch_other_windows() -> None:
    """Draw the page anew when another window has changed the lot; at the foot, as it takes room."""
    drawn = st.session_state.pop(_DRAWN, None)
    name = st.session_state.get(_LOT)
    if drawn is None or name not in known_lots():
        return
    lot = desk_of(known_lots()[name]).lot

    def look(by_timer: bool) -> None:
        # A file that somebody took away is said to be gone.
        if by_timer and (name not in known_lots() or lot.revision != drawn):
            st.rerun()

    watch(look, _OTHERS_S)


def offer_side_pages(step: str) -> None:
    """Show, at the foot of a step, the ways to the pages beside it that the lot has a use for."""
    sides = beside(step)
    if not sides or st.session_state.get(_LOT) not in known_lots():
        return
    lot = desk_of(known_lots()[st.session_state[_LOT]]).lot
    holds = {
        "nothing": True,
        "a board": bool(lot.standings()),
        "a layout": lot.layout_revision() is not None,
    }
    for side in (one for one in sides if holds[one.needs]):
        with st.container(horizontal=True, vertical_alignment="center", key=f"side-{side.name}"):
            if st.button(side.title, key=f"to-{side.name}"):
                go_to_step(side.name)
            st.write(side.says)


def look_over_first(lot: LotView, boards: Collection[str]) -> bool:
    """Offer the first of these boards that nobody looked over; return whether there is one.

    Wood that nobody looked at is not what to cut next: the page's main button leads there.
    """
    first = lot.first_to_do(boards)
    if first is None:
        return False
    if st.button(f"Look over {first} first", type="primary", key="look-over-first"):
        go_to_step("flaws", board=first)
    return True


def _draw_head(desk: Desk, view: LotView, page: str) -> None:
    side = side_page(page)
    here = page if side is None else side.beside
    with st.container(horizontal=True, vertical_alignment="center"):
        st.title(view.name, anchor=False)
        if st.button("Other lots", type="tertiary"):
            leave_lot()
        help_button()
    steps = road(desk.lot, view)
    drawn = draw_road(
        view.name,
        here,
        side is not None,
        steps,
        answers_to(desk, _ROAD),
        key=_ROAD,
        on_outbox=lambda: take(desk, state_of(_ROAD, "outbox")),
    )
    wanted = drawn.get("page") or {}
    name = next((step.name for step in steps if step.name == wanted.get("name")), None)
    # The wish stays in the browser's state: it is followed once, and not when a restarted server
    # is told of it again.
    if _FOLLOWED not in st.session_state:
        st.session_state[_FOLLOWED] = wanted.get("n")
    if name is not None and wanted.get("n") != st.session_state[_FOLLOWED]:
        st.session_state[_FOLLOWED] = wanted.get("n")
        if name != page:
            go_to_step(name)
    show_work(desk)
    if side is not None:
        st.header(side.title, anchor=False)
        back = next(step.title for step in steps if step.name == here)
        if st.button(f"Back to {back}", type="tertiary", icon=":material/arrow_back:"):
            go_to_step(side.beside)


def go_to_lot(name: str) -> None:
    """Show a lot, at the step that waits for the user."""
    st.session_state.pop(_CHOOSING, None)
    st.session_state[_LOT] = name
    lot = desk_of(known_lots()[name]).lot
    go_to_step(next_step(lot, lot_view(lot)))


def go_to_step(name: str, **more: str) -> None:
    """Show a step or side page of this visit's lot."""
    address = {"lot": str(st.session_state[_LOT]), **more}
    # Remembered until it is reached: a timer or a tap may bring another run of this page first.
    st.session_state[_GOING] = (name, address)
    st.switch_page(_view(name), query_params=address)


def _view(name: str) -> Path:
    return _VIEWS / f"{name}.py"


def leave_lot() -> None:
    """Show where lots are chosen."""
    st.session_state.pop(_GOING, None)
    st.session_state[_CHOOSING] = _LEAVING
    st.switch_page(_START)


def help_button() -> None:
    """Offer the guides."""
    if st.button("Help", type="tertiary", key="to-help"):
        st.session_state.pop(_GOING, None)
        name = wanted_lot()
        st.switch_page(_view("help"), query_params={} if name is None else {"lot": name})


def state_of(key: str, name: str) -> dict[str, Any]:
    """Return what a component holds under a name; it comes from the browser."""
    component = st.session_state.get(key) or {}
    value = component.get(name) if hasattr(component, "get") else None
    return value if isinstance(value, dict) else {}


def take(desk: Desk, outbox: dict[str, Any]) -> None:
    """Carry out what a window sent, each thing once."""
    take_outbox(desk.lot, outbox, desk.answers)
    desk.remember()


def change(make: Callable[[], object]) -> None:
    """Make one change and draw the page anew; where it is refused, say why and stay."""
    try:
        make()
    except ScannerError as problem:
        say_problem(problem)
    else:
        st.rerun()


def answers_to(desk: Desk, key: str) -> list[Answer]:
    """Return the answers to what a window still waits for; with them it lets its taps go."""
    sent = state_of(key, "outbox").get("ops") or []
    names = [str(op.get("id")) for op in sent if isinstance(op, dict)]
    return [desk.answers[name] for name in names if name in desk.answers]


def take_late(desk: Desk, key: str, drawn: object = None) -> None:
    """Carry out what a component holds; run again if that brought answers after it was drawn.

    The first outbox of a visit calls nothing: it counts as the value to begin with.
    """
    outbox = state_of(key, "outbox") if drawn is None else drawn
    if not isinstance(outbox, dict):
        return
    answered = len(desk.answers)
    take(desk, outbox)
    if drawn is not None and len(desk.answers) > answered:
        st.rerun()
