"""Give out the files that the page itself is made of, quickly: a first page asks for sixty of them.

Streamlit's own way takes each through its session and packing layers and a thread of its pool. Here
a file goes out in one piece, and what a first page asks for late is named in its head, so that the
browser fetches it along with the rest.
"""

from __future__ import annotations

import mimetypes
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st
from starlette.datastructures import MutableHeaders
from starlette.responses import Response

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

_FOLDER = Path(st.__file__).parent / "static"
_ADDRESS = "/static/"
# Their names hold a hash of what is in them.
_FOREVER = "public, max-age=31536000, immutable"
# Parts of Streamlit's script that every page of ours needs, but that its first script does not
# name; each is looked for, and one that another release does not have is left out.
_NEEDED_SOON = ("BidiComponent", "serialization", "recordbatch", "_arrayReduce", "Button")


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
            await self._app(scope, receive, self._naming(send))
            return
        kind = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
        headers = {"Cache-Control": _FOREVER, "X-Content-Type-Options": "nosniff"}
        await Response(file.read_bytes(), 200, headers, kind)(scope, receive, send)

    def _naming(self, send: Send) -> Send:
        async def passing(message: Message) -> None:
            if message["type"] == "http.response.start" and self._links:
                headers = MutableHeaders(scope=message)
                if headers.get("content-type", "").startswith("text/html"):
                    headers.append("Link", self._links)
            await send(message)

        return passing
