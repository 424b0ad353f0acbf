"""Register the browser's side of a group put together, and give it its data."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.asking import asking_url
from ui.browser_part import SHARED, browser_part
from ui.pictures import picture_url

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from scanner.app.fitting.fit_in_lot import FitView
    from scanner.app.lot.open_lot import Answer
    from scanner.app.showing.page_state import LotView

_HERE = Path(__file__).parent
_SCRIPTS = (
    SHARED / "elements.js",
    SHARED / "memory.js",
    SHARED / "outbox.js",
    _HERE / "slide.js",
    _HERE / "fit.js",
)
_STYLES = (SHARED / "base.css", SHARED / "wood.css", _HERE / "fit.css")
_HTML = '<section class="bench fit" aria-label="Pieces put together"></section>'


def draw_fit(
    lot: LotView,
    view: FitView,
    units: str,
    answers: Iterable[Answer],
    *,
    key: str,
    on_outbox: Callable[[], None],
) -> Mapping[str, Any]:
    """Draw a group to be taken in hand; the result holds ``outbox``, what is not answered yet."""
    component = browser_part("fit", _HTML, _SCRIPTS, _STYLES)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "lot": lot.name,
            "revision": lot.revision,
            "undo": lot.next_undo,
            "redo": lot.next_redo,
            "units": units,
            "ask": asking_url(lot.name),
            "title": view.title,
            "size": view.size,
            "pieces": [
                asdict(drawn)
                | asdict(line)
                | {"picture": picture_url(drawn.picture) if drawn.picture else None}
                for line, drawn in zip(view.pieces, view.drawn, strict=True)
            ],
            "answers": [asdict(answer) for answer in answers],
        },
        on_outbox_change=on_outbox,
    )
    return result
