"""The printable coded strip, cross arm and board cards as a PDF at exact scale."""

import io

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from scanner.sheets.fonts import REGULAR, face_name
from scanner.sheets.strip_shapes import Area, Page, Stroke, Words

FONT = "Helvetica"
# Capitals and figures are this share of a font's size (Adobe's and the sheets' own font metrics).
_CAPITAL_SHARE = {FONT: 0.718, REGULAR: 0.729}


def _draw(canvas: Canvas, page: Page, face: str) -> None:
    for shape in page.shapes:
        match shape:
            case Area(points, grey):
                canvas.setFillGray(grey)
                path = canvas.beginPath()
                path.moveTo(points[0][0] * mm, points[0][1] * mm)
                for x, y in points[1:]:
                    path.lineTo(x * mm, y * mm)
                path.close()
                canvas.drawPath(path, stroke=0, fill=1)
            case Stroke((x0, y0), (x1, y1), width, grey):
                canvas.setStrokeGray(grey)
                canvas.setLineWidth(width * mm)
                canvas.line(x0 * mm, y0 * mm, x1 * mm, y1 * mm)
            case Words((x, y), text, height, grey, centred, turn):
                canvas.setFillGray(grey)
                canvas.setFont(face, height * mm / _CAPITAL_SHARE[face])
                canvas.saveState()
                canvas.translate(x * mm, y * mm)
                canvas.rotate(turn)
                (canvas.drawCentredString if centred else canvas.drawString)(0, 0, text)
                canvas.restoreState()


def shapes_pdf(pages: tuple[Page, ...], title: str, face: str | None = None) -> bytes:
    """Return pages of shapes as a PDF that viewers print at 100 %.

    ``face`` None: the sheets' own face, which has the letters of most languages.
    """
    face = face or face_name(bold=False)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=_points(pages[0]), invariant=1)
    canvas.setTitle(title)
    # Viewers that obey this print at 100 % unless told otherwise.
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize(_points(page))
        _draw(canvas, page, face)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _points(page: Page) -> tuple[float, float]:
    return page.size_mm[0] * mm, page.size_mm[1] * mm
