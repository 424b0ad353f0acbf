"""Files to take along, each behind a plain link: a tap on it needs no run of the page's script.

A button of the page that fetches its file is set up anew by every run, and a tap that falls into
one is lost; the browser follows a link whatever the page is doing.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.background import BackgroundTask
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route

from scanner.app.lot.move_lot import export_lot
from scanner.errors import ScannerError
from ui.desks import desk_of
from ui.place import known_lots

if TYPE_CHECKING:
    from starlette.requests import Request

_MAPS, _STICKS, _LOTS = "/board-maps", "/story-sticks", "/whole-lot"
_FITS, _MILLING, _YARD = "/put-together", "/milling-sheet", "/yard-card"
_BOARDS = "/boards-list"
_STRIP = "/printed-strip"
# Made of the newest layout each time.
_TYPES = {
    "pdf": "application/pdf",
    "png": "image/png",
    "html": "text/html; charset=utf-8",
    "zip": "application/zip",
}
_ANEW = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}


def maps_url(lot: str, kind: str = "pdf") -> str:
    """Return the address of a lot's board maps: ``pdf`` all in one, ``zip`` a file each."""
    return f"{_MAPS}/{quote(lot, safe='')}?kind={kind}"


def sticks_url(lot: str, measured_mm: float | None = None) -> str:
    """Return the address of a lot's story sticks, made up for a print that was measured."""
    query = "" if measured_mm is None else f"?measured={measured_mm:g}"
    return f"{_STICKS}/{quote(lot, safe='')}{query}"


def lot_url(lot: str) -> str:
    """Return the address of a whole lot, packed, on this page's server."""
    return f"{_LOTS}/{quote(lot, safe='')}"


def fit_url(lot: str, group: str, kind: str) -> str:
    """Return the address of a group put together, as ``pdf`` or ``png``."""
    return f"{_FITS}/{quote(lot, safe='')}?group={quote(group, safe='')}&kind={kind}"


def milling_url(lot: str) -> str:
    """Return the address of a lot's milling sheet on this page's server."""
    return f"{_MILLING}/{quote(lot, safe='')}"


def yard_card_url(lot: str, kind: str, budget: str = "") -> str:
    """Return the address of a lot's yard card, as ``pdf`` or ``html``; ``budget`` as typed."""
    money = f"&budget={quote(budget.strip(), safe='')}" if budget.strip() else ""
    return f"{_YARD}/{quote(lot, safe='')}?kind={kind}{money}"


def boards_list_url(lot: str) -> str:
    """Return the address of a lot's boards as a list (CSV)."""
    return f"{_BOARDS}/{quote(lot, safe='')}"


def strip_url(length: str, paper: str) -> str:
    """Return the address of a strip to print; ``length`` as typed, ``paper`` a4 or letter."""
    return f"{_STRIP}?length={quote(length.strip(), safe='')}&paper={paper}"


def download_routes() -> list[Route]:
    """Return the routes that make files to take along."""
    return [
        Route(f"{_MAPS}/{{lot}}", _maps, methods=["GET"]),
        Route(f"{_STICKS}/{{lot}}", _sticks, methods=["GET"]),
        Route(f"{_LOTS}/{{lot}}", _whole_lot, methods=["GET"]),
        Route(f"{_FITS}/{{lot}}", _fit, methods=["GET"]),
        Route(f"{_MILLING}/{{lot}}", _milling, methods=["GET"]),
        Route(f"{_YARD}/{{lot}}", _yard_card, methods=["GET"]),
        Route(f"{_BOARDS}/{{lot}}", _boards_list, methods=["GET"]),
        Route(_STRIP, _strip, methods=["GET"]),
    ]


# No coroutine: it draws for a second or more, in a thread of the server's pool.
def _maps(request: Request) -> Response:
    # Looked up among known lots, never joined to a path.
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    # Only now: drawing loads what the sheets need.
    from scanner.app.cutting.save_maps import all_maps_pdf, maps_zip

    kind = "zip" if request.query_params.get("kind") == "zip" else "pdf"
    try:
        made = maps_zip(desk_of(path).lot) if kind == "zip" else all_maps_pdf(desk_of(path).lot)
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    saved_as = _saved_as(f"{name}-board-maps.{kind}") | {"Content-Type": _TYPES[kind]}
    return Response(made, headers=_ANEW | saved_as)


