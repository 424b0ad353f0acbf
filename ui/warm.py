"""Load what the first page needs while its address is still being read.

The first run of the page would otherwise wait for modules, and for the lot the page was started
with to be opened and its values to be read once.
"""

from __future__ import annotations

import ast
import gc
import importlib
import threading
from pathlib import Path

_VIEWS = Path(__file__).parent / "views"


def begin_to_warm() -> threading.Thread:
    """Start loading in a thread; what fails here is said by the page itself, in its own words."""
    thread = threading.Thread(target=_warm, name="warm", daemon=True)
    thread.start()
    return thread


def _warm() -> None:
    importlib.import_module("ui.frame")
    # The step that a lot with boards begins with; the others may follow while it is looked at.
    _load_what_imports("flaws")
    _open_first_lot()
    for view in ("parts", "boards", "layout", "cut", "start"):
        _load_what_imports(view)
    # Streamlit looks through all objects for rubbish after each run, and a tap is not answered
    # meanwhile: modules stay, so they need no looking through.
    gc.collect()
    gc.freeze()


def _load_what_imports(view: str) -> None:
    # A view is a script that is run, not imported.
    script = ast.parse((_VIEWS / f"{view}.py").read_text(encoding="utf-8"))
    for line in script.body:
        if isinstance(line, ast.ImportFrom) and line.module:
            importlib.import_module(line.module)


def _open_first_lot() -> None:
    from scanner.app.showing.page_state import board_view, lot_view
    from scanner.app.showing.road_state import road
    from scanner.errors import ScannerError
    from ui.desks import desk_of
    from ui.place import started_with

    path = started_with()
    if path is None or not path.is_file():
        return
    try:
        lot = desk_of(path).lot
        view = lot_view(lot)
        road(lot, view)
        first = view.first_to_do() or next((line.id for line in view.lines), None)
        if first is not None:
            board_view(lot, first)
    except ScannerError:
        return
