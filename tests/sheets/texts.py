"""What is written on a page, and whether any of it lies over other words."""

from itertools import combinations

from shapely.geometry import Polygon, box

from scanner.sheets.drawing import Page, Text
from scanner.sheets.fonts import text_width


def words_on(page: Page) -> str:
    """Return all text of a page."""
    return "\n".join(shape.text for shape in page.shapes if isinstance(shape, Text))


def place_of(text: Text) -> Polygon:
    """Return the place that the small letters of a text take."""
    wide = text_width(text.text, text.size, bold=text.bold)
    left = text.x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    return box(left, text.y - 0.72 * text.size, left + wide, text.y)


def overlapping_texts(page: Page) -> list[tuple[str, str]]:
    """Return the pairs of texts that lie over each other."""
    texts = [shape for shape in page.shapes if isinstance(shape, Text)]
    placed = [(text.text, place_of(text)) for text in texts]
    return [(a[0], b[0]) for a, b in combinations(placed, 2) if a[1].intersection(b[1]).area > 0.5]


def texts_off_the_page(page: Page) -> list[str]:
    """Return texts that run over the rim of the paper (12 points are unprintable)."""
    paper = box(12, 12, page.width - 12, page.height - 12)
    texts = [shape for shape in page.shapes if isinstance(shape, Text)]
    return [text.text for text in texts if not paper.covers(place_of(text))]
