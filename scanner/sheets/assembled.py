"""Sheets of an assembled view: the picture at a round scale, then what the bench needs of it."""

from collections.abc import Mapping
from dataclasses import dataclass

from PIL import Image

from scanner.board.assembly import Assembly, Member, Place
from scanner.board.board import Board
from scanner.sheets.drawing import GREY, INK, Page, Point, Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.paper import MARGIN, PaperName, draw_title, new_sheet
from scanner.sheets.piece_picture import piece_picture
from scanner.sheets.scale_bar import draw_scale_bar
from scanner.sheets.table import ROW_STEP, Column, draw_table, fitted_columns, rows_that_fit
from scanner.sheets.under_way import Sheets
from scanner.sheets.words import bare, unit_name
from scanner.units import MM_PER_INCH, size_text

# Both systems' usual drawing scales.
_RATIOS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20, 24, 25, 30, 32, 40, 48, 50, 75, 100)
_POINTS_PER_MM = 72 / MM_PER_INCH
# Fine enough for 200 dots an inch on the page.
_DOTS_PER_POINT = 200 / 72
# Numbers and arrows stand in this rim round the wood.
_RIM = 26.0
_FROM_PHOTOS = (
    "Drawn from photographs of the rough boards, before anything is cut: planed and finished wood "
    "is richer in colour, and shimmer shows in no photograph."
)


@dataclass(frozen=True, slots=True)
class AssembledContent:
    """What the sheets of one group tell.

    Attributes
    ----------
    pictures
        Flat pictures by board id and face; what is missing is drawn plain.
    unseen
        Boards that nobody has looked over.
    hints, costs
        Sentences for the bench: what to look at, and what a better match would cost.
    """

    assembly: Assembly
    title: str
    boards: Mapping[str, Board]
    pictures: Mapping[tuple[str, int], Image.Image | None]
    units: str
    hints: tuple[str, ...] = ()
    costs: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()


def assembled_sheet(content: AssembledContent, paper: PaperName) -> tuple[Page, ...]:
    """Return the picture to show around, and the page for the bench; long tables run on."""
    return (picture_page(content, paper), *_bench_pages(content, paper))


def picture_page(content: AssembledContent, paper: PaperName) -> Page:
    """Return the group drawn at a round scale, as large as it goes, with a scale bar."""
    sketch = new_sheet(paper)
    width, height = content.assembly.size_mm
    units = content.units
    facts = [f"{size_text(width, height, units)}, {len(content.assembly.members)} pieces"]
    top = draw_title(sketch, content.title, facts, "", alarm=False) + 8.0
    foot = _foot(content)
    lines = [line for text in foot for line in wrapped(text, sketch.width - 2 * MARGIN, 9.0)]
    bottom = sketch.height - MARGIN - 12.5 * len(lines) - 26.0
    room = (sketch.width - 2 * MARGIN - 2 * _RIM, bottom - top - 2 * _RIM)
    ratio = ratio_for((width, height), room)
    scale = _POINTS_PER_MM / ratio
    left = (sketch.width - width * scale) / 2
    high = top + _RIM + max(0.0, (room[1] - height * scale) / 2)
    draw_assembly(sketch, content, (left, high), scale)
    y = sketch.height - MARGIN - 12.5 * len(lines)
    sketch.text(MARGIN, y - 8.0, f"Scale 1:{ratio:g} printed at 100 %", 9.5, bold=True)
    draw_scale_bar(sketch, sketch.width - MARGIN, y - 11.0, scale, units)
    for line in lines:
        sketch.text(MARGIN, y + 9.0, line, 9.0)
        y += 12.5
    return sketch.page()


def _foot(content: AssembledContent) -> list[str]:
    said = [_FROM_PHOTOS]
    if content.unseen:
        said.append(
            f"Not looked over: {', '.join(content.unseen)}. Flaws may show there that nobody has "
            "seen yet."
        )
    return said


def ratio_for(size_mm: Point, room: Point) -> float:
    """Return the smallest round ratio at which a size (mm) fits a room (points)."""
    for ratio in _RATIOS:
        scale = _POINTS_PER_MM / ratio
        if size_mm[0] * scale <= room[0] and size_mm[1] * scale <= room[1]:
            return ratio
    return _RATIOS[-1]


