"""Answer "may it lie here?" while a part is carried: a plain GET, quicker than a run."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from scanner.app.showing.layout_board import may_it_lie
from scanner.errors import ScannerError
from ui.desks import desk_of
from ui.place import known_lots

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

_PATH = "/may-lie"
_ANEW = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}


def asking_url(lot: str) -> str:
    """Return the address that answers for a lot on this page's server."""
    return f"{_PATH}/{quote(lot, safe='')}"


def asking_route() -> Route:
    """Return the route that says whether and where a part may lie."""
    return Route(f"{_PATH}/{{lot}}", _answer, methods=["GET"])


# No coroutine: the first answer for a board takes a third of a second, in a thread of the pool.
def _answer(request: Request) -> Response:
    # Looked up among known lots, never joined to a path.
    path = known_lots().get(request.path_params["lot"])
    if path is None:
        return _refusal("There is no such lot here.", 404)
    asked = request.query_params
    try:
        part, seen, wished, reach, face = _read(asked)
    except (KeyError, ValueError):
        return _refusal("This does not ask for a place.", 400)
    try:
        view = may_it_lie(desk_of(path).lot, part, seen, wished, reach, face)
    except ScannerError as problem:
        return _refusal(str(problem), 409)
    if view is None:
        return _refusal("The part does not lie there any more.", 409)
    return JSONResponse(asdict(view), headers=_ANEW)


Spot = tuple[str, tuple[float, float]]


def _read(asked: Mapping[str, str]) -> tuple[tuple[str, int], Spot, Spot, float, int | None]:
    def number(name: str) -> float:
        value = float(asked[name])
        if not math.isfinite(value):
            raise ValueError(f"{name} is no length")
        return value

    face = int(asked.get("face") or 0)
    return (
        (asked["part"], int(asked["copy"])),
        (asked["from"], (number("x0"), number("y0"))),
        (asked["onto"], (number("x"), number("y"))),
        number("reach"),
        face if face in (1, 2) else None,
    )


def _refusal(sentence: str, status: int) -> Response:
    return JSONResponse({"said": sentence}, status, headers=_ANEW)