def _sticks(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    from scanner.app.cutting.save_maps import sticks_pdf

    typed = request.query_params.get("measured")
    try:
        made = sticks_pdf(desk_of(path).lot, float(typed) if typed else None)
    except ValueError:
        return _refusal("The measured line is no number of millimetres: type 249.5, say.", 400)
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    saved_as = _saved_as(f"{name}-story-sticks.pdf") | {"Content-Type": _TYPES["pdf"]}
    return Response(made, headers=_ANEW | saved_as)


def _fit(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    from scanner.app.fitting.dry_fit import stem_of
    from scanner.app.fitting.fit_in_lot import fit_pdf, fit_png

    group = request.query_params.get("group", "")
    is_picture = request.query_params.get("kind") == "png"
    try:
        lot = desk_of(path).lot
        made = fit_png(lot, group) if is_picture else fit_pdf(lot, group)
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    kind = "png" if is_picture else "pdf"
    saved_as = _saved_as(f"{name}-{stem_of(group)}.{kind}")
    return Response(made, headers=_ANEW | saved_as | {"Content-Type": _TYPES[kind]})


def _milling(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    from scanner.app.cutting.milling_in_lot import milling_pdf

    try:
        made = milling_pdf(desk_of(path).lot)
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    saved_as = _saved_as(f"{name}-milling.pdf")
    return Response(made, headers=_ANEW | saved_as | {"Content-Type": _TYPES["pdf"]})


def _yard_card(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    from scanner.app.buying.make_yard_card import yard_card_of

    kind = "html" if request.query_params.get("kind") == "html" else "pdf"
    budget = request.query_params.get("budget", "")
    try:
        made = yard_card_of(desk_of(path).lot, budget)[f"yard-card.{kind}"]
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    saved_as = _saved_as(f"{name}-yard-card.{kind}")
    return Response(made, headers=_ANEW | saved_as | {"Content-Type": _TYPES[kind]})


def _boards_list(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    from scanner.app.lot.typed_boards import boards_list_of

    saved_as = _saved_as(f"{name}-boards.csv") | {"Content-Type": "text/csv; charset=utf-8"}
    return Response(boards_list_of(desk_of(path).lot), headers=_ANEW | saved_as)


def _strip(request: Request) -> Response:
    from scanner.app.scanning.make_strip import strip_pdf

    paper = request.query_params.get("paper", "a4")
    try:
        made = strip_pdf(request.query_params.get("length", "8 ft"), paper)
    except ScannerError as problem:
        return _refusal(str(problem), 400)
    saved_as = _saved_as(f"strip-{paper}.pdf")
    return Response(made, headers=_ANEW | saved_as | {"Content-Type": _TYPES["pdf"]})


def _whole_lot(request: Request) -> Response:
    name = request.path_params["lot"]
    path = known_lots().get(name)
    if path is None:
        return _no_lot()
    # With its photos a lot is too large to be held in memory.
    handle, packed = tempfile.mkstemp(prefix="bothfaces-", suffix=".zip")
    os.close(handle)
    try:
        export_lot(desk_of(path).lot, Path(packed))
    except BaseException as problem:
        Path(packed).unlink(missing_ok=True)
        if isinstance(problem, ScannerError):
            return _refusal(str(problem), 409)
        raise
    gone = BackgroundTask(Path(packed).unlink, missing_ok=True)
    return FileResponse(packed, headers=_ANEW | _saved_as(f"{name}.zip"), background=gone)


def _no_lot() -> Response:
    return _refusal("There is no such lot here: go back to the page and open one.", 404)


def _saved_as(name: str) -> dict[str, str]:
    # RFC 6266: the name as it is, whatever letters it has.
    return {
        "Content-Type": "application/zip",
        "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}",
    }


def _refusal(sentence: str, status: int) -> Response:
    """Return a page of one sentence; it opens beside the page, which stays as it is."""
    return PlainTextResponse(sentence[:1].upper() + sentence[1:], status, headers=_ANEW)
