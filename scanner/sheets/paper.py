"""Paper sizes and the frame that every sheet keeps, points."""

from typing import Literal

from scanner.errors import SettingsError
from scanner.sheets.drawing import INK, PAPER, Sketch, box_points
from scanner.sheets.fonts import shortened, text_width

PaperName = Literal["a4", "letter"]
# Landscape; ISO 216 and ANSI Y14.1 sizes at 72 points an inch.
SIZES: dict[str, tuple[float, float]] = {"a4": (841.89, 595.28), "letter": (792.0, 612.0)}
MARGIN = 26.0


def paper_named(name: str) -> PaperName:
    """Return a paper size by its name.

    Raises
    ------
    SettingsError
        There is no such paper.
    """
    match name.strip().lower():
        case "a4":
            return "a4"
        case "letter":
            return "letter"
    raise SettingsError(f'"{name}" is no paper size of ours', "choose a4 or letter")


def new_sheet(paper: PaperName) -> Sketch:
    """Return an empty landscape sheet."""
    return Sketch(*SIZES[paper])


def draw_title(sketch: Sketch, title: str, lines: list[str], status: str, alarm: bool) -> float:
    """Draw the head of a sheet: big title, facts beside it, a status plate; return y below."""
    sketch.text(MARGIN, MARGIN + 22.0, title, 26.0, bold=True)
    left = MARGIN + text_width(title, 26.0, bold=True) + 14.0
    right = sketch.width - MARGIN
    if status:
        wide = text_width(status, 13.0, bold=True) + 16.0
        x = right - wide
        right = x - 10.0
        plate = box_points(x, MARGIN - 2.0, wide, 22.0)
        if alarm:
            sketch.area(plate, INK)
        else:
            sketch.ring(plate, 0.8)
        sketch.text(x + 8.0, MARGIN + 13.5, status, 13.0, bold=True, color=PAPER if alarm else INK)
    for number, line in enumerate(lines):
        size = 10.5
        while size > 7.0 and text_width(line, size) > right - left:
            size -= 0.5
        sketch.text(left, MARGIN + 9.0 + 14.0 * number, shortened(line, right - left, size), size)
    return MARGIN + max(28.0, 14.0 * len(lines)) + 6.0
