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

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("browser")]


def _get(url, **headers):
    try:
        with urllib.request.urlopen(
            urllib.request.Request(url, headers=headers), timeout=20
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
    own = socket.gethostbyname(socket.gethostname())
    if own.startswith("127."):
        pytest.skip("this computer has no other address to try")
    with pytest.raises(OSError):
        socket.create_connection((own, port), timeout=2)


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
        "    time.sleep(60)\n"
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
    for _ in range(100):
        try:
            os.kill(worker, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    raise AssertionError(f"process {worker} outlives the page")


def test_files_of_the_folder_are_not_served(running, lot):
    for path in (f"/picture/{lot.file.name}", f"/picture/..%2F{lot.file.name}"):
        assert _get(running.address + path)[0] in (400, 404)
