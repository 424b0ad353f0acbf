"""The gate before the page in a network: whoever has not paired gets nothing but a form.

Middleware, so that it stands before everything the server gives: pages, pictures, uploads, files
to take along and the page's socket.
"""

from __future__ import annotations

import html
import ipaddress
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from ui.look import plain_page_style

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

    from ui.pairing import Pairing

PAIR = "/pair"
_COOKIE = "bothfaces_device"
_HALF_A_YEAR_S = 180 * 24 * 3600
# A form with eight figures.
_MOST_BYTES = 1000
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'"
)
_STRICT = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": _POLICY,
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


class Gate:
    """ASGI middleware that lets in this computer and the devices that have paired."""

    def __init__(self, app: ASGIApp, pairing: Pairing) -> None:
        self._app = app
        self._pairing = pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may pass, answer the rest."""
        if scope["type"] == "lifespan" or self._may_pass(scope):
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            # Closed before it was accepted: the server answers 403.
            await send({"type": "websocket.close", "code": 1008})
        else:
            answer = await self._answer(Request(scope, receive))
            await answer(scope, receive, send)

    def _may_pass(self, scope: Scope) -> bool:
        return is_this_computer(scope) or self._pairing.knows(_token(scope))

    async def _answer(self, request: Request) -> Response:
        address = _address(request.scope)
        if request.url.path != PAIR:
            if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
                return RedirectResponse(PAIR, status_code=303, headers=_STRICT)
            return PlainTextResponse("This device has not paired.", 403, headers=_STRICT)
        if request.method == "GET":
            return _form(request.query_params.get("code", ""))
        if request.method != "POST":
            return PlainTextResponse("The form is sent by POST.", 405, headers=_STRICT)
        if self._pairing.must_wait(address):
            return _form("", "Too many wrong codes. Wait ten minutes, then try again.", 429)
        body = await _short_body(request)
        given = parse_qs(body).get("code", [""])[0]
        token = self._pairing.pair(given, address)
        if token is None:
            return _form("", "That is not the code. It stands where the page was started.", 403)
        answer = RedirectResponse("/", status_code=303, headers=_STRICT)
        # Lax: with Strict, a phone that opens the address from its camera would not send it.
        answer.set_cookie(_COOKIE, token, max_age=_HALF_A_YEAR_S, httponly=True, samesite="lax")
        return answer


def _address(scope: Scope) -> str:
    client = scope.get("client")
    return str(client[0]) if client else ""


def is_this_computer(scope: Scope) -> bool:
    """Whether a request comes from the computer that the page runs on."""
    try:
        return ipaddress.ip_address(_address(scope)).is_loopback
    except ValueError:
        return False


def _token(scope: Scope) -> str:
    for name, value in scope.get("headers", ()):
        if name == b"cookie":
            try:
                crumbs = SimpleCookie(value.decode("latin-1"))
            except CookieError:
                continue
            if _COOKIE in crumbs:
                return crumbs[_COOKIE].value
    return ""


async def _short_body(request: Request) -> str:
    body = b""
    async for piece in request.stream():
        body += piece
        if len(body) > _MOST_BYTES:
            return ""
    return body.decode("utf-8", "replace")


def _form(code: str, problem: str = "", status: int = 200) -> Response:
    said = f'<p role="alert">{html.escape(problem)}</p>' if problem else ""
    return HTMLResponse(
        f"""<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Pair this device</title><style>{plain_page_style()}</style></head><body><main>
<h1>Pair this device</h1>
<p>Type the eight figures that stand where the page was started. Each device is asked once.</p>
{said}<form method="post" action="{PAIR}"><label for="code">Pairing code</label>
<input id="code" name="code" inputmode="numeric" autocomplete="off" maxlength="12" required
value="{html.escape(code[:12], quote=True)}"><button>Pair</button></form></main></body></html>""",
        status,
        headers=_STRICT,
    )
