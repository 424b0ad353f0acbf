"""Pages under way: where room runs out a new one is begun under the same title."""

from collections.abc import Callable

from scanner.sheets.drawing import Page, Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.paper import MARGIN, PaperName, new_sheet


class Sheets:
    """The page that is being written, and those that are done.

    Attributes
    ----------
    y
        How far down the page it is written on, points.
    """

    def __init__(
        self, paper: PaperName, titled: Callable[[Sketch, list[str]], float], facts: list[str]
    ) -> None:
        """Begin the first page; ``titled`` draws a page's head with lines, and gives y below it."""
        self._paper, self._titled = paper, titled
        self._done: list[Page] = []
        self._begin(facts)

    def _begin(self, facts: list[str]) -> None:
        self.sketch = new_sheet(self._paper)
        self.y = self._titled(self.sketch, facts)

    def turn(self) -> None:
        """Finish the page and begin the next."""
        self._done.append(self.sketch.page())
        self._begin(["continued"])

    @property
    def left(self) -> float:
        """How much room is left on the page, points."""
        return self.sketch.height - MARGIN - self.y

    def need(self, height: float) -> None:
        """Begin a new page unless so much room is left."""
        if self.y + height > self.sketch.height - MARGIN:
            self.turn()

    def pages(self) -> tuple[Page, ...]:
        """Return all pages, the one being written too."""
        return (*self._done, self.sketch.page())


def write_paragraph(sheets: Sheets, text: str, wide: float, *, bold: bool) -> None:
    """Write text over as many lines as it needs."""
    for line in wrapped(text[:1].upper() + text[1:], wide, 9.5, bold=bold) if text else ():
        sheets.need(13.0)
        sheets.sketch.text(MARGIN, sheets.y + 9.0, line, 9.5, bold=bold)
        sheets.y += 13.0
