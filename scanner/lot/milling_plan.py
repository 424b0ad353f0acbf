"""The milling plan: parts of one thickness in one batch, first and second pass, rest, dates.

Makers disagree on how long wood should rest between the passes: a night, days, a week or two, or
not at all where panels are glued the day their staves are cut. So the plan offers, and reckons with
what is chosen.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from scanner.board.board import Board
from scanner.board.seen_piece import thickness_there_mm
from scanner.placement.copy_names import copy_name
from scanner.placement.ground.resaw import SLICE_LOSS_MM
from scanner.placement.layout import Layout, Offcut, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.rules.thickness import flattened_mm
from scanner.placement.shop import Shop
from scanner.units import MM_PER_INCH

# Days of rest to choose from, with who does so.
REST_DAYS: Mapping[int, str] = {
    0: "the same day: some glue panels the day the staves are cut",
    1: "a night",
    3: "some days",
    7: "a week",
    14: "two weeks",
}
# A setup piece must go through the machines: as wide as two fingers' breadth of waste.
SETUP_WIDTH_MM = 50.0
_SAME_MM = 0.05
# So much over the first pass is resawn off, not planed away: a slice of 1/4 in, its kerf, and 1/8
# in to flatten both sides of the cut (our choice).
_RESAWN_MM = 12.5
_LIVE = ("planned", "laid_out", "cut", "milled", "resting")


@dataclass(frozen=True, slots=True)
class MillingChoice:
    """How the maker mills.

    Attributes
    ----------
    over_mm
        What the first pass leaves over the final thickness.
    rest_days
        Days between first and second pass.
    stickers
        Whether the pieces rest on stickers, air on all sides; else on edge, or stacked and wrapped.
    """

    over_mm: float = 3.0
    rest_days: int = 3
    stickers: bool = True


def usual_choice(shop: Shop) -> MillingChoice:
    """Return how most begin: 3 mm over, or an eighth of an inch where inches are used."""
    return MillingChoice(over_mm=MM_PER_INCH / 8) if shop.units == "inch" else MillingChoice()


@dataclass(frozen=True, slots=True)
class MillingNotes:
    """What was said of the milling: choice, glue-up by part, days by step, thicknesses after rest.

    Dates are ISO 8601 days; steps are named as `Batch.step` does.
    """

    choice: MillingChoice = field(default_factory=MillingChoice)
    begin: str | None = None
    glue_up: Mapping[str, str] = field(default_factory=dict)
    done: Mapping[str, str] = field(default_factory=dict)
    measured: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MillingPiece:
    """A piece to mill; ``gives_mm`` is the thickness that flattening is reckoned to leave.

    ``layer``: which slice of its blank it is, 0 where nothing is resawn; then what a slice leaves.
    ``blank``: what tells the blank of its slices from others. ``name``: what its copy is called.
    """

    part: str
    copy: int
    stave: int
    board: str
    length_mm: float
    width_mm: float
    gives_mm: float
    name: str
    layer: int = 0
    blank: tuple[str, float, float] | None = None

    @property
    def title(self) -> str:
        """Its name on the sheet."""
        return self.title_once_sawn + (f", slice {self.layer}" if self.layer else "")

    @property
    def title_once_sawn(self) -> str:
        """Its name when its blank is resawn: a slice is then a part like any other."""
        return self.name + (f", stave {self.stave}" if self.stave else "")

    @property
    def key(self) -> str:
        """Its name in the notes."""
        return f"{self.part}/{self.copy}/{self.stave}"


@dataclass(frozen=True, slots=True)
class Batch:
    """Pieces of one thickness, milled at one setting.

    Attributes
    ----------
    first_mm
        Target of the first pass: less than asked for where a piece gives no more.
    short
        Pieces that leave less over than was asked for.
    setup
        The left-over that is sent through first, None where none of the layout's will do.
    setup_is_thick
        Whether it is resawn first, as it is far thicker than the batch.
    first_on, final_on
        Days of first and second pass, None without a date to reckon from.
    too_small
        Pieces shorter than the machines take.
    too_thick
        Pieces of which a whole slice would be planed away.
    """

    final_mm: float
    first_mm: float
    pieces: tuple[MillingPiece, ...]
    short: tuple[MillingPiece, ...]
    setup: Offcut | None
    glue_up: date | None
    first_on: date | None
    final_on: date | None
    too_small: tuple[MillingPiece, ...] = ()
    too_thick: tuple[MillingPiece, ...] = ()
    setup_is_thick: bool = False

    @property
    def blanks(self) -> tuple[tuple[MillingPiece, ...], ...]:
        """The slices of each blank that is resawn, in their order in it."""
        slices: dict[tuple[str, float, float], list[MillingPiece]] = {}
        for piece in sorted(self.pieces, key=lambda one: one.layer):
            if piece.blank is not None:
                slices.setdefault(piece.blank, []).append(piece)
        return tuple(map(tuple, slices.values()))

    def step(self, name: str) -> str:
        """Return the name of one of its steps, ``first`` or ``final``, in the notes."""
        return f"{self.final_mm:.1f}/{name}"


@dataclass(frozen=True, slots=True)
class MillingPlan:
    """Batches in the order in which they are needed; the boards in them not looked over."""

    batches: tuple[Batch, ...]
    choice: MillingChoice
    not_looked_over: tuple[str, ...] = ()


def milling_plan(
    layout: Layout,
    boards: Iterable[Board],
    parts: PartsList,
    shop: Shop,
    notes: MillingNotes | None = None,
) -> MillingPlan:
    """Return the batches of a layout, those glued first coming first.

    A glue-up date counts for every part that it was said of; a batch follows its earliest one and
    is planed to its final size on that day, rested before for as long as was chosen. Without dates
    the first pass falls on the day to begin.
    """
    notes = notes or MillingNotes()
    known = {board.id: board for board in boards}
    row_of = {part.name: part for part in parts}
    together: dict[float, list[Placement]] = {}
    for p in layout.placements:
        if p.state in _LIVE and p.part in row_of and p.board in known:
            together.setdefault(round(row_of[p.part].thickness_mm, 1), []).append(p)
    free = list(layout.offcuts)
    rough = [
        _batch(final, own, known, row_of, shop, notes) for final, own in sorted(together.items())
    ]
    rough.sort(key=lambda batch: (batch.glue_up or date.max, -batch.final_mm))
    batches = []
    for batch in rough:
        setup, is_thick = _setup_piece(batch, free, known, shop)
        if setup is not None:
            free.remove(setup)
        batches.append(replace(batch, setup=setup, setup_is_thick=is_thick))
    milled = {piece.board for batch in batches for piece in batch.pieces}
    unseen = tuple(name for name in sorted(milled) if not known[name].is_looked_over)
    return MillingPlan(tuple(batches), notes.choice, unseen)


def _batch(
    final_mm: float,
    own: Sequence[Placement],
    boards: Mapping[str, Board],
    row_of: Mapping[str, Part],
    shop: Shop,
    notes: MillingNotes,
) -> Batch:
    pieces = tuple(
        MillingPiece(
            p.part, p.copy, p.stave or 0, p.board, p.length_mm, p.width_mm,
            _gives_mm(p, boards[p.board], shop, _slices_of(p, own)),
            copy_name(p.part, p.copy, row_of[p.part]), p.layer or 0,
            (p.board, p.x_mm, p.y_mm) if p.layer else None,
        )
        for p in sorted(own, key=lambda p: (p.part, p.copy, p.stave or 0))
    )  # fmt: skip
    wished = final_mm + notes.choice.over_mm
    # One setting for all: the piece that gives least decides, and never less than the part needs.
    first = max(final_mm, min(wished, *(piece.gives_mm for piece in pieces)))
    short = tuple(piece for piece in pieces if piece.gives_mm < wished - _SAME_MM)
    days = [_day(notes.glue_up.get(row_of[p.part].name)) for p in own]
    glue_up = min((day for day in days if day is not None), default=None)
    first_on, final_on = _dates(glue_up, _day(notes.begin), notes.choice.rest_days)
    least = shop.shortest_piece_mm - _SAME_MM
    small = tuple(piece for piece in pieces if piece.length_mm < least)
    first = round(first, 1)
    thick = tuple(piece for piece in pieces if piece.gives_mm >= first + _RESAWN_MM)
    return Batch(final_mm, first, pieces, short, None, glue_up, first_on, final_on, small, thick)


def _slices_of(p: Placement, own: Sequence[Placement]) -> int:
    """Return how many slices are sawn from a piece's blank, 1 where it is none."""
    place = (p.board, p.x_mm, p.y_mm)
    return sum(bool(q.layer) and (q.board, q.x_mm, q.y_mm) == place for q in own) or 1


