"""Which devices may reach the page from the network: a code to pair with, and who has paired.

A code of eight figures, at most 40 wrong ones in ten minutes from all devices together: a guesser
who tries all day finds it with a chance of 6 in 100 000.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import time
from collections import deque
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

_FIGURES = 8
# A person mistypes; these are per address, then over all of them.
WRONG_PER_ADDRESS = 5
WRONG_IN_ALL = 40
_WINDOW_S = 600.0
_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
# The devices of one shop; the oldest goes when one more comes.
_MOST_DEVICES = 50


class Pairing:
    """The code of this start, and the devices that gave it once.

    Only hashes of the devices' tokens are kept, so that reading the file lets nobody in.
    """

    def __init__(self, kept_in: Path, now: Callable[[], float] = time.monotonic) -> None:
        self.code = f"{secrets.randbelow(10**_FIGURES):0{_FIGURES}d}"
        self._kept_in = kept_in
        self._now = now
        self._devices = _read(kept_in)
        self._wrong: deque[tuple[float, str]] = deque()

    def pair(self, given: str, address: str) -> str | None:
        """Return a token for the device that gave the code, None where it is wrong."""
        figures = re.sub(r"[\s-]", "", given)
        if not secrets.compare_digest(figures.encode(), self.code.encode()):
            self._wrong.append((self._now(), address))
            return None
        token = secrets.token_urlsafe(32)
        self._devices = [*self._devices, _hash(token)][-_MOST_DEVICES:]
        _write(self._kept_in, self._devices)
        return token

    def must_wait(self, address: str) -> bool:
        """Whether so many wrong codes came of late that no more are looked at."""
        oldest = self._now() - _WINDOW_S
        while self._wrong and self._wrong[0][0] < oldest:
            self._wrong.popleft()
        own = sum(1 for _, whose in self._wrong if whose == address)
        return own >= WRONG_PER_ADDRESS or len(self._wrong) >= WRONG_IN_ALL

    def knows(self, token: str) -> bool:
        """Whether a device with this token has paired."""
        return _TOKEN.fullmatch(token) is not None and _hash(token) in self._devices


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _read(file: Path) -> list[str]:
    try:
        devices = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        # Nothing kept, or not ours: every device pairs anew.
        return []
    return [str(device) for device in devices] if isinstance(devices, list) else []


def _write(file: Path, devices: list[str]) -> None:
    half = file.with_name(f"{file.name}.half")
    half.unlink(missing_ok=True)
    half.touch(mode=0o600)
    half.write_text(json.dumps(devices), encoding="utf-8")
    half.replace(file)
