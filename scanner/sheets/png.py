"""Pages as pictures: the same shapes as in the PDF, drawn with pillow."""

import io
import math
from itertools import pairwise

from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from scanner.sheets.drawing import PAPER, Area, Line, Page, Picture, Point, Text
from scanner.sheets.fonts import image_font, text_width

_MARK = ("Software", "bothfaces")
_START_BYTES = 128  # the mark stands right after signature and header, 33 bytes

# Lines are drawn this much larger and then reduced: pillow's own lines have jagged edges.
_FINER = 2


def page_image(page: Page, width_px: int, *, under: Image.Image | None = None) -> Image.Image:
    """Return the page as an RGB picture ``width_px`` wide.

    Parameters
    ----------
    under
        Drawn on instead of white paper; stretched over the whole page.
    """
    size = (width_px, round(width_px * page.height / page.width))
    large = (size[0] * _FINER, size[1] * _FINER)
    if under is None:
        image = Image.new("RGB", large, PAPER)
    else:
        image = under.convert("RGB").resize(large, Image.Resampling.BICUBIC)
    scale = large[0] / page.width
    pen = ImageDraw.Draw(image)
    for shape in page.shapes:
        _draw(image, pen, scale, shape)
    return image.reduce(_FINER)


def png_bytes(image: Image.Image) -> bytes:
    """Return a picture as PNG that says which program wrote it (`is_own_png`)."""
    buffer, said = io.BytesIO(), PngInfo()
    said.add_text(*_MARK)
    # A hundredth larger than at zlib's usual level, in 40 % of the time.
    image.save(buffer, "PNG", optimize=False, compress_level=3, pnginfo=said)
    return buffer.getvalue()


def is_own_png(content: bytes) -> bool:
    """Return whether `png_bytes` wrote this file."""
    return content.startswith(b"\x89PNG") and "\0".join(_MARK).encode() in content[:_START_BYTES]


def _draw(
    image: Image.Image,
    pen: ImageDraw.ImageDraw,
    scale: float,
    shape: Line | Area | Text | Picture,
) -> None:
    match shape:
        case Line():
            width = max(1, round(shape.width * scale))
            for run in _dashes(shape.points, shape.dash):
                pen.line([(x * scale, y * scale) for x, y in run], shape.color, width, "curve")
        case Area():
            _fill(image, pen, [(x * scale, y * scale) for x, y in shape.points], shape)
        case Text():
            # Letter widths come from the PDF's metrics, so that plates fit in both.
            shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor]
            wide = text_width(shape.text, shape.size, bold=shape.bold)
            font = image_font(shape.bold, max(1, round(shape.size * scale)))
            at = ((shape.x - shift * wide) * scale, shape.y * scale)
            pen.text(at, shape.text, shape.color, font, anchor="ls")
        case Picture():
            size = (max(1, round(shape.width * scale)), max(1, round(shape.height * scale)))
            small = shape.image.convert("RGB").resize(size, Image.Resampling.LANCZOS)
            image.paste(small, (round(shape.x * scale), round(shape.y * scale)))


def _fill(image: Image.Image, pen: ImageDraw.ImageDraw, points: list[Point], shape: Area) -> None:
    if shape.opacity >= 1.0:
        pen.polygon(points, fill=shape.fill)
        return
    xs, ys = [x for x, _ in points], [y for _, y in points]
    left, top = max(0, math.floor(min(xs))), max(0, math.floor(min(ys)))
    right = min(image.width, math.ceil(max(xs)) + 1)
    bottom = min(image.height, math.ceil(max(ys)) + 1)
    if right <= left or bottom <= top:
        return
    mask = Image.new("L", (right - left, bottom - top), 0)
    ImageDraw.Draw(mask).polygon(
        [(x - left, y - top) for x, y in points], fill=round(255 * shape.opacity)
    )
    image.paste(shape.fill, (left, top, right, bottom), mask)


def _dashes(points: tuple[Point, ...], dash: tuple[float, float] | None) -> list[tuple[Point, ...]]:
    """Return a line as the runs that a dash pattern leaves of it."""
    if dash is None:
        return [points]
    runs: list[tuple[Point, ...]] = []
    run: list[Point] = [points[0]]
    is_on, left = True, dash[0]
    for start, end in pairwise(points):
        here, rest = start, math.dist(start, end)
        while rest > left:
            share = left / rest
            here = (here[0] + (end[0] - here[0]) * share, here[1] + (end[1] - here[1]) * share)
            rest -= left
            if is_on:
                runs.append((*run, here))
            is_on, left = not is_on, dash[1] if is_on else dash[0]
            run = [here]
        left -= rest
        run.append(end)
    if is_on and len(run) > 1:
        runs.append(tuple(run))
    return runs