def _gives_mm(p: Placement, board: Board, shop: Shop, slices: int) -> float:
    """Return the thickness that a piece should give: no more than it has by now.

    A blank is resawn as it is flat; then each slice loses what its own two faces take.
    """
    left = flattened_mm(board, (p.length_mm, p.width_mm), shop)
    if p.layer:
        flat = left + shop.cleanup_mm
        left = (flat - (slices - 1) * shop.kerf_mm) / slices - SLICE_LOSS_MM
    now = thickness_there_mm(board.pieces, (p.x_mm, p.y_mm), (p.length_mm, p.width_mm))
    return left if now is None else min(left, now)


def _dates(
    glue_up: date | None, begin: date | None, rest_days: int
) -> tuple[date | None, date | None]:
    rest = timedelta(days=rest_days)
    if glue_up is not None:
        return glue_up - rest, glue_up
    return (begin, begin + rest) if begin is not None else (None, None)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _setup_piece(
    batch: Batch, offcuts: Sequence[Offcut], boards: Mapping[str, Board], shop: Shop
) -> tuple[Offcut | None, bool]:
    """Return the smallest left-over that goes through the machines, and whether to resaw it.

    One that would have to be resawn, or planed for ever, only where there is no other.
    """
    able = [
        (flat >= batch.first_mm + _RESAWN_MM, offcut.length_mm * offcut.width_mm, n)
        for n, offcut in enumerate(offcuts)
        if offcut.board in boards
        and offcut.length_mm >= shop.shortest_piece_mm
        and offcut.width_mm >= SETUP_WIDTH_MM
        and (flat := flattened_mm(boards[offcut.board], (offcut.length_mm, offcut.width_mm), shop))
        >= batch.final_mm
    ]
    if not able:
        return None, False
    is_thick, _, n = min(able)
    return offcuts[n], is_thick


