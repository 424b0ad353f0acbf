"""What the running page gives to whom."""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import urlsplit

import pytest

import ui
from tests.ui.conftest import start_page
from ui.launch import _own_address

# Python runs a module of this name before anything else: it notes every address that the page's
# process, or a process it starts, looks up or connects to.
_WATCH = """
import os, sys
def watch(event, args, log=os.environ["WATCH_LOG"]):
    if event in ("socket.connect", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"):
        where = args[1] if event in ("socket.connect", "socket.sendto") else args[0]
        with open(log, "a") as file:
            print(event, where, file=file)
sys.addaudithook(watch)
"""

pytestmark = [pytest.mark.slow]
# Only what hangs is waited for so long.
_PATIENCE_S = 240


def _get(url, **headers):
    try:
        with urllib.request.urlopen(
            urllib.request.Request(url, headers=headers), timeout=_PATIENCE_S
        ) as got:
            return got.status, got.headers, got.read()
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.headers, b""


def test_a_foreign_name_for_this_computer_is_refused(running):
    # DNS rebinding: the browser believes that it speaks to another site.
    for path in ("/", "/_stcore/health", "/picture/" + "0" * 64):
        assert _get(running.address + path)[0] in (200, 404)
        assert _get(running.address + path, Host="rebound.example")[0] == 400


def test_only_this_computer_is_listened_to(running):
    port = urlsplit(running.address).port
    own = _own_address()
    if own.startswith("127."):
        pytest.skip("this computer has no other address to try")
    with pytest.raises(OSError):
        socket.create_connection((own, port), timeout=2)


def test_an_empty_page_says_a_word_before_its_script_has_come(running):
    page = _get(f"{running.address}/flaws", Accept="text/html")[2]
    assert b"The page is on its way." in page and b"<title>bothfaces</title>" in page


def test_the_start_page_names_no_other_host(running):
    _, _, body = _get(running.address)
    hosts = re.findall(rb"""(?:src|href)=["'](?:https?:)?//([^/"']+)""", body)
    assert hosts == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="looks at processes the POSIX way")
def test_the_placing_process_ends_with_the_page(tmp_path):
    # Whoever kills the page must not leave its worker behind.
    script = (
        "import os, time\n"
        "from ui.desks import _workers\n"
        "if __name__ == '__main__':\n"
        "    print(_workers().submit(os.getpid).result(), flush=True)\n"
        "    time.sleep(600)\n"
    )
    file = tmp_path / "hold.py"
    file.write_text(script)
    root = Path(ui.__file__).parents[1]
    with subprocess.Popen(
        [sys.executable, str(file)],
        env=os.environ | {"PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        text=True,
    ) as page:
        assert page.stdout is not None
        worker = int(page.stdout.readline())
        os.kill(worker, 0)
        page.kill()
    end = time.monotonic() + _PATIENCE_S
    while time.monotonic() < end:
        try:
            os.kill(worker, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    raise AssertionError(f"process {worker} outlives the page")


def test_files_of_the_folder_are_not_served(running, lot):
    for path in (f"/picture/{lot.file.name}", f"/picture/..%2F{lot.file.name}"):
        assert _get(running.address + path)[0] in (400, 404)


def _without_following(url, data=None, **headers):
    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *_):
            return None

    try:
        with urllib.request.build_opener(Stay).open(
            urllib.request.Request(url, data, headers), timeout=_PATIENCE_S
        ) as got:
            return got.status, got.headers
    except urllib.error.HTTPError as refusal:
        return refusal.code, refusal.headers


def _open_socket(address, cookie=""):
    """Return the status of the answer to a page's socket that wants to be opened."""
    where = urlsplit(address)
    asked = (
        "GET /_stcore/stream HTTP/1.1\r\n"
        f"Host: {where.netloc}\r\nOrigin: {address}\r\nCookie: {cookie}\r\n"
        "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: MDEyMzQ1Njc4OTAxMjM0NQ==\r\n\r\n"
    )
    with socket.create_connection((where.hostname, where.port), timeout=_PATIENCE_S) as line:
        line.sendall(asked.encode())
        return int(line.recv(100).split()[1])


def test_in_the_network_nothing_is_given_before_pairing_and_nothing_asked_outside(
    tmp_path, monkeypatch
):
    (tmp_path / "sitecustomize.py").write_text(_WATCH)
    log = tmp_path / "asked.txt"
    monkeypatch.setenv("WATCH_LOG", str(log))
    page = start_page(tmp_path, "--lan", "--port", "8760", python_path=str(tmp_path))
    try:
        if urlsplit(page.address).hostname == "127.0.0.1":
            pytest.skip("this computer is in no network")
        everything = ("/", "/_stcore/health", "/media/a.png", "/picture/" + "0" * 64)
        for path in (*everything, "/board-maps/bench", "/_stcore/upload_file/a/b"):
            assert _without_following(page.address + path)[0] == 403
        assert _open_socket(page.address) == 403
        code = page.hear(r"pairing code \d{4} \d{4}")[-9:].replace(" ", "")
        status, headers = _without_following(page.address + "/pair", f"code={code}".encode())
        assert status == 303
        cookie = headers["set-cookie"].split(";")[0]
        assert _without_following(page.address + "/", Cookie=cookie)[0] == 200
        assert _open_socket(page.address, cookie) == 101
    finally:
        page.stop()
    outside = [
        line
        for line in log.read_text().splitlines()
        if not re.search(r"127\.0\.0\.1|localhost|::1|192\.0\.2\.1'|None|0\.0\.0\.0|\.sock|/", line)
    ]
    # 192.0.2.1 is an address set apart for documents: a datagram socket is pointed at it to learn
    # the way out, and nothing is sent.
    assert outside == []
    assert "192.0.2.1" in log.read_text()
