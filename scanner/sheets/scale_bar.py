"""A scale bar of a round length."""

from scanner.sheets.drawing import INK, Sketch
from scanner.sheets.fonts import text_width
from scanner.units import MM_PER_INCH, inches_text

_ROUND_MM = (1000, 500, 200, 100, 50)
_ROUND_IN = (36, 24, 12, 6, 3)
_LONGEST = 150.0
# What its length takes, written before it.
_WORDS = 56.0


def draw_scale_bar(
    sketch: Sketch, right: float, y: float, scale: float, units: str, left: float = 0.0
) -> None:
    """Draw a bar that ends at ``right`` with its length written before it, right of ``left``."""
    if units == "inch":
        lengths = [(n * MM_PER_INCH, inches_text(n * MM_PER_INCH)) for n in _ROUND_IN]
    else:
        lengths = [(float(n), f"{n} mm") for n in _ROUND_MM]
    longest = min(_LONGEST, right - left - _WORDS)
    fitting = [one for one in lengths if one[0] * scale <= longest]
    length_mm, text = fitting[0] if fitting else lengths[-1]
    start = right - length_mm * scale
    sketch.line([(start, y), (right, y)], 2.0, INK)
    for x in (start, (start + right) / 2, right):
        sketch.line([(x, y - 4), (x, y + 4)], 1.0, INK)
    sketch.text(start - 6.0 - text_width(text, 9.0), y + 3.3, text, 9.0)
