"""What boards and layouts come to, in figures and in the words that every output shares."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from statistics import fmean

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.board.volume import Tally, board_feet, lot_board_feet, quarters_of, sawn_width_mm
from scanner.placement.layout import Layout, Unplaced
from scanner.units import decimal_text, inches_from_mm, inches_text, percent_text

AVOIDED = "Possible flaws that nobody looked at were avoided."
NO_PROMISE = "Nothing found is not a promise of clear wood: look before you cut."
NOT_LOOKED_OVER = "NOT LOOKED OVER"

KIND_WORDS: Mapping[FlawKind, tuple[str, str]] = {
    FlawKind.KNOT: ("knot", "knots"),
    FlawKind.CHECK: ("check", "checks"),
    FlawKind.SPLIT: ("split", "splits"),
    FlawKind.SHAKE: ("shake", "shakes"),
    FlawKind.WANE: ("wane", "wane places"),
    FlawKind.HOLE: ("hole", "holes"),
    FlawKind.BARK_POCKET: ("bark pocket", "bark pockets"),
    FlawKind.ROT: ("rot", "rot places"),
    FlawKind.PITH: ("pith", "pith places"),
    FlawKind.STAIN: ("stain", "stains"),
    FlawKind.PITCH: ("pitch", "pitch places"),
    FlawKind.WILD_GRAIN: ("wild grain", "wild grain places"),
    FlawKind.MARKED: ("your mark", "your marks"),
}


@dataclass(frozen=True, slots=True)
class BoardTotals:
    """One board in figures.

    Attributes
    ----------
    width
        Mean of the five stations, with the mean of their U: no mean is off by more, however
        much they hang together, and one doubtful place is not told of the whole board.
    narrowest_mm, widest_mm
        Of the five stations.
    surface_measure
        Whole square feet; exact halves go up and down in turn through the lot.
    unseen
        Faces that were not photographed though the other one was.
    flaws
        Face number to counts by kind; struck flaws left out. A flaw on both faces counts on each.
    possible
        Face number to how many of them were found and nobody has looked at.
    """

    id: str
    species: str
    length: Measured
    width: Measured
    narrowest_mm: float
    widest_mm: float
    thickness: Measured
    quarters: int
    surface_measure: int
    board_feet: Fraction
    flaws: Mapping[int, Mapping[FlawKind, int]]
    looked_over: Mapping[int, bool]
    quality: str
    unseen: tuple[int, ...] = ()
    possible: Mapping[int, int] = field(default_factory=dict)

    @property
    def is_looked_over(self) -> bool:
        """Whether the user looked over both faces."""
        return all(self.looked_over.values())


@dataclass(frozen=True, slots=True)
class LayoutTotals:
    """One layout in figures; waste is never the same as extra to buy (`lot.need.waste_of`)."""

    placed: int
    asked: int
    boards_opened: int
    board_feet: float
    yield_share: float
    waste_share: float
    unplaced: tuple[Unplaced, ...]
    not_looked_over: tuple[str, ...]


def board_totals(boards: Iterable[Board]) -> tuple[BoardTotals, ...]:
    """Return the figures of each board of a lot, tallied in their order (NHLA, exact halves)."""
    tally = Tally()
    return tuple(_totals_of(board, tally) for board in boards)


def board_feet_of(totals: Iterable[BoardTotals]) -> Fraction:
    """Return the lot's board feet."""
    return lot_board_feet((board.quarters, board.surface_measure) for board in totals)


def layout_totals(layout: Layout) -> LayoutTotals:
    """Return the figures of a layout."""
    share = layout.summary.yield_share
    return LayoutTotals(
        placed=layout.summary.placed,
        asked=layout.summary.asked,
        boards_opened=layout.summary.boards_opened,
        board_feet=layout.summary.board_feet,
        yield_share=share,
        waste_share=1 - share,
        unplaced=layout.unplaced,
        not_looked_over=layout.not_looked_over,
    )


def flaw_word(kind: FlawKind, count: int = 1) -> str:
    """Return the trade's word for a kind of flaw, one or several."""
    one, several = KIND_WORDS[kind]
    return one if count == 1 else several


# What the id of a mark begins with whose wood was spoiled in the shop: nobody drew it.
SPOILED = "spoiled"


def flaw_title(flaw: Flaw) -> str:
    """Return a flaw's short name for a label: ``F1 knot?`` while it is only possible."""
    if flaw.kind is FlawKind.MARKED and flaw.id.startswith(SPOILED):
        return SPOILED
    word = flaw_word(flaw.kind)
    if flaw.kind is FlawKind.KNOT and flaw.state is not FlawState.POSSIBLE:
        word = {True: "sound knot", False: "unsound knot", None: "knot"}[flaw.sound]
    return f"{flaw.id} {word}{'?' if flaw.state is FlawState.POSSIBLE else ''}"


def flaws_text(counts: Mapping[FlawKind, int]) -> str:
    """Return counts by kind, most first: ``2 knots, 1 check``; ``nothing found``."""
    if not counts:
        return "nothing found"
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return ", ".join(_counted(kind, count) for kind, count in ordered)


def _counted(kind: FlawKind, count: int) -> str:
    if kind is FlawKind.MARKED:
        return f"{count} mark{'' if count == 1 else 's'} of yours"
    return f"{count} {flaw_word(kind, count)}"


