"""Boards beside each other as strips of their faces, the likest first, for the eye to judge."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from scanner.sheets.fonts import image_font, shortened

_WIDE_PX = 1500
# So much of each board's length is shown, from its middle: more would be too small to judge.
_STRETCH_MM = 600.0
_MARGIN_PX, _GAP_PX, _WORDS_PX = 20, 12, 54
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
    rows = [_WORDS_PX + max((p.height for p in faces), default=0) + _GAP_PX for faces in drawn]
    height = 2 * _MARGIN_PX + _WORDS_PX + sum(rows)
    sheet = Image.new("RGB", (_WIDE_PX + 2 * _MARGIN_PX, height), _PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((_MARGIN_PX, _MARGIN_PX), heading, fill=_INK, font=image_font(True, _LETTERS_PX + 4))
    top = _MARGIN_PX + _WORDS_PX
    for strip, faces in zip(strips, drawn, strict=True):
        bold, plain = image_font(True, _LETTERS_PX), image_font(False, _LETTERS_PX)
        pen.text((_MARGIN_PX, top + 14), strip.title, fill=_INK, font=bold)
        left = _MARGIN_PX + pen.textlength(f"{strip.title}   ", font=bold)
        room = _WIDE_PX + _MARGIN_PX - left
        words = shortened(strip.words, room, _LETTERS_PX)
        pen.text((left, top + 14), words, fill=_INK, font=plain)
        top += _WORDS_PX
        for number, picture in enumerate(faces):
            sheet.paste(picture, (_MARGIN_PX + number * (_FACE_PX + _GAP_PX), top))
        top += max((picture.height for picture in faces), default=0) + _GAP_PX
    return sheet


def _stretch(picture: Image.Image, mm_per_px: float) -> Image.Image:
    """Return the middle of a face at the sheet's scale; a shorter board leaves paper."""
    half = _STRETCH_MM / 2 / mm_per_px
    middle = picture.width / 2
    left, right = max(0.0, middle - half), min(float(picture.width), middle + half)
    scale = _FACE_PX * mm_per_px / _STRETCH_MM
    size = (max(1, round((right - left) * scale)), max(1, round(picture.height * scale)))
    return picture.resize(size, Image.Resampling.LANCZOS, box=(left, 0, right, picture.height))
