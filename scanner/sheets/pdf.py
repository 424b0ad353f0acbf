"""Pages as a PDF; the same pages give the same bytes."""

import io
from collections.abc import Iterable

from PIL import Image
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from scanner.sheets.drawing import FINE, Area, Line, Page, Picture, Rgb, Text
from scanner.sheets.fonts import face_name

_JPEG_QUALITY = 82


def pdf_bytes(pages: Iterable[Page], title: str) -> bytes:
    """Return one PDF of the pages, without date or other traces of when and where."""
    # Streams as they are: written as letters they take a quarter more room, and long to write.
    rl_config.useA85 = 0
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("bothfaces")
    for page in pages:
        canvas.setPageSize((page.width, page.height))
        # From here on y runs down, as on the page.
        for shape in page.shapes:
            _draw(canvas, page.height, shape)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def is_own_pdf(content: bytes, title: str) -> bool:
    """Return whether `pdf_bytes` wrote this file under this title, and nobody saved it since.

    The whole record of title, creator, producer and dates is compared: notes added in a viewer
    append one with the day they were made.
    """
    ours = _record_of(pdf_bytes((), title))
    return bool(ours) and _record_of(content) == ours


def _record_of(content: bytes) -> bytes:
    """Return a PDF's last record of what it is, as reportlab writes it; empty where none is."""
    start = content.rfind(b"/Author ")
    end = content.find(b"/Trapped", start)
    return content[start:end] if 0 <= start < end else b""


def jpeg_sized(image: Image.Image, width: float, height: float) -> bytes:
    """Return a picture as JPEG, no finer than ``width`` × ``height`` points need."""
    wanted = (
        max(1, min(image.width, round(width * FINE))),
        max(1, min(image.height, round(height * FINE))),
    )
    small = image.convert("RGB")
    if wanted != small.size:
        small = small.resize(wanted, Image.Resampling.LANCZOS)
    buffer = io.BytesIO()
    small.save(buffer, "JPEG", quality=_JPEG_QUALITY)
    return buffer.getvalue()


def _draw(canvas: Canvas, height: float, shape: Line | Area | Text | Picture) -> None:
    match shape:
        case Line():
            canvas.setStrokeColorRGB(*_unit(shape.color))
            canvas.setLineWidth(shape.width)
            canvas.setLineCap(0 if shape.dash else 1)
            canvas.setLineJoin(1)
            canvas.setDash(*(([*shape.dash],) if shape.dash else ()))
            path = canvas.beginPath()
            path.moveTo(shape.points[0][0], height - shape.points[0][1])
            for x, y in shape.points[1:]:
                path.lineTo(x, height - y)
            canvas.drawPath(path, stroke=1, fill=0)
        case Area():
            canvas.setFillColorRGB(*_unit(shape.fill))
            canvas.setFillAlpha(shape.opacity)
            path = canvas.beginPath()
            path.moveTo(shape.points[0][0], height - shape.points[0][1])
            for x, y in shape.points[1:]:
                path.lineTo(x, height - y)
            path.close()
            canvas.drawPath(path, stroke=0, fill=1)
            canvas.setFillAlpha(1.0)
        case Text():
            canvas.setFillColorRGB(*_unit(shape.color))
            canvas.setFont(face_name(shape.bold), shape.size)
            write = {
                "start": canvas.drawString,
                "middle": canvas.drawCentredString,
                "end": canvas.drawRightString,
            }[shape.anchor]
            write(shape.x, height - shape.y, shape.text)
        case Picture():
            jpeg = jpeg_sized(shape.image, shape.width, shape.height)
            canvas.drawImage(
                ImageReader(io.BytesIO(jpeg)),
                shape.x,
                height - shape.y - shape.height,
                shape.width,
                shape.height,
            )


def _unit(color: Rgb) -> tuple[float, float, float]:
    return (color[0] / 255, color[1] / 255, color[2] / 255)
