"""Serve the pictures of open lots under the hash of their content."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PIL import Image
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from ui.desks import find_picture

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

_PREFIX = "/picture"
# The name is the hash of the content, so what it stands for never changes.
_FOR_EVER = {
    "Cache-Control": "private, max-age=31536000, immutable",
    "X-Content-Type-Options": "nosniff",
}
_KINDS = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


def picture_url(file: str) -> str:
    """Return the address of a stored picture on this page's server."""
    return f"{_PREFIX}/{file}"


def picture_size(path: Path) -> tuple[int, int]:
    """Return width and height of a stored picture, px."""
    with Image.open(path) as picture:
        return picture.size


def picture_route() -> Route:
    """Return the route that serves stored pictures."""
    return Route(f"{_PREFIX}/{{file}}", _picture, methods=["GET"])


async def _picture(request: Request) -> Response:
    # Looked up among stored names, never joined to a path.
    path = find_picture(request.path_params["file"])
    kind = _KINDS.get(path.suffix) if path else None
    if path is None or kind is None:
        return Response("no such picture", status_code=404, media_type="text/plain")
    return FileResponse(path, headers=_FOR_EVER, media_type=kind)
