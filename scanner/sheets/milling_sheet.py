"""The milling sheet: a table for each batch, with targets, days, boxes to tick, room to write."""

from scanner.lot.lasting_marks import LastingMarks
from scanner.lot.milling_plan import (
    REST_DAYS,
    SETUP_WIDTH_MM,
    Batch,
    MillingNotes,
    MillingPlan,
    thin_pieces,
)
from scanner.lot.totals import NOT_LOOKED_OVER
from scanner.placement.names_in_words import joined
from scanner.sheets.drawing import INK, Page, Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.lasting_marks import DRAWING_HEIGHT, HOW, draw_how, face_words, set_words
from scanner.sheets.paper import MARGIN, PaperName, draw_title
from scanner.sheets.table import ROW_STEP, Column, draw_table, fitted_columns
from scanner.sheets.under_way import Sheets
from scanner.sheets.words import LEAVE_JOINED, bare, unit_name
from scanner.units import decimal_text, exact_text, length_text, size_text

_SIZE = 9.5
_ROW = ROW_STEP * _SIZE
_BLANK = "__________"
_CARE = (
    "One face flat on the jointer, hollow face down, then the other in the planer; take both faces "
    "about equally. Pieces of one batch go through at one setting, the setup piece first.",
    "Shortest piece, widest piece and depth of cut are your machines’: their manuals come first. "
    "Look for metal, grit and loose knots before every pass.",
)


def _titled(sketch: Sketch, lines: list[str]) -> float:
    return draw_title(sketch, "Milling", lines, "", alarm=False) + 4.0


def _write(sheets: Sheets, text: str, size: float = 9.5, *, bold: bool = False) -> None:
    """Write a text over the whole width."""
    for line in wrapped(text, sheets.sketch.width - 2 * MARGIN, size, bold=bold):
        sheets.need(1.35 * size)
        sheets.sketch.text(MARGIN, sheets.y + size, line, size, bold=bold)
        sheets.y += 1.35 * size


def milling_sheet(
    plan: MillingPlan,
    notes: MillingNotes,
    units: str,
    paper: PaperName,
    marks: LastingMarks | None = None,
) -> tuple[Page, ...]:
    """Return the pages: what was chosen, then batch by batch in the order they are needed."""
    choice = plan.choice
    rest = REST_DAYS.get(choice.rest_days, f"{choice.rest_days} days")
    head = [
        f"{len(plan.batches)} {'batch' if len(plan.batches) == 1 else 'batches'}; first pass "
        f"{_thick(choice.over_mm, units)} over; rest between passes: {rest}",
        "on stickers, air on all sides"
        if choice.stickers
        else "on edge, or stacked and wrapped: turn the pieces over each day",
    ]
    sheets = Sheets(paper, _titled, head)
    sheets.y += 2.0
    for text in unseen_words(plan):
        _write(sheets, text, bold=True)
    for text in _CARE:
        _write(sheets, text)
    sheets.y += 6.0
    if not plan.batches:
        _write(sheets, "Nothing is left to mill.", bold=True)
    for number, batch in enumerate(plan.batches, 1):
        _batch(sheets, number, batch, notes, units)
    if marks is not None and marks.ends:
        _marks(sheets, marks)
    return sheets.pages()


def unseen_words(plan: MillingPlan) -> tuple[str, ...]:
    """Return a line that names the boards that nobody has looked over, if there are such."""
    named = ", ".join(plan.not_looked_over)
    return (f"{NOT_LOOKED_OVER}: {named}. Look at both faces of their pieces.",) if named else ()


def _marks(sheets: Sheets, marks: LastingMarks) -> None:
    """Say how names, show faces and sets are marked so that the planer leaves the marks."""
    sheets.need(DRAWING_HEIGHT + 80.0)
    _write(sheets, "Before the first pass: marks that survive the planer", 13.0, bold=True)
    sheets.y += 4.0
    draw_how(sheets.sketch, MARGIN, sheets.y)
    sheets.y += DRAWING_HEIGHT
    for text in (*HOW, *face_words(marks), *set_words(marks)):
        _write(sheets, text)


def _batch(sheets: Sheets, number: int, batch: Batch, notes: MillingNotes, units: str) -> None:
    sheets.need(6 * _ROW + 40.0)
    _write(
        sheets,
        f"{number}.  {_thick(batch.final_mm, units)}: {pieces_text(batch)}",
        13.0,
        bold=True,
    )
    sheets.y += 2.0
    for step, name, target, day in (
        ("first", "First pass to", batch.first_mm, batch.first_on),
        ("final", "Final pass to", batch.final_mm, batch.final_on),
    ):
        done = notes.done.get(batch.step(step))
        due = f", due {day.isoformat()}" if day else ""
        ticked = f", done {done}" if done else f", done on {_BLANK}"
        _ticked_line(sheets, f"{name} {_thick(target, units)}{due}{ticked}", bool(done))
    if batch.glue_up:
        _write(sheets, f"Glue-up: {batch.glue_up.isoformat()}")
    _write(sheets, setup_words(batch, units))
    for text in before_words(batch, units):
        _write(sheets, text, bold=True)
    if batch.short:
        names = ", ".join(dict.fromkeys(p.title for p in batch.short))
        _write(
            sheets,
            f"Less than asked for is left over: {names}. Flatten these first and measure; what "
            "they give is the first setting of the batch.",
        )
    for piece in thin_pieces(batch, notes):
        _write(sheets, f"Too thin after the rest: {piece.title}.", bold=True)
    sheets.y += 4.0
    _table(sheets, batch, notes, units)
    sheets.y += 14.0


