"""The gate before the page in a network: who gets in, and what the others get."""

import asyncio
import io
import sys

import cv2
import numpy as np
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute

from scanner.app.address_code import qr_modules, terminal_code
from ui.gate import Gate
from ui.launch import how_to_pair
from ui.pairing import WRONG_IN_ALL, WRONG_PER_ADDRESS, Pairing

_PHONE = "192.168.7.20"


class _Clock:
    now = 0.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return _Clock()


@pytest.fixture
def pairing(tmp_path, clock):
    return Pairing(tmp_path / "devices.json", clock)


@pytest.fixture
def app(pairing):
    async def page(request):
        return PlainTextResponse("the page")

    async def socket(websocket):
        await websocket.accept()

    return Starlette(
        routes=[Route("/{path:path}", page), WebSocketRoute("/_stcore/stream", socket)],
        middleware=[Middleware(Gate, pairing=pairing)],
    )


def _ask(app, path, *, kind="http", method="GET", body=b"", address=_PHONE, cookie="", accept=""):
    """Return what the app sent: the first message's status or type, its headers, the body."""
    headers = [(b"host", b"shop"), (b"cookie", cookie.encode()), (b"accept", accept.encode())]
    path, _, query = path.partition("?")
    scope = {
        "type": kind, "method": method, "path": path, "raw_path": path.encode(), "scheme": "http",
        "query_string": query.encode(), "headers": headers, "client": (address, 4000),
        "server": ("shop", 8501), "http_version": "1.1", "root_path": "", "subprotocols": [],
    }  # fmt: skip
    sent = []
    coming = iter(
        [{"type": "websocket.connect"}]
        if kind == "websocket"
        else [{"type": "http.request", "body": body, "more_body": False}]
    )

    async def receive():
        return next(coming)

    async def send(message):
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    head = {name.decode(): value.decode() for name, value in sent[0].get("headers", ())}
    text = b"".join(message.get("body", b"") for message in sent).decode()
    return sent[0].get("status", sent[0]["type"]), head, text


def _pair(app, code, address=_PHONE):
    body = f"code={code}".encode()
    return _ask(app, "/pair", method="POST", body=body, address=address)


def _wrong(pairing):
    return f"{(int(pairing.code) + 1) % 10**8:08d}"


@pytest.mark.parametrize(
    "path", ["/", "/_stcore/health", "/media/a.png", "/picture/a.jpg", "/may-lie/a", "/x.js"]
)
def test_a_device_that_has_not_paired_gets_nothing(app, path):
    status, _, text = _ask(app, path)
    assert status == 403
    assert "the page" not in text


def test_its_socket_is_closed_before_it_opens(app):
    status, _, _ = _ask(app, "/_stcore/stream", kind="websocket")
    assert status == "websocket.close"


def test_a_person_is_led_to_the_form(app):
    status, head, _ = _ask(app, "/?lot=ash", accept="text/html")
    assert (status, head["location"]) == (303, "/pair")
    status, head, text = _ask(app, "/pair?code=1234%22%3E%3Cscript")
    assert status == 200 and 'name="code"' in text and "<script" not in text
    assert "default-src 'none'" in head["content-security-policy"]


def test_a_device_is_asked_once_even_after_a_new_start(app, pairing, tmp_path):
    status, head, _ = _pair(app, f"{pairing.code[:4]}+{pairing.code[4:]}")
    assert (status, head["location"]) == (303, "/")
    assert "HttpOnly" in head["set-cookie"] and "SameSite=lax" in head["set-cookie"]
    cookie = head["set-cookie"].split(";")[0]
    assert _ask(app, "/", cookie=cookie)[2] == "the page"
    assert _ask(app, "/_stcore/stream", kind="websocket", cookie=cookie)[0] == "websocket.accept"
    token = cookie.split("=", 1)[1]
    anew = Pairing(tmp_path / "devices.json")
    assert anew.knows(token) and anew.code != pairing.code
    assert token not in (tmp_path / "devices.json").read_text()


def test_a_made_up_token_opens_nothing(app):
    assert _ask(app, "/", cookie="bothfaces_device=" + "A" * 43)[0] == 403


def test_guessing_is_stopped_and_even_the_right_code_waits(app, pairing, clock):
    for _ in range(WRONG_PER_ADDRESS):
        assert _pair(app, _wrong(pairing))[0] == 403
    assert _pair(app, pairing.code)[0] == 429
    assert _pair(app, pairing.code, address="192.168.7.21")[0] == 303
    clock.now = 601.0
    assert _pair(app, pairing.code)[0] == 303


def test_many_addresses_together_are_stopped_as_well(app, pairing):
    for number in range(WRONG_IN_ALL):
        _pair(app, _wrong(pairing), address=f"192.168.7.{number}")
    assert _pair(app, pairing.code, address="192.168.7.99")[0] == 429


def test_a_huge_form_is_not_read(app, pairing):
    assert _pair(app, "0" * 5000)[0] == 403


def test_this_computer_needs_no_code(app):
    assert _ask(app, "/", address="127.0.0.1")[2] == "the page"
    assert _ask(app, "/", address="::1")[2] == "the page"


def test_a_damaged_list_of_devices_only_means_pairing_anew(tmp_path):
    (tmp_path / "devices.json").write_text("no list")
    assert not Pairing(tmp_path / "devices.json").knows("A" * 43)


def test_a_reader_reads_the_address_off_the_terminal():
    address = "http://192.168.7.2:8501/pair?code=12345678"
    rows = terminal_code(address, in_colour=False).splitlines()
    # Two modules a character: the upper and the lower half, ground where it is drawn.
    halves = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    drawn = np.array([[halves[mark][at] for mark in row] for row in rows for at in (0, 1)])
    assert (drawn[: len(qr_modules(address))] == 0).tolist() == [
        list(row) for row in qr_modules(address)
    ]
    picture = np.kron(drawn, np.ones((6, 6))).astype(np.uint8)
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == address


@pytest.mark.parametrize(("encoding", "is_drawn"), [("utf-8", True), ("cp1252", False)])
def test_a_terminal_without_blocks_still_says_how_to_pair(encoding, is_drawn, monkeypatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding))
    print(how_to_pair("http://192.168.7.2:8501", "12345678"), flush=True)
    said = raw.getvalue().decode(encoding)
    assert "the pairing code 1234 5678" in said
    assert ("█" in said, "scan this picture" in said) == (is_drawn, is_drawn)
