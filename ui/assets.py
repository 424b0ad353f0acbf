"""Give out the files that the page itself is made of, quickly: a first page asks for sixty of them.

Streamlit's own way takes each through its session and packing layers and a thread of its pool. Here
a file goes out in one piece, packed once where it goes over a network (a first page of 3.3 MB then
takes 1.5 MB, most of it letters), and what a first page asks for late is named in its head, so that
the browser fetches it along with the rest. Until all is there, the page says so: over a slow
network it would else stay white.
"""

from __future__ import annotations

import gzip
import mimetypes
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st
from starlette.datastructures import MutableHeaders
from starlette.responses import Response

from ui.gate import is_this_computer

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

_FOLDER = Path(st.__file__).parent / "static"
_ADDRESS = "/static/"
# Their names hold a hash of what is in them.
_FOREVER = "public, max-age=31536000, immutable"
# What grows much smaller when packed; pictures and fonts are packed already.
_WORDY = ("text/", "application/javascript", "application/json", "image/svg")
# Parts of Streamlit's script that every page of ours needs, but that its first script does not
# name; each is looked for, and one that another release does not have is left out.
_NEEDED_SOON = ("BidiComponent", "serialization", "recordbatch", "_arrayReduce", "Button")

# What Streamlit fills once its script runs; a title of its own comes with the first drawing.
_EMPTY, _TITLE = b'<div id="root"></div>', b"<title>Streamlit</title>"
_WAITING = (
    b'<div id="root"><p style="margin: 2rem; font: 17px sans-serif">The page is on its way. '
    b"The first time it takes longest.</p></div>"
)
# The way from the start to a lot comes as two entries, first the lot's name and then its step:
# Back would lead through a page that nobody saw.
_ONE_ENTRY = b"""<script>
const pushEntry = history.pushState;
history.pushState = (state, title, address) => {
  const isName = location.pathname === "/" && new URL(address, location).pathname === "/";
  (isName ? history.replaceState : pushEntry).call(history, state, title, address);
};
</script>"""


class Assets:
    """ASGI middleware; it stands behind the gate."""

    def __init__(self, app: ASGIApp, folder: Path = _FOLDER) -> None:
        self._app = app
        self._files = {
            f"{_ADDRESS}{path.relative_to(folder / 'static').as_posix()}": path
            for path in (folder / "static").rglob("*")
            if path.is_file()
        }
        scripts = [name for name in self._files if name.endswith(".js")]
        self._links = ", ".join(
            f"<{name}>; rel=modulepreload"
            for wanted in _NEEDED_SOON
            for name in scripts
            if name.rpartition("/")[2].split(".")[0] == wanted
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with a file, or pass on."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self._app(scope, receive, send)
            return
        # Looked up by its whole address, never joined to a path.
        file = self._files.get(scope["path"])
        if file is None or any(name == b"range" for name, _ in scope["headers"]):
            await self._pass_on(scope, receive, send)
            return
        kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
        headers = {"Cache-Control": _FOREVER, "X-Content-Type-Options": "nosniff"}
        if kind.startswith(_WORDY) and _wants_packed(scope):
            headers |= {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
            await Response(_packed(file), 200, headers, kind)(scope, receive, send)
            return
        await Response(file.read_bytes(), 200, headers, kind)(scope, receive, send)

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = dict(scope["headers"])
        if b"text/html" not in asked.get(b"accept", b""):
            await self._app(scope, receive, self._naming(send))
            return
        # A packed page could not be written into.
        plain = [(name, value) for name, value in scope["headers"] if name != b"accept-encoding"]
        passing = self._naming(send)
        held: list[Message] = []

        async def hold(message: Message) -> None:
            is_start = message["type"] == "http.response.start"
            # A lot to take along is far too large to be held.
            if not held and not (is_start and _is_html(message)):
                await passing(message)
                return
            held.append(message)
            if not is_start and not message.get("more_body"):
                for one in _said_to_wait(held):
                    await passing(one)

        await self._app({**scope, "headers": plain}, receive, hold)

    def _naming(self, send: Send) -> Send:
        async def passing(message: Message) -> None:
            is_start = message["type"] == "http.response.start"
            if self._links and is_start and _is_html(message):
                MutableHeaders(scope=message).append("Link", self._links)
            await send(message)

        return passing


def _wants_packed(scope: Scope) -> bool:
    """Whether packing saves time: not for a browser on this computer."""
    accepted = dict(scope["headers"]).get(b"accept-encoding", b"")
    return b"gzip" in accepted and not is_this_computer(scope)


@lru_cache(maxsize=200)
def _packed(file: Path) -> bytes:
    return gzip.compress(file.read_bytes(), 6, mtime=0)


def _is_html(start: Message) -> bool:
    return MutableHeaders(scope=start).get("content-type", "").startswith("text/html")


def _said_to_wait(held: list[Message]) -> list[Message]:
    """Return an answer with our words and script where its page is empty; any other as it is."""
    body = b"".join(message.get("body", b"") for message in held[1:])
    if _EMPTY not in body:
        return held
    body = body.replace(_EMPTY, _WAITING).replace(_TITLE, b"<title>bothfaces</title>" + _ONE_ENTRY)
    MutableHeaders(scope=held[0])["Content-Length"] = str(len(body))
    return [held[0], {"type": "http.response.body", "body": body}]
