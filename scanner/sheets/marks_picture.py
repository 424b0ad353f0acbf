"""The picture of the marks held against the layout: right, off or missing told by pattern too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw

from scanner.sheets.fonts import image_font

if TYPE_CHECKING:
    from scanner.board.lay_again import LaidAgain
    from scanner.lot.drawn_marks import JudgedLine, MarksVerdict
    from scanner.vision.photos.picture import FacePicture

_WIDE_PX = 2000
_BAND_PX = 40
# The page's accent for what is right; a warning tone for the rest, and a pattern of its own each.
_RIGHT, _WRONG, _CASING = (38, 98, 168), (186, 60, 20), (255, 255, 255)
_DASH_PX = 14.0


def draw_marks(
    board: str, laid: LaidAgain, verdict: MarksVerdict, picture: FacePicture
) -> Image.Image:
    """Return the marked face as photographed with the layout's lines laid over it.

    Thin and whole: drawn where it belongs. Dashed: not drawn. Thick with an arrow: drawn too far to
    that side.
    """
    flat = Image.fromarray(picture.pixels)
    scale = _WIDE_PX / flat.width
    flat = flat.resize((_WIDE_PX, max(1, round(flat.height * scale))))
    sheet = Image.new("RGB", (_WIDE_PX, flat.height + _BAND_PX), "white")
    sheet.paste(flat, (0, 0))
    pen = ImageDraw.Draw(sheet)
    a, b, d, e, x0, y0 = laid.new_from_known
    left, top = picture.origin_mm

    def spot(point: tuple[float, float]) -> tuple[float, float]:
        x, y = point
        px_per_mm = scale / picture.mm_per_px
        return (a * x + b * y + x0 - left) * px_per_mm, (d * x + e * y + y0 - top) * px_per_mm

    for one in sorted(verdict.lines, key=lambda line: not line.is_right):
        _line(pen, one, spot(one.line.begin), spot(one.line.end))
    for one in verdict.lines:
        if not one.is_right and one.off_mm is not None:
            along = one.line.side in "AB"
            x, y = ((p + q) / 2 for p, q in zip(one.line.begin, one.line.end, strict=True))
            drawn = (x + one.off_mm, y) if along else (x, y + one.off_mm)
            _arrow(pen, spot(drawn), spot((x, y)), f"{abs(one.off_mm):.0f} mm")
    wrong = sum(not one.is_right for one in verdict.lines)
    said = f"{board}, face {laid.face}: " + (
        f"the parts seem drawn {verdict.pattern}; the layout's own lines are laid over"
        if verdict.pattern != "planned"
        else f"{wrong} of {len(verdict.lines)} lines to look at"
        " (dashed: not seen; arrow: move it so)"
        if wrong
        else "all lines where they belong"
    )
    pen.text((12, flat.height + 8), said, fill="black", font=image_font(True, 22))
    return sheet


def _line(
    pen: ImageDraw.ImageDraw, one: JudgedLine, p: tuple[float, float], q: tuple[float, float]
) -> None:
    if one.is_right:
        pen.line([p, q], fill=_CASING, width=4)
        pen.line([p, q], fill=_RIGHT, width=2)
        return
    if one.off_mm is not None:
        pen.line([p, q], fill=_CASING, width=8)
        pen.line([p, q], fill=_WRONG, width=5)
        return
    begin, end = np.array(p), np.array(q)
    count = max(1, int(np.hypot(*(end - begin)) / _DASH_PX))
    for k in range(0, count, 2):
        s, t = (tuple(begin + (end - begin) * min(1.0, at / count)) for at in (k, k + 1))
        pen.line([s, t], fill=_CASING, width=8)
        pen.line([s, t], fill=_WRONG, width=5)


def _arrow(
    pen: ImageDraw.ImageDraw, begin: tuple[float, float], end: tuple[float, float], said: str
) -> None:
    way = np.array(end) - np.array(begin)
    size = float(np.hypot(*way))
    if size < 1.0:
        return
    along = way / size
    left = np.array([along[1], -along[0]])
    tip = np.array(end)
    head = [tuple(tip), tuple(tip - 12 * along + 7 * left), tuple(tip - 12 * along - 7 * left)]
    pen.line([begin, end], fill=_CASING, width=7)
    pen.line([begin, end], fill=_WRONG, width=3)
    pen.polygon(head, fill=_WRONG, outline=_CASING)
    pen.text(
        (begin[0] + 8, begin[1] + 4),
        said,
        fill=_WRONG,
        font=image_font(True, 22),
        stroke_width=3,
        stroke_fill=_CASING,
    )
