"""The sheets' two type faces (they come with reportlab) and how wide a text is in them."""

from functools import cache, lru_cache
from pathlib import Path

import reportlab
from PIL import ImageFont
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from scanner.units import unbroken

REGULAR = "SheetRegular"
BOLD = "SheetBold"
_FOLDER = Path(reportlab.__file__).parent / "fonts"
_FILES = {REGULAR: _FOLDER / "Vera.ttf", BOLD: _FOLDER / "VeraBd.ttf"}


@cache
def register() -> None:
    """Make both faces known to reportlab, once."""
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(file)))


@cache
def image_font(bold: bool, size_px: int) -> ImageFont.FreeTypeFont:
    """Return the face for drawing on pictures."""
    return ImageFont.truetype(str(_FILES[BOLD if bold else REGULAR]), size_px)


def face_name(bold: bool) -> str:
    """Return reportlab's name of the face."""
    register()
    return BOLD if bold else REGULAR


# The same words are measured again and again while a place for them is looked for.
@lru_cache(maxsize=8192)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a text in the units of ``size``."""
    return float(pdfmetrics.stringWidth(text, face_name(bold), size))


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """Return the text as lines no wider than ``width``; a longer word stands alone.

    A size keeps together.
    """
    lines: list[str] = []
    line = ""
    for whole in unbroken(" ".join(text.split())).split(" "):
        word = whole.replace("\u00a0", " ")
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size, bold=bold) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def shortened(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return the text, cut with an ellipsis where it is wider than ``width``."""
    if text_width(text, size, bold=bold) <= width:
        return text
    while text and text_width(f"{text}…", size, bold=bold) > width:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""
