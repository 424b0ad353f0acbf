"""Start the page: `python -m ui.launch [--lot FILE] [--port N] [--lan]`."""

from __future__ import annotations

import argparse
import contextlib
import os
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from scanner.app.address_code import terminal_code
from ui.asking import asking_route
from ui.assets import Assets
from ui.browser_part import browser_part_route
from ui.downloads import download_routes
from ui.gate import PAIR, Gate
from ui.limits import LOT_MB
from ui.look import theme
from ui.pairing import Pairing
from ui.pictures import picture_route
from ui.place import HOME_VARIABLE, LOT_VARIABLE
from ui.visits import NameBrowsers
from ui.warm import begin_to_warm

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Sequence

_MAIN = Path(__file__).with_name("main.py")
_HERE = "127.0.0.1"
_EVERYWHERE = "0.0.0.0"
_FIRST_PORT = 8501
_PORTS_TRIED = 100
# Beside the lots: who may open them pairs once for all of them.
_DEVICES = ".bothfaces-devices.json"


def launch(lot: Path | None, port: int | None, lan: bool) -> None:
    """Serve the page until it is stopped.

    Parameters
    ----------
    lot
        The lot file to open; None lets the user choose one in the current folder.
    port
        The port to begin with; the next free one is taken.
    lan
        Let other devices of the network in, each after it has paired. Without it only this
        computer reaches the page.
    """
    os.environ[HOME_VARIABLE] = str(Path.cwd())
    if lot is not None:
        os.environ[LOT_VARIABLE] = str(lot.resolve())
    name = _own_address() if lan else _HERE
    free = free_port(port or _FIRST_PORT, _EVERYWHERE if lan else _HERE)
    hosts = ["localhost", _HERE, *([name] if lan else [])]

    # It also guards our own routes and all files, not only the page's socket.
    middleware = [Middleware(TrustedHostMiddleware, allowed_hosts=hosts)]
    pairing = Pairing(Path.cwd() / _DEVICES) if lan else None
    if pairing is not None:
        middleware.append(Middleware(Gate, pairing=pairing))
    middleware += [Middleware(NameBrowsers), Middleware(Assets)]

    @contextlib.asynccontextmanager
    async def tell_address(app: st.App) -> AsyncIterator[None]:
        begin_to_warm()
        print(f"The page is open at http://{name}:{free} (stop it with Ctrl+C)", flush=True)
        if pairing is not None:
            print(how_to_pair(f"http://{name}:{free}", pairing.code), flush=True)
        yield

    app = st.App(
        _MAIN,
        routes=[picture_route(), browser_part_route(), asking_route(), *download_routes()],
        middleware=middleware,
        lifespan=tell_address,
    )
    app.run(config=server_settings(name, free, hosts, lan) | theme())


def how_to_pair(address: str, code: str) -> str:
    """Return what a person with a phone needs: the picture to scan, and the code in figures."""
    picture = terminal_code(f"{address}{PAIR}?code={code}", in_colour=sys.stdout.isatty())
    typed = f"open the address and type the pairing code {code[:4]} {code[4:]}"
    try:
        picture.encode(sys.stdout.encoding)
    except UnicodeEncodeError:
        # The terminal's letters have no blocks, and a page that cannot print does not start.
        return f"On a phone in the same network: {typed}. Each device is asked once."
    return (
        f"{picture}\nOn a phone in the same network: scan this picture, or {typed}. Each device is"
        " asked once."
    )


def server_settings(name: str, port: int, hosts: Sequence[str], lan: bool) -> dict[str, Any]:
    """Return the configuration of a server that asks nothing of the outside."""
    return {
        "server.address": _EVERYWHERE if lan else _HERE,
        "server.port": port,
        # Named, so that the server does not look for its own address outside.
        "browser.serverAddress": name,
        "server.allowedHosts": list(hosts),
        "server.enableWebsocketCompression": True,
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.maxUploadSize": LOT_MB,
        "browser.gatherUsageStats": False,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "runner.magicEnabled": False,
        "logger.hideWelcomeMessage": True,
    }


def free_port(first: int, address: str) -> int:
    """Return the first port from ``first`` on that nobody holds."""
    for port in range(first, min(first + _PORTS_TRIED, 65536)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
            if os.name != "nt":
                trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                trial.bind((address, port))
            except OSError:
                continue
            return port
    print(f"No free port from {first} on: name another with --port.", file=sys.stderr)
    raise SystemExit(2)


def _own_address() -> str:
    """Return this computer's address in its network; asks the route table and sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address set apart for documents (RFC 5737); connecting a datagram socket only
            # chooses the way out.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return _HERE
        return str(probe.getsockname()[0])


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the arguments and serve."""
    reader = argparse.ArgumentParser(prog="python -m ui.launch", description=__doc__)
    reader.add_argument("--lot", type=Path, help="lot file to open, made if it is not there")
    reader.add_argument("--port", type=int, help=f"first port to try (default {_FIRST_PORT})")
    reader.add_argument("--lan", action="store_true", help="let the local network in")
    chosen = reader.parse_args(arguments)
    try:
        launch(chosen.lot, chosen.port, chosen.lan)
    except KeyboardInterrupt:
        sys.exit(0)


if __name__ == "__main__":
    main()
