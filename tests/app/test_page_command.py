"""The command that starts the page, run as a program."""

import os
import re
import signal
import socket
import subprocess
import sys

import pytest

pytestmark = pytest.mark.slow


@pytest.mark.skipif(os.name != "posix", reason="elsewhere the page is a child of the command")
def test_whoever_stops_the_command_stops_the_page(tmp_path):
    command = [sys.executable, "-m", "scanner", "page", "--lot", str(tmp_path / "ash.lot")]
    with subprocess.Popen([*command, "--port", "8731"], stdout=subprocess.PIPE, text=True) as page:
        try:
            said = page.stdout.readline()
            port = int(re.search(r"127\.0\.0\.1:(\d+)", said).group(1))
            socket.create_connection(("127.0.0.1", port), timeout=5).close()
        finally:
            page.send_signal(signal.SIGTERM)
        assert page.wait(timeout=60) == -signal.SIGTERM
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=5)


def test_a_full_row_of_ports_is_the_user_s_to_mend():
    from ui import launch

    with pytest.MonkeyPatch.context() as patch, socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        patch.setattr(launch, "_PORTS_TRIED", 1)
        with pytest.raises(SystemExit) as ending:
            launch.free_port(held.getsockname()[1], "127.0.0.1")
    assert ending.value.code == 2