def thickness_text(totals: BoardTotals, units: str = "mm") -> str:
    """Return the class and the measured thickness: ``4/4 (27.0 ± 1.0 mm)``."""
    return f"{totals.quarters}/4 ({totals.thickness.text(units)})"


def width_text(totals: BoardTotals, units: str = "mm") -> str:
    """Return the mean width, and the range where the board tapers by more than its U."""
    text = totals.width.text(units)
    if totals.widest_mm - totals.narrowest_mm <= 2 * totals.width.u_mm:
        return text
    if units == "inch":
        low, high = inches_text(totals.narrowest_mm).removesuffix(" in"), totals.widest_mm
        return f"{text} ({low} to {inches_text(high)})"
    return f"{text} ({totals.narrowest_mm:.0f} to {totals.widest_mm:.0f})"


def looked_over_text(totals: BoardTotals) -> str:
    """Return whether a person looked the board over, face by face where they differ."""
    if totals.is_looked_over:
        return "looked over"
    missing = [face for face, done in sorted(totals.looked_over.items()) if not done]
    return NOT_LOOKED_OVER if len(missing) == 2 else f"face {missing[0]} {NOT_LOOKED_OVER}"


def board_lines(totals: BoardTotals, units: str = "mm") -> tuple[str, ...]:
    """Return the summary of one board, a few lines of plain text."""
    rough = " (rough measure)" if totals.quality == "rough" else ""
    return (
        f"{totals.id}  {totals.species}, {thickness_text(totals, units)}, "
        f"{looked_over_text(totals)}",
        f"length {totals.length.text(units)}, width {width_text(totals, units)}{rough}, "
        f"{feet_text(totals.board_feet)}",
        *(
            f"face {face}: {'not photographed' if face in totals.unseen else flaws_text(counts)}"
            + _possible_text(totals.possible.get(face, 0), sum(counts.values()))
            for face, counts in sorted(totals.flaws.items())
        ),
    )


def _possible_text(possible: int, all_flaws: int) -> str:
    """Return how many of a face's flaws nobody has looked at; what a person typed is none."""
    if not possible:
        return ""
    return " (possible flaws)" if possible == all_flaws else f" ({possible} of them possible)"


def layout_lines(totals: LayoutTotals) -> tuple[str, ...]:
    """Return the summary of a layout, a few lines of plain text."""
    lines = [
        f"placed {totals.placed} of {totals.asked} parts on {count_text(totals.boards_opened)}"
    ]
    if totals.boards_opened:
        lines.append(
            f"yield {percent_text(totals.yield_share)}, waste {percent_text(totals.waste_share)}"
            f", {feet_text(totals.board_feet)} used"
        )
    else:
        # No wood was used, so none was wasted.
        lines[0] = f"placed 0 of {totals.asked} parts: no board was opened"
    lines += [unplaced_text(row) for row in totals.unplaced]
    lines += closing_lines(totals)
    return tuple(lines)


def closing_lines(totals: LayoutTotals) -> list[str]:
    """Return what every output says of boards that nobody looked over."""
    return [*unseen_lines(totals.not_looked_over), NO_PROMISE]


def unseen_lines(boards: Iterable[str]) -> tuple[str, ...]:
    """Return a line that names the boards that nobody has looked over, if there are such."""
    named = ", ".join(boards)
    return (f"{NOT_LOOKED_OVER}: {named}. {AVOIDED}",) if named else ()


def unplaced_text(row: Unplaced) -> str:
    """Return one line on parts that found no place."""
    nearest = f" ({row.nearest})" if row.nearest else ""
    return f"not placed: {row.copies} × {row.part}: {row.reason}{nearest}"


def feet_text(feet: Fraction | float) -> str:
    """Return board feet with their unit."""
    return f"{decimal_text(float(feet))} board {'foot' if feet == 1 else 'feet'}"


def count_text(boards: int) -> str:
    """Return a number of boards."""
    return f"{boards} board{'' if boards == 1 else 's'}"


def _totals_of(board: Board, tally: Tally) -> BoardTotals:
    widths = [station.width for station in board.widths]
    values = [width.value_mm for width in widths]
    mean = sawn_width_mm(values)
    quarters = quarters_of(board.thickness.value_mm)
    measure = tally.surface_measure(inches_from_mm(mean), inches_from_mm(board.length.value_mm))
    return BoardTotals(
        id=board.id,
        species=board.species,
        length=board.length,
        width=Measured(mean, fmean(width.u_mm for width in widths)),
        narrowest_mm=min(values),
        widest_mm=max(values),
        thickness=board.thickness,
        quarters=quarters,
        surface_measure=measure,
        board_feet=board_feet([measure], quarters),
        flaws={
            face: dict(Counter(flaw.kind for flaw in board.flaws_on(face) if flaw.counts))
            for face in sorted(board.faces)
        },
        possible={
            face: sum(flaw.state is FlawState.POSSIBLE for flaw in board.flaws_on(face))
            for face in sorted(board.faces)
        },
        looked_over={number: face.looked_over for number, face in sorted(board.faces.items())},
        quality=board.quality,
        # A face without photos on a board that has some was never seen.
        unseen=tuple(
            number
            for number, face in sorted(board.faces.items())
            if not face.photos and any(other.photos for other in board.faces.values())
        ),
    )