def draw_assembly(sketch: Sketch, content: AssembledContent, at: Point, scale: float) -> None:
    """Draw the pieces where they lie, each with its number and its arrow beside it."""
    members = content.assembly.members
    for number, (member, place) in enumerate(
        zip(members, content.assembly.places(), strict=True), 1
    ):
        x, y = at[0] + place.x * scale, at[1] + place.y * scale
        wide, high = place.width * scale, place.height * scale
        image = _shown(content, member, place, 1 / (scale * _DOTS_PER_POINT))
        sketch.picture(x, y, wide, high, image)
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        sketch.ring(corners, 0.5, INK)
        _mark(sketch, number, member, place.upright, (x, y, wide, high), content.assembly.way)


def _shown(
    content: AssembledContent, member: Member, place: Place, mm_per_px: float
) -> Image.Image:
    picture = content.pictures.get((member.board, member.face))
    image = piece_picture(member, content.boards[member.board], picture, mm_per_px)
    # An upright piece has its left end at the foot.
    return image.transpose(Image.Transpose.ROTATE_90) if place.upright else image


def _mark(
    sketch: Sketch,
    number: int,
    member: Member,
    upright: bool,
    frame: tuple[float, float, float, float],
    way: str,
) -> None:
    """Write the piece's number before it, and its arrow after it, off the wood."""
    x, y, wide, high = frame
    if upright or way == "in_a_row":
        sketch.disc(x + wide / 2, y + high + 13.0, str(number), 8.0, solid=False)
        middle = (x + wide / 2, y - 11.0)
    else:
        sketch.disc(x - 13.0, y + high / 2, str(number), 8.0, solid=False)
        middle = (x + wide + 13.0, y + high / 2)
    _arrow(sketch, middle, member.arrow, upright)


def _arrow(sketch: Sketch, middle: Point, way: int, upright: bool) -> None:
    half, barb = 7.0, 3.5
    # To the right along the wood is up on an upright piece.
    along = (0.0, -float(way)) if upright else (float(way), 0.0)
    aside = (-along[1], along[0])
    tip = (middle[0] + half * along[0], middle[1] + half * along[1])
    tail = (middle[0] - half * along[0], middle[1] - half * along[1])
    sketch.line([tail, tip], 1.2, GREY)
    for side in (-1, 1):
        end = (
            tip[0] - barb * along[0] + side * barb * aside[0],
            tip[1] - barb * along[1] + side * barb * aside[1],
        )
        sketch.line([tip, end], 1.2, GREY)


def _bench_pages(content: AssembledContent, paper: PaperName) -> tuple[Page, ...]:
    units = content.units
    sheets = Sheets(
        paper,
        lambda sketch, lines: draw_title(sketch, content.title, lines, "", alarm=False) + 6.0,
        ["for the bench: hints, not rules"],
    )
    wide = sheets.sketch.width - 2 * MARGIN
    arrows = (
        "The arrow beside a piece is the way its board shimmers: pieces of one board whose arrows "
        "agree shimmer alike. Arrows of different boards cannot be compared."
    )
    for text in (*content.hints, arrows, *content.costs):
        lines = wrapped(text, wide - 10.0, 9.5)
        # Two lines: a dot at the foot of a page would lose its sentence.
        sheets.need(13.0 * min(2, len(lines)))
        sheets.sketch.text(MARGIN, sheets.y + 9.0, "•", 9.5, bold=True)
        for line in lines:
            sheets.need(13.0)
            sheets.sketch.text(MARGIN + 10.0, sheets.y + 9.0, line, 9.5)
            sheets.y += 13.0
    sheets.y += 8.0
    headings = [
        Column("no.", anchor="end", bold=True),
        Column("piece", bold=True, gives=True),
        Column("board"),
        Column("face up"),
        Column("end at the left (foot)"),
        Column(f"from end A, {unit_name(units)}", anchor="end"),
        Column(f"finished, {unit_name(units)}"),
    ]
    rows = [
        [
            str(number),
            member.title,
            member.board,
            f"face {member.face}",
            "end B" if member.is_turned else "end A",
            bare(member.corner_mm[0], units),
            size_text(*member.size_mm, units).removesuffix(f" {unit_name(units)}"),
        ]
        for number, member in enumerate(content.assembly.members, 1)
    ]
    columns = fitted_columns(headings, rows, 10.0)
    while rows:
        room = rows_that_fit(sheets.left, 10.0)
        if room < min(3, len(rows)):
            sheets.turn()
            continue
        draw_table(sheets.sketch, MARGIN, sheets.y, columns, rows[:room], 10.0)
        sheets.y += (min(room, len(rows)) + 1.15) * ROW_STEP * 10.0
        rows = rows[room:]
    return sheets.pages()
