"""Register the browser's side of the parts table, and give it its data."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scanner.app.lot.parts_table import COLUMNS
from ui.browser_part import SHARED, browser_part

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from scanner.app.lot.parts_table import Cells, TableReading

_HERE = Path(__file__).parent
_SCRIPTS = (
    SHARED / "elements.js",
    _HERE / "cells.js",
    _HERE / "more.js",
    _HERE / "fold.js",
    _HERE / "table.js",
)
_STYLES = (
    _HERE / "table.css",
    _HERE / "fold.css",
)
_HTML = '<section class="parts" aria-label="Parts list"></section>'


@dataclass(frozen=True, slots=True)
class TableState:
    """What the table shows: the kept rows, and what the rows being written mean."""

    lot: str
    columns: tuple[str, ...]
    rows: Sequence[Cells]
    stamp: str
    units: str
    reading: TableReading | None
    read: str
    kept: str


def draw_table(state: TableState, *, key: str, on_keep: Callable[[], None]) -> Mapping[str, Any]:
    """Draw the table; the result holds ``table`` (being written) and ``keep`` (to be kept)."""
    component = browser_part("parts", _HTML, _SCRIPTS, _STYLES)
    reading = None if state.reading is None else asdict(state.reading)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "lot": state.lot,
            "columns": state.columns,
            "known": COLUMNS,
            "rows": list(state.rows),
            "stamp": state.stamp,
            "units": state.units,
            "reading": reading,
            "read": state.read,
            "kept": state.kept,
        },
        on_table_change=lambda: None,
        on_keep_change=on_keep,
    )
    return result
