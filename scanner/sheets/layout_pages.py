"""The pages of a layout sheet under way, and paragraphs on them."""

from dataclasses import dataclass

from scanner.lot.totals import NOT_LOOKED_OVER, LayoutTotals, count_text
from scanner.sheets.drawing import Page, Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet


@dataclass(slots=True)
class Sheets:
    """Pages under way: a new one is begun where room runs out."""

    paper: PaperName
    figures: LayoutTotals
    done: list[Page]
    sketch: Sketch
    y: float

    def need(self, height: float) -> None:
        """Begin a new page unless so much room is left."""
        if self.y + height > self.sketch.height - MARGIN:
            self.turn()

    def turn(self) -> None:
        """Finish the page and begin the next."""
        self.done.append(self.sketch.page())
        self.sketch = new_sheet(self.paper)
        self.y = draw_title(self.sketch, "Layout", ["continued"], *status_of(self.figures))


def status_of(figures: LayoutTotals) -> tuple[str, bool]:
    """Return what stands in the title beside it, and whether it warns."""
    missing = len(figures.not_looked_over)
    if not missing:
        return "all boards looked over", False
    return f"{count_text(missing).upper()} {NOT_LOOKED_OVER}", True


def write_paragraph(sheets: Sheets, text: str, wide: float, *, bold: bool) -> None:
    """Write text over as many lines as it needs."""
    for line in wrapped(text[:1].upper() + text[1:], wide, 9.5, bold=bold) if text else ():
        sheets.need(13.0)
        sheets.sketch.text(MARGIN, sheets.y + 9.0, line, 9.5, bold=bold)
        sheets.y += 13.0
