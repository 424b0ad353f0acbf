"""Boards beside each other as strips of their faces, the likest first, for the eye to judge."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from scanner.sheets.fonts import image_font, text_width, wrapped

_WIDE_PX = 1500
# So much of each board's length is shown, from its middle: more would be too small to judge.
_STRETCH_MM = 600.0
_MARGIN_PX, _GAP_PX, _WORDS_PX = 20, 12, 54
# From one line of words to the next.
_LINE_PX = 32
_FACE_PX = (_WIDE_PX - _GAP_PX) // 2
_LETTERS_PX = 26
_PAPER, _INK = (255, 255, 255), (20, 20, 20)


@dataclass(frozen=True, slots=True)
class Strip:
    """A board's faces, each with the mm of one pixel; and what is to be said of it."""

    title: str
    words: str
    faces: tuple[tuple[Image.Image, float], ...]


def alike_sheet(heading: str, strips: tuple[Strip, ...]) -> Image.Image:
    """Return the sheet: a heading, then for each board its words and its faces at one scale.

    Both faces of a board stand beside each other.
    """
    drawn = [[_stretch(*face) for face in strip.faces] for strip in strips]
    # Words that need it take several lines, beside the board's name.
    after = [text_width(f"{s.title}   ", _LETTERS_PX, bold=True) for s in strips]
    said = [
        wrapped(strip.words, _WIDE_PX - left, _LETTERS_PX)
        for strip, left in zip(strips, after, strict=True)
    ]
    words_tall = [_WORDS_PX + _LINE_PX * max(len(lines) - 1, 0) for lines in said]
    faces_tall = [max((picture.height for picture in faces), default=0) for faces in drawn]
    height = 2 * _MARGIN_PX + _WORDS_PX + sum(words_tall) + sum(faces_tall)
    height += _GAP_PX * len(strips)
    sheet = Image.new("RGB", (_WIDE_PX + 2 * _MARGIN_PX, height), _PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((_MARGIN_PX, _MARGIN_PX), heading, fill=_INK, font=image_font(True, _LETTERS_PX + 4))
    top = _MARGIN_PX + _WORDS_PX
    bold, plain = image_font(True, _LETTERS_PX), image_font(False, _LETTERS_PX)
    for row, strip in enumerate(strips):
        pen.text((_MARGIN_PX, top + 14), strip.title, fill=_INK, font=bold)
        for number, line in enumerate(said[row]):
            at = (_MARGIN_PX + after[row], top + 14 + _LINE_PX * number)
            pen.text(at, line, fill=_INK, font=plain)
        top += words_tall[row]
        for number, picture in enumerate(drawn[row]):
            sheet.paste(picture, (_MARGIN_PX + number * (_FACE_PX + _GAP_PX), top))
        top += faces_tall[row] + _GAP_PX
    return sheet


def _stretch(picture: Image.Image, mm_per_px: float) -> Image.Image:
    """Return the middle of a face at the sheet's scale; a shorter board leaves paper."""
    half = _STRETCH_MM / 2 / mm_per_px
    middle = picture.width / 2
    left, right = max(0.0, middle - half), min(float(picture.width), middle + half)
    scale = _FACE_PX * mm_per_px / _STRETCH_MM
    size = (max(1, round((right - left) * scale)), max(1, round(picture.height * scale)))
    return picture.resize(size, Image.Resampling.LANCZOS, box=(left, 0, right, picture.height))
