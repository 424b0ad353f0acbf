"""Register the browser's side of the layout, and give it its data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.asking import asking_url
from ui.board_view.component import face_data, flaw_mark
from ui.board_view.shapes import Shapes
from ui.browser_part import SHARED, browser_part
from ui.plain_values import as_data

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from scanner.app.lot.open_lot import Answer
    from scanner.app.showing.layout_board import LaidBoard
    from scanner.app.showing.page_state import LotView

_HERE = Path(__file__).parent
_SCRIPTS = (
    SHARED / "elements.js",
    SHARED / "memory.js",
    SHARED / "outbox.js",
    SHARED / "shapes.js",
    SHARED / "turned.js",
    SHARED / "face.js",
    _HERE / "wood.js",
    _HERE / "carry.js",
    _HERE / "chosen.js",
    _HERE / "tool.js",
)
_STYLES = (SHARED / "base.css", SHARED / "wood.css", _HERE / "layout.css")
_HTML = '<section class="bench tool" aria-label="Boards with their parts"></section>'


def draw_layout(
    lot: LotView,
    boards: Iterable[LaidBoard],
    hand: tuple[Iterable[tuple[str, str]], Iterable[tuple[str, int]]],
    answers: Iterable[Answer],
    standing: str,
    *,
    held: Iterable[str],
    key: str,
    on_outbox: Callable[[], None],
) -> Mapping[str, Any]:
    """Draw boards with their parts to be moved.

    The result holds ``outbox`` (what was done and is not answered yet) and ``board`` (the one whose
    flaws are wanted). ``standing`` is how the layout stands: current, old, placing or improving;
    ``held`` names the outlines that the window has (see `Shapes`).
    """
    component = browser_part("layout", _HTML, _SCRIPTS, _STYLES)
    forbidden, spares = hand
    shapes = Shapes(held)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "lot": lot.name,
            "revision": lot.revision,
            "undo": lot.next_undo,
            "redo": lot.next_redo,
            "layout": standing,
            "ask": asking_url(lot.name),
            "boards": [
                as_data(board)
                | shapes.named(map(face_data, board.faces), map(flaw_mark, board.flaws))
                for board in boards
            ],
            "forbidden": [{"part": part, "board": board} for part, board in forbidden],
            "spares": [{"part": part, "count": count} for part, count in spares],
            "answers": [as_data(answer) for answer in answers],
            "lacking": shapes.lacking,
        },
        on_outbox_change=on_outbox,
        on_board_change=lambda: None,
    )
    return result
