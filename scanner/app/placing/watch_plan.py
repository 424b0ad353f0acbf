"""The errand "improve while one watches": the best layout so far to look at, and a way to stop.

The search runs in a process of its own; a folder is all that the two share.
"""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING

from scanner.placement.layout import Layout as Layout  # the page's way to placement
from scanner.placement.stop import AnyOf, Seconds, WhenSaid
from scanner.storage.values import DocumentError, from_document, to_document

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.storage.lots import Lot

_BEST, _STOP = "best.json", "stop"
# Oftener nobody can see it.
_SHOW_EVERY_S = 0.3


def plan_watched(lot: Lot, seconds: float, folder: Path) -> None:
    """Place the parts until the time is up or `ask_to_stop`; the best layout is kept either way.

    Raises
    ------
    ScannerError
        As `plan_lot`.
    """
    # Only now: the page itself reads what is found, and need not load the search.
    from scanner.app.placing.place_again import plan_lot

    shown = 0.0

    def better(layout: Layout) -> None:
        nonlocal shown
        if time.monotonic() - shown < _SHOW_EVERY_S:
            return
        shown = time.monotonic()
        beside = folder / f"{_BEST}.half"
        beside.write_text(json.dumps(to_document(layout)), encoding="utf-8")
        beside.replace(folder / _BEST)

    stop = AnyOf(Seconds(seconds), WhenSaid((folder / _STOP).exists))
    plan_lot(lot, stop, better)


def ask_to_stop(folder: Path) -> None:
    """Let the search end soon and keep the best it has."""
    (folder / _STOP).touch()


def is_asked_to_stop(folder: Path) -> bool:
    """Return whether `ask_to_stop` was called of that search."""
    return (folder / _STOP).exists()


def best_so_far(folder: Path) -> Layout | None:
    """Return the best layout of a search that goes on, without bound and reasons; None before."""
    try:
        text = (folder / _BEST).read_text(encoding="utf-8")
        return from_document(Layout, json.loads(text))
    except (OSError, json.JSONDecodeError, DocumentError):
        return None
