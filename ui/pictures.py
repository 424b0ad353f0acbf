"""Serve the pictures of open lots under the hash of their content, whole or small."""

from __future__ import annotations

import html
import io
from functools import lru_cache
from typing import TYPE_CHECKING

from PIL import Image
from starlette.concurrency import run_in_threadpool
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
# A board across a phone's screen, two pixels to a point: some 15 kB. At a desk no wider.
_SMALL_PX = 720
_WIDEST_PX = 480
_SMALL = "small"
_KINDS = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


def picture_url(file: str) -> str:
    """Return the address of a stored picture on this page's server."""
    return f"{_PREFIX}/{file}"


def small_picture(file: str, says: str) -> str:
    """Return a stored picture as a small one in HTML, "" where it is not there."""
    path = find_picture(file)
    if path is None:
        return ""
    wide, high = picture_size(path)
    return (
        f'<img src="{picture_url(file)}?{_SMALL}" alt="{html.escape(says)}" loading="lazy"'
        f' width="{wide}" height="{high}"'
        f' style="display: block; width: 100%; max-width: {_WIDEST_PX}px; height: auto">'
    )


# What a stored picture's name stands for never changes.
@lru_cache(maxsize=512)
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
    if _SMALL in request.query_params:
        try:
            content = await run_in_threadpool(_shrunk, path)
        except OSError:
            return Response("no picture", status_code=404, media_type="text/plain")
        return Response(content, headers=_FOR_EVER, media_type="image/jpeg")
    return FileResponse(path, headers=_FOR_EVER, media_type=kind)


@lru_cache(maxsize=256)
def _shrunk(path: Path) -> bytes:
    """Return a stored picture no longer than fits on a phone, as JPEG."""
    shrunk = io.BytesIO()
    with Image.open(path) as picture:
        # A JPEG need not be decoded whole for that.
        picture.draft("RGB", (_SMALL_PX, 1))
        small = picture.convert("RGB")
    small.thumbnail((_SMALL_PX, _SMALL_PX))
    small.save(shrunk, "JPEG", quality=70)
    return shrunk.getvalue()
