"""The yard card as one sheet of paper."""

from collections.abc import Sequence

from scanner.lot.money import amount_text
from scanner.lot.need import Need
from scanner.lot.yard_card import EXTRAS, SIGHT_MM, CardSection, FromOneBoard
from scanner.sheets.drawing import GREY, Page, Sketch
from scanner.sheets.fonts import wrapped
from scanner.sheets.paper import MARGIN, PaperName, draw_title
from scanner.sheets.table import ROW_STEP, Column, draw_table, fitted_columns, width_of
from scanner.sheets.under_way import Sheets
from scanner.sheets.words import bare, unit_name
from scanner.units import MM_PER_INCH, decimal_text, exact_text, length_text, percent_text

NO_PROMISE_AT_THE_RACK = (
    "Look at both faces and both ends of every board. What looks clear at the rack is not proven"
    " clear."
)
FACES_MEAN = "What a part asks of its faces"
_MEANINGS = {
    "both": "clear on both faces",
    "show": "one face clear, the other may have flaws that do not come through",
    "sound": "knots and stain may show where they do not weaken it",
    "hidden": "as sound, and a little wane along one edge",
}
_SIZE = 10.0
_GAP = 24.0
_ANY_BEND_MM = 40.0


def yard_card_pages(
    sections: Sequence[CardSection], paper: PaperName, units: str, currency: str = ""
) -> tuple[Page, ...]:
    """Return the card; a list too long for one sheet goes on on a second."""
    sheets = Sheets(paper, _titled, [NO_PROMISE_AT_THE_RACK])
    for section in sections:
        cells = [row_cells(row_index, section, units) for row_index in range(len(section.rows))]
        columns = fitted_columns(headings(units), cells, _SIZE)
        facts = fact_lines(section, units, currency)
        left = MARGIN + width_of(columns) + _GAP
        room = sheets.sketch.width - MARGIN - left
        lines = [piece for fact in facts for piece in wrapped(fact, room, _SIZE)]
        high = 18.0 + ROW_STEP * _SIZE * (1.2 + max(len(cells), len(lines)))
        if sheets.y > 120.0:
            sheets.need(high)
        sketch, y = sheets.sketch, sheets.y
        sketch.text(MARGIN, y + 10.0, section_title(section.need), 13.0, bold=True)
        draw_table(sketch, MARGIN, y + 16.0, columns, cells, _SIZE)
        for number, line in enumerate(lines):
            sketch.text(left, y + 16.0 + _SIZE + ROW_STEP * _SIZE * number, line, _SIZE)
        sheets.y += high + 12.0
    wide = sheets.sketch.width - 2 * MARGIN
    meanings = wrapped("; ".join(faces_lines(sections)), wide, _SIZE)
    sheets.need(ROW_STEP * _SIZE * len(meanings) + 12.0)
    sketch = sheets.sketch
    for number, line in enumerate(meanings):
        sketch.text(MARGIN, sheets.y + _SIZE + ROW_STEP * _SIZE * number, line, _SIZE)
    foot = (
        "Sizes and board feet are rough, allowances in them; buy more, as flaws and offcuts take "
        "their share. Widths and lengths are those free of checks, knots and wane."
    )
    sketch.text(MARGIN, sketch.height - MARGIN + 4.0, foot, 9.0, color=GREY)
    return sheets.pages()


def _titled(sketch: Sketch, lines: list[str]) -> float:
    return draw_title(sketch, "Yard card", lines, "", alarm=False) + 10.0


def faces_lines(sections: Sequence[CardSection]) -> list[str]:
    """Return what these parts' words for their faces mean: who helps at the rack has no list."""
    asked = {row.faces for section in sections for row in section.rows}
    return [f"{word}: {meaning}" for word, meaning in _MEANINGS.items() if word in asked]


def section_title(need: Need) -> str:
    """Return ``white ash 4/4: 9.1 board feet in the parts, waste not counted``."""
    species = need.species or "any species"
    if need.quarters is None:
        return f"{species}: no class is thick enough, glue it up"
    feet = decimal_text(need.rough_feet, 1)
    return f"{species} {need.quarters}/4: {feet} board feet in the parts, waste not counted"


def headings(units: str) -> list[Column]:
    """Return the columns of the parts table."""
    unit = unit_name(units)
    return [
        Column("part", bold=True, gives=True),
        Column("how many", anchor="end"),
        Column(f"width, {unit}", anchor="end", bold=True),
        Column(f"length, {unit}", anchor="end", bold=True),
        Column("faces"),
    ]


def row_cells(index: int, section: CardSection, units: str) -> list[str]:
    """Return the cells of one part."""
    row = section.rows[index]
    return [
        row.name,
        str(row.count),
        bare(row.width_mm, units),
        bare(row.length_mm, units),
        row.faces,
    ]


def fact_lines(section: CardSection, units: str, currency: str = "") -> list[str]:
    """Return what to look for, in words."""
    sight = "8 ft" if units == "inch" else f"{SIGHT_MM / 1000:.2f} m"
    lines = [
        f"Narrowest board that gives any part: {length_text(section.narrowest_mm, units)};"
        f" that gives every part: {length_text(section.widest_mm, units)}.",
        f"The widest twice side by side: {length_text(section.two_abreast_mm, units)}.",
        f"Longest part: {section.longest.name}, {length_text(section.longest.length_mm, units)}.",
        _bend_line("an edge", section.crook_mm, units, sight),
    ]
    if section.bow_mm is not None:
        lines.append(_bend_line("a face", section.bow_mm, units, sight))
    running = ", ".join(
        f"{_running(length, units)} of {length_text(width, units)}"
        for width, length in section.running_mm
    )
    lines.append(f"Running length by width: {running}.")
    lines += [_one_board_line(one, units) for one in section.from_one_board]
    if section.price_limits:
        limits = ", ".join(
            f"{amount_text(limit, currency)} with {percent_text(extra)} extra"
            for extra, limit in zip(EXTRAS, section.price_limits, strict=True)
        )
        lines.append(f"A board foot may cost at most {limits}.")
    return lines


def _one_board_line(one: FromOneBoard, units: str) -> str:
    """Return what must not be gathered from several boards."""
    of = " and ".join(f"{count} × {name}" for name, count in one.of)
    row = one.in_a_row_mm
    along = "" if row is None else f", one after the other in a row of {length_text(row, units)}"
    each = "" if one.times == 1 else f", for each of the {one.times}"
    book = ""
    if one.resawn_mm is not None:
        thick = exact_text(one.resawn_mm, units)
        book = f", bookmatched if it is {thick} thick to be resawn, else side by side"
    return f"From one board: {of}{along}{each}{book}."


def _bend_line(what: str, bend_mm: float, units: str, sight: str) -> str:
    """Return how far an edge or a face may bend for the longest part."""
    if bend_mm > _ANY_BEND_MM:
        # Nobody buys a board that bends more: the figure would only puzzle.
        return f"For it {what} may bend as far as on any board you would buy."
    far = "hardly at all" if bend_mm < 1.0 else length_text(bend_mm, units)
    return f"For it {what} may bend {far} over {sight}."


def _running(length_mm: float, units: str) -> str:
    if units == "inch":
        return f"{decimal_text(length_mm / MM_PER_INCH / 12, 1)} ft"
    return f"{decimal_text(length_mm / 1000, 1)} m"
