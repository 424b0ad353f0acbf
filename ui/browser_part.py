"""Register a part of the page that runs in the browser, from its files.

What is registered travels to the browser again with each run of the page, and every tap is a run.
So it is a few lines that load the part's scripts and styles from an address of their own, named by
their content: a browser fetches them once.
"""

from __future__ import annotations

import json
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st
from starlette.responses import Response
from starlette.routing import Route

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from starlette.requests import Request

SHARED = Path(__file__).parent / "board_view"

_PREFIX = "/browser-part"
_FOR_EVER = {
    "Cache-Control": "private, max-age=31536000, immutable",
    "X-Content-Type-Options": "nosniff",
}
# What the running page may be asked for: file name -> source.
_sources: dict[str, str] = {}

_EXPORT = "export default function ("
# The data comes as the only item of a list. Drawings that came while the sources were on their way
# are all drawn when these are there, and Streamlit then ends every one but the newest: it must not
# take the newest with it, as all of them stand in one place.
_DRAW = """
const newestOf = new WeakMap();
export default (component) => {
  const place = component.parentElement;
  if (!place.querySelector("style")) {
    const style = document.createElement("style");
    style.textContent = partStyle;
    place.prepend(style);
  }
  const drawing = {};
  newestOf.set(place, drawing);
  const end = drawPart({ ...component, data: component.data[0] });
  return () => {
    if (newestOf.get(place) === drawing) end();
  };
};
"""
# Asked for until it comes: a part that failed once would stay away as long as the window is open. A
# browser may remember that an address failed, so each try has one of its own.
_LOAD = """
const load = async (address) => {
  for (let tries = 0; ; tries += 1) {
    try {
      return await import(tries ? `${address}?${tries}` : address);
    } catch (problem) {
      if (!(problem instanceof TypeError)) throw problem;
      await new Promise((done) => setTimeout(done, Math.min(500 * 2 ** tries, 8000)));
    }
  }
};
export default (await load(`${location.origin}%s`)).default;
"""


def browser_part(
    name: str, html: str, scripts: Iterable[Path], styles: Iterable[Path]
) -> Callable[..., Any]:
    """Return the part: its scripts are read as one, in order; the last exports what is called.

    Registered on every run: each test and each server start has a registry of its own. All is text
    of our own, never the user's: a component's sources are trusted code.
    """
    component = st.components.v2.component(
        f"bothfaces_{name}",
        html=html,
        js=_LOAD % _address(name, tuple(scripts), tuple(styles)),
    )

    def draw(*, data: Any, **options: Any) -> Any:  # noqa: ANN401 (the component's own)
        # Each value of a mapping would be held against every kind of table there is, for which
        # Streamlit loads pandas: a third of a second and 40 MB. A list it sends as it is.
        return component(data=[data], **options)

    return draw


def browser_part_route() -> Route:
    """Return the route that gives out the sources of the parts drawn so far."""
    return Route(f"{_PREFIX}/{{file}}", _give, methods=["GET"])


async def _give(request: Request) -> Response:
    # Looked up among what was read, never joined to a path.
    source = _sources.get(request.path_params["file"])
    if source is None:
        return Response("no such part", status_code=404, media_type="text/plain")
    return Response(source, headers=_FOR_EVER, media_type="text/javascript")


@lru_cache
def _address(name: str, scripts: tuple[Path, ...], styles: tuple[Path, ...]) -> str:
    """Return where a part's scripts and styles are to be had, as one script."""
    style = json.dumps(_read(styles))
    script = _read(scripts).replace(_EXPORT, "function drawPart(")
    source = f"const partStyle = {style};\n{script}{_DRAW}"
    file = f"{name}-{sha256(source.encode()).hexdigest()[:20]}.js"
    _sources[file] = source
    return f"{_PREFIX}/{file}"


def _read(files: tuple[Path, ...]) -> str:
    return "\n".join(file.read_text(encoding="utf-8") for file in files)
