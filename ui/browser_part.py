"""Register a part of the page that runs in the browser, from its files."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import streamlit as st

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

SHARED = Path(__file__).parent / "board_view"


_EXPORT = "export default function ("
# The data comes as the only item of a list.
_UNPACK = """
export default (component) => drawPart({ ...component, data: component.data[0] });
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
        css=_read(tuple(styles)),
        js=_read(tuple(scripts)).replace(_EXPORT, "function drawPart(") + _UNPACK,
    )

    def draw(*, data: Any, **options: Any) -> Any:  # noqa: ANN401 (the component's own)
        # Each value of a mapping would be held against every kind of table there is, for which
        # Streamlit loads pandas: a third of a second and 40 MB. A list it sends as it is.
        return component(data=[data], **options)

    return draw


@lru_cache
def _read(files: tuple[Path, ...]) -> str:
    return "\n".join(file.read_text(encoding="utf-8") for file in files)