def late_batches(plan: MillingPlan, today: date, notes: MillingNotes) -> tuple[str, ...]:
    """Return in sentences what should have been milled by today and is not ticked."""
    said = []
    for batch in plan.batches:
        for step, day in (("first", batch.first_on), ("final", batch.final_on)):
            if day is not None and day < today and batch.step(step) not in notes.done:
                name = "first pass" if step == "first" else "final pass"
                said.append(
                    f"{batch.final_mm:g} mm: the {name} was due on {day.isoformat()}. Rested less, "
                    "or glue up later?"
                )
    return tuple(said)


def to_measure(plan: MillingPlan, today: date, notes: MillingNotes) -> tuple[Batch, ...]:
    """Return the batches that have rested long enough and were not measured again since."""
    found = []
    for batch in plan.batches:
        begun = _day(notes.done.get(batch.step("first")))
        is_over = begun is not None and (today - begun).days >= plan.choice.rest_days
        if not is_over or batch.step("final") in notes.done:
            continue
        if any(piece.key not in notes.measured for piece in batch.pieces):
            found.append(batch)
    return tuple(found)


def thin_pieces(batch: Batch, notes: MillingNotes) -> tuple[MillingPiece, ...]:
    """Return the pieces that were measured after the rest and are too thin by then."""
    return tuple(
        piece
        for piece in batch.pieces
        if notes.measured.get(piece.key, batch.final_mm) < batch.final_mm - _SAME_MM
    )
