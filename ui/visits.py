"""What a window was given, kept for whoever loads it anew: a phone does that by itself.

Streamlit forgets a visit with its window. The browser is known again by a name of no meaning, a
cookie that ends with it.
"""

from __future__ import annotations

import re
import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import streamlit as st
from starlette.datastructures import MutableHeaders
from starlette.requests import cookie_parser

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send
    from streamlit.runtime.uploaded_file_manager import UploadedFile

_COOKIE, _NAME = "bothfaces_visit", re.compile(r"[A-Za-z0-9_-]{22}")
_GIVEN = "given"
# Photos that nothing was made of yet stay in memory: those of the few devices of a shop, and no
# more than some sixty boards' of both faces.
_MOST_BROWSERS = 6
_MOST_PHOTO_BYTES = 600_000_000


@dataclass(slots=True)
class Given:
    """What stands in the fields of a visit, by lot and field, shown or not.

    Attributes
    ----------
    typed, ticked, meant
        Texts, boxes, choices.
    chosen
        Photos that a field lost when another page was shown, and all that it gave last.
    ever
        All photos that a field ever gave, by their upload's id.
    let_go
        Photos that were chosen in a window before and let go for lack of room, by field: their
        uploads' ids.
    typed_boards
        How many boards were typed in, by lot: the next one's fields are new ones.
    """

    typed: dict[str, str] = field(default_factory=dict)
    ticked: dict[str, bool] = field(default_factory=dict)
    meant: dict[str, str] = field(default_factory=dict)
    chosen: dict[str, tuple[list[UploadedFile], list[UploadedFile]]] = field(default_factory=dict)
    ever: dict[str, set[str]] = field(default_factory=dict)
    let_go: dict[str, set[str]] = field(default_factory=dict)
    typed_boards: dict[str, int] = field(default_factory=dict)

    def copy(self) -> Given:
        """Return the same, to be changed by another window."""
        return Given(
            dict(self.typed),
            dict(self.ticked),
            dict(self.meant),
            dict(self.chosen),
            # Its own window may be drawing at this moment.
            {name: set(ids) for name, ids in list(self.ever.items())},
            dict(self.let_go),
            dict(self.typed_boards),
        )

    def photo_bytes(self) -> int:
        """Return how much memory the chosen photos take, each counted once."""
        fields = list(self.chosen.values())
        photos = {photo.file_id: photo for lost, last in fields for photo in (*lost, *last)}
        return sum(photo.size for photo in photos.values())


# What was changed last in each browser; each window runs in a thread of its own.
_last: OrderedDict[str, Given] = OrderedDict()
_turn = threading.Lock()


def given() -> Given:
    """Return what this visit was given; it begins with what its browser was given last."""
    if _GIVEN not in st.session_state:
        before = _last.get(_browser())
        st.session_state[_GIVEN] = Given() if before is None else before.copy()
    mine: Given = st.session_state[_GIVEN]
    return mine


def keep_given() -> None:
    """Keep this visit's fields for its browser; called where the user changes one.

    Of two windows the one that was changed last is the one that a window loaded anew goes on with.
    """
    browser, mine = _browser(), given()
    if not browser:
        return
    with _turn:
        _last[browser] = mine
        _last.move_to_end(browser)
        while len(_last) > _MOST_BROWSERS:
            _last.popitem(last=False)
        _let_photos_go()


def keep_chosen(place: str, lost: list[UploadedFile], last: list[UploadedFile]) -> None:
    """Keep the photos of a field: those that it lost with another page, and all that it gives."""
    mine = given()
    mine.chosen[place] = (lost, last)
    mine.ever.setdefault(place, set()).update(photo.file_id for photo in last)
    if last:
        mine.let_go.pop(place, None)
    with _turn:
        _let_photos_go()


def _let_photos_go() -> None:
    """Keep no more photos than there is room for, those chosen last first.

    An open window keeps its own: here ends only what a window loaded anew would go on with.
    """
    room = _MOST_PHOTO_BYTES
    for browser, kept in reversed(list(_last.items())):
        taken = kept.photo_bytes()
        if taken <= room:
            room -= taken
        else:
            gone = {
                place: {photo.file_id for photo in (*lost, *last)}
                for place, (lost, last) in kept.chosen.items()
                if lost or last
            }
            let_go = {**kept.let_go, **gone}
            _last[browser] = replace(kept.copy(), chosen={}, let_go=let_go)


def _browser() -> str:
    """Return what this visit's browser is called; "" for one that keeps no cookies."""
    name = st.context.cookies.get(_COOKIE)
    return name if isinstance(name, str) and _NAME.fullmatch(name) else ""


class NameBrowsers:
    """ASGI middleware that gives a browser its name along with the first page; behind the gate."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, with a name for a browser that asks for a page and has none."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self._app(scope, receive, send)
            return
        asked = dict(scope["headers"])
        is_named = _COOKIE in cookie_parser(asked.get(b"cookie", b"").decode("latin-1"))
        if is_named or b"text/html" not in asked.get(b"accept", b""):
            await self._app(scope, receive, send)
            return

        async def name(message: Message) -> None:
            if message["type"] == "http.response.start":
                # No time to live: it ends with the browser. Lax, as a phone that opens the
                # address from its camera would else be named anew.
                MutableHeaders(scope=message).append(
                    "Set-Cookie",
                    f"{_COOKIE}={secrets.token_urlsafe(16)}; Path=/; HttpOnly; SameSite=Lax",
                )
            await send(message)

        await self._app(scope, receive, name)
