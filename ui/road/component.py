"""Register the browser's side of the road, and give it its data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from ui.browser_part import SHARED, browser_part
from ui.plain_values import as_data

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from scanner.app.lot.open_lot import Answer
    from scanner.app.showing.road_state import Step

_HERE = Path(__file__).parent
# The road also carries what was said on another page and had no answer when that page was left.
_SCRIPTS = (SHARED / "elements.js", SHARED / "memory.js", _HERE / "road.js")
_STYLES = (_HERE / "road.css",)
_HTML = '<nav class="road" aria-label="Steps of the job"></nav>'


def draw_road(
    lot: str,
    here: str,
    is_aside: bool,
    steps: Iterable[Step],
    answers: Iterable[Answer],
    *,
    key: str,
    on_outbox: Callable[[], None],
) -> Mapping[str, Any]:
    """Draw the road; the result holds ``page`` (wanted) and ``outbox`` (taps left over).

    ``is_aside`` says that a page beside the step ``here`` shows, and not the step itself.
    """
    component = browser_part("road", _HTML, _SCRIPTS, _STYLES)
    result: Mapping[str, Any] = component(
        key=key,
        data={
            "lot": lot,
            "here": here,
            "is_aside": is_aside,
            "steps": [as_data(step) for step in steps],
            "answers": [answer.operation for answer in answers],
        },
        on_page_change=lambda: None,
        on_outbox_change=on_outbox,
    )
    return result