def _ticked_line(sheets: Sheets, text: str, is_done: bool) -> None:
    sheets.need(14.0)
    x, y = MARGIN, sheets.y + 1.5
    box = [(x, y), (x + 9.0, y), (x + 9.0, y + 9.0), (x, y + 9.0)]
    sheets.sketch.ring(box, 0.9)
    if is_done:
        sheets.sketch.line([(x + 2, y + 5), (x + 4, y + 7.5), (x + 8, y + 1.5)], 1.4, INK)
    sheets.sketch.text(x + 15.0, sheets.y + 9.5, text, 9.5, bold=True)
    sheets.y += 14.0


def pieces_text(batch: Batch) -> str:
    """Return how many pieces a batch has, in words."""
    count = len(batch.pieces)
    return f"{count} {'piece' if count == 1 else 'pieces'}"


def setup_words(batch: Batch, units: str) -> str:
    """Return which left-over is the setup piece, in words."""
    one = batch.setup
    if one is None:
        return (
            "Setup piece: none of the left-overs will do; keep a piece of waste that is long "
            "enough for the planer and as thick."
        )
    strip = "a strip of " if one.width_mm >= 2 * SETUP_WIDTH_MM else ""
    resaw = (
        f"It is far thicker than this batch: resaw it first, to a little over "
        f"{_thick(batch.first_mm, units)}. "
        if batch.setup_is_thick
        else ""
    )
    return (
        f"Setup piece: {strip}the left-over {size_text(one.length_mm, one.width_mm, units)} of "
        f"{one.board}, {length_text(one.x_mm, units)} from end A. {resaw}Send it through first at "
        "every setting, and keep it."
    )


def before_words(batch: Batch, units: str) -> tuple[str, ...]:
    """Return what is done before the first pass: what is resawn, what stays in its strip."""
    said = [
        f"Resaw before the first pass: {joined([piece.title for piece in slices])}, from one blank "
        f"of {slices[0].board}. Flatten a face and an edge of it, saw it on edge into "
        f"{len(slices)}, and let the slices rest: each should give "
        f"{_thick(slices[0].gives_mm, units)}."
        for slices in batch.blanks
    ]
    if batch.too_thick:
        names = joined([f"{piece.title} ({piece.board})" for piece in batch.too_thick])
        said.append(
            f"Far thicker than this batch: {names}. Resaw rather than plane it away: the slice is "
            "wood too."
        )
    if batch.too_small:
        names = ", ".join(piece.title for piece in batch.too_small)
        said.append(f"Shorter than your jointer and planer take: {names}. {LEAVE_JOINED}")
    return tuple(said)


def _table(sheets: Sheets, batch: Batch, notes: MillingNotes, units: str) -> None:
    unit = unit_name(units)
    headings = [
        Column("piece", bold=True, gives=True),
        Column("board"),
        Column(f"rough, {unit}"),
        Column(f"should give, {unit}", anchor="end"),
        Column("first pass", anchor="middle"),
        Column(f"after rest: thick, {unit}", anchor="middle"),
        Column("flat?", anchor="middle"),
        Column("final", anchor="middle"),
    ]
    rows = [
        [
            piece.title,
            piece.board,
            size_text(piece.length_mm, piece.width_mm, units).removesuffix(f" {unit}"),
            _bare_thick(piece.gives_mm, units),
            "____",
            _bare_thick(notes.measured[piece.key], units)
            if piece.key in notes.measured
            else _BLANK,
            "____",
            "____",
        ]
        for piece in batch.pieces
    ]
    columns = fitted_columns(headings, rows, _SIZE)
    while rows:
        room = int(sheets.left / _ROW - 1.2)
        if room < min(3, len(rows)):
            sheets.turn()
            continue
        now, rows = rows[:room], rows[room:]
        sheets.y = draw_table(sheets.sketch, MARGIN, sheets.y, columns, now, _SIZE)


def _thick(mm: float, units: str) -> str:
    """Return a thickness with the tenth that a caliper shows, or its sixteenths where it is any."""
    return exact_text(mm, units)


def _bare_thick(mm: float, units: str) -> str:
    return bare(mm, units) if units == "inch" else decimal_text(mm, 1)
