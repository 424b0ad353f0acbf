"""Register the browser's side of the cut list, and give it its data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from scanner.app.cutting.tick_parts import WORDS, WORK
from ui.browser_part import SHARED, browser_part
from ui.plain_values import as_data

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from scanner.app.cutting.tick_parts import BoardToCut
    from scanner.app.lot.open_lot import Answer
    from scanner.app.showing.page_state import LotView

_HERE = Path(__file__).parent
_SCRIPTS = (
    SHARED / "elements.js",
    SHARED / "memory.js",
    SHARED / "outbox.js",
    _HERE / "cut.js",
)
_STYLES = (SHARED / "base.css", _HERE / "cut.css")
_HTML = '<section class="bench cuts" aria-label="Parts to cut"></section>'


def draw_cut_list(
    lot: LotView,
    boards: Iterable[BoardToCut],
    answers: Iterable[Answer],
    *,
    key: str,
    on_outbox: Callable[[], None],
) -> Mapping[str, Any]:
    """Draw the parts by board; the result holds ``outbox`` (ticks not answered yet)."""
    component = browser_part("cuts", _HTML, _SCRIPTS, _STYLES)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "lot": lot.name,
            "revision": lot.revision,
            "undo": lot.next_undo,
            "redo": lot.next_redo,
            "work": WORK,
            "words": WORDS,
            "boards": [as_data(board) for board in boards],
            "answers": [as_data(answer) for answer in answers],
        },
        on_outbox_change=on_outbox,
    )
    return result
