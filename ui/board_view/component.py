"""Register the browser's side of the board view, and give it its data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from scanner.app.nodding.flaw_state import flaw_words
from ui.board_view.shapes import Shapes
from ui.browser_part import SHARED, browser_part
from ui.pictures import picture_url
from ui.plain_values import as_data

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from scanner.app.lot.open_lot import Answer
    from scanner.app.nodding.flaw_state import FlawView
    from scanner.app.showing.page_state import BoardView, FaceView, LotView

_SCRIPTS = tuple(
    SHARED / f"{name}.js"
    for name in (
        "elements",
        "memory",
        "outbox",
        "shapes",
        "overlay",
        "turned",
        "face",
        "through",
        "loupe",
        "shaping",
        "freehand",
        "gestures",
        "panels",
        "build",
        "bench",
    )
)
_STYLES = (SHARED / "base.css", SHARED / "wood.css", SHARED / "board.css")
_HTML = '<section class="bench" aria-label="Board"></section>'


def draw_board(
    lot: LotView,
    board: BoardView,
    answers: Iterable[Answer],
    is_placing: bool,
    *,
    held: Iterable[str],
    key: str,
    on_outbox: Callable[[], None],
    on_board: Callable[[], None],
) -> Mapping[str, Any]:
    """Draw a board; the result holds ``outbox`` (taps not answered yet) and ``board`` (wanted).

    ``held`` names the outlines that the window has (see `Shapes`).
    """
    component = browser_part("board", _HTML, _SCRIPTS, _STYLES)
    result: Mapping[str, Any] = component(
        key=key,
        data=board_data(lot, board, answers, is_placing, held),
        on_outbox_change=on_outbox,
        on_board_change=on_board,
    )
    return result


_SHEET = '<section class="bench layout" aria-label="Boards with their parts"></section>'
_SHEET_SCRIPTS = tuple(SHARED / f"{name}.js" for name in ("elements", "turned", "face", "sheet"))
_SHEET_STYLES = tuple(SHARED / f"{name}.css" for name in ("base", "wood", "sheet"))


def draw_sheet(
    lot: LotView, boards: Iterable[BoardView], is_placing: bool, *, key: str
) -> Mapping[str, Any]:
    """Draw boards with their parts; the result holds ``board``, the one that was tapped."""
    component = browser_part("sheet", _SHEET, _SHEET_SCRIPTS, _SHEET_STYLES)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "layout": "placing" if is_placing else lot.layout.standing,
            "boards": [
                {
                    "id": board.id,
                    "head": f"{board.head}; {board.size}",
                    "faces": [face_data(face) for face in board.faces],
                    "flaws": [flaw_mark(flaw) for flaw in board.flaws if flaw.state != "struck"],
                    "parts": [as_data(part) for part in board.parts],
                }
                for board in boards
            ],
        },
        on_board_change=lambda: None,
    )
    return result


def face_data(face: FaceView) -> dict[str, Any]:
    """Return a face as the browser draws it, with the address of its picture."""
    return as_data(face) | {"url": picture_url(face.picture) if face.picture else None}


def flaw_mark(flaw: FlawView) -> dict[str, Any]:
    """Return a flaw as it is drawn on a board with its parts, without what is said of it."""
    return {"id": flaw.id, "kind": flaw.kind, "state": flaw.state, "rings": flaw.rings}


def board_data(
    lot: LotView,
    board: BoardView,
    answers: Iterable[Answer],
    is_placing: bool,
    held: Iterable[str] = (),
) -> dict[str, Any]:
    """Return what the browser draws, as JSON data; lengths mm in the frame a person sees."""
    shapes = Shapes(held)
    return {
        "lot": lot.name,
        "units": lot.units,
        "revision": lot.revision,
        "undo": lot.next_undo,
        "redo": lot.next_redo,
        "layout": "placing" if is_placing else lot.layout.standing,
        "boards": [
            {"id": line.id, "open": line.open_flaws, "done": line.is_done} for line in lot.lines
        ],
        "board": {
            "id": board.id,
            "head": board.head,
            "size": board.size,
            "trust": board.trust,
            "notes": board.notes,
        },
        **shapes.named(map(face_data, board.faces), map(as_data, board.flaws)),
        "ends": [{"name": name, "seen": seen} for name, seen in board.ends],
        "kinds": [{"value": kind, "word": word} for kind, word in flaw_words().items()],
        "parts": [as_data(part) for part in board.parts],
        "answers": [as_data(answer) for answer in answers],
        "lacking": shapes.lacking,
    }
