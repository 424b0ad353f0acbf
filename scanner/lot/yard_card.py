"""What to know at the yard: parts still to find, widths to look for, how straight is enough."""

from collections import Counter
from dataclasses import dataclass, replace

from scanner.lot.need import Need, needs_of
from scanner.lot.ripped import as_bought, stave_count
from scanner.lot.strip_widths import edge_mm
from scanner.placement.ground.resaw import thickness_needed_mm
from scanner.placement.layout import Layout
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.sets import Manner, set_of
from scanner.units import MM_PER_INCH

# A board at the yard is looked at along this length: bends are told for 8 ft.
SIGHT_MM = 96 * MM_PER_INCH
# Extra to buy for the price limit: most projects, and the choosy (common practice, no source).
EXTRAS = (0.2, 0.5)


@dataclass(frozen=True, slots=True)
class CardRow:
    """A part still to find, or a stave of it, in rough size, mm."""

    name: str
    count: int
    length_mm: float
    width_mm: float
    faces: str


@dataclass(frozen=True, slots=True)
class FromOneBoard:
    """What one board should give all of: a set of matched parts, or the staves of a panel.

    ``in_a_row_mm``: how long it is where it must lie one after the other along the grain, else
    None. ``times``: of how many panels this holds, each by itself. ``resawn_mm``: how thick flat
    wood must be to be resawn for a bookmatched set, else None.
    """

    name: str
    of: tuple[tuple[str, int], ...]
    in_a_row_mm: float | None = None
    times: int = 1
    resawn_mm: float | None = None


@dataclass(frozen=True, slots=True)
class CardSection:
    """One species and thickness class.

    Attributes
    ----------
    rows
        Widest first, then longest.
    running_mm
        Rough width to running length, widest first.
    edges_mm
        What both edges of a board lose together that is not sure to be wood.
    two_abreast_mm
        Width of a board that gives the widest part twice side by side, kerf between.
    crook_mm, bow_mm
        How far an edge, a face, may bend over 8 ft before the longest part suffers; ``bow_mm`` is
        None where no thickness class is thick enough.
    price_limits
        Highest price per board foot at each of ``EXTRAS``, if a budget was given.
    from_one_board
        What is not to be gathered from several boards.
    """

    need: Need
    rows: tuple[CardRow, ...]
    running_mm: tuple[tuple[float, float], ...]
    edges_mm: float
    two_abreast_mm: float
    crook_mm: float
    bow_mm: float | None
    price_limits: tuple[float, ...]
    from_one_board: tuple[FromOneBoard, ...] = ()

    @property
    def narrowest_mm(self) -> float:
        """Narrowest board that gives any part."""
        return min(row.width_mm for row in self.rows) + self.edges_mm

    @property
    def widest_mm(self) -> float:
        """Narrowest board that gives every part."""
        return max(row.width_mm for row in self.rows) + self.edges_mm

    @property
    def longest(self) -> CardRow:
        """The longest part."""
        return max(self.rows, key=lambda row: row.length_mm)


def still_to_find(parts: PartsList, layout: Layout | None) -> PartsList:
    """Return the parts that a layout has not placed, spares as copies of their own."""
    placed: Counter[str] = Counter()
    if layout is not None:
        live = [p for p in layout.placements if p.state != "spoiled"]
        placed.update(part for part, _ in {(p.part, p.copy) for p in live})
    left = [
        replace(part, quantity=part.quantity + part.spares - placed[part.name], spares=0)
        for part in parts
        if not part.filler and part.quantity + part.spares > placed[part.name]
    ]
    return tuple(left)


def card_sections(
    parts: PartsList, shop: Shop, budget: float | None = None
) -> tuple[CardSection, ...]:
    """Return a section for each species and thickness class.

    Parameters
    ----------
    parts
        What is still to find.
    budget
        Money for all of it, shared out by board feet; None for no price limits.
    """
    needs = needs_of(parts, shop)
    feet = sum(need.rough_feet for need in needs)
    limits = tuple(budget / (feet * (1 + extra)) for extra in EXTRAS) if budget and feet > 0 else ()
    return tuple(_section(need, shop, limits) for need in needs)


def _section(need: Need, shop: Shop, limits: tuple[float, ...]) -> CardSection:
    ripped = as_bought(need.parts, shop)
    rows = sorted((_row(part, shop) for part in ripped), key=lambda r: (-r.width_mm, -r.length_mm))
    running: dict[float, float] = {}
    for row in rows:
        running[row.width_mm] = running.get(row.width_mm, 0.0) + row.count * row.length_mm
    edges = 2 * edge_mm(shop)
    longest = max(rows, key=lambda row: row.length_mm)
    part = next(part for part in ripped if part.name == longest.name)
    return CardSection(
        need=need,
        rows=tuple(rows),
        running_mm=tuple(running.items()),
        edges_mm=edges,
        two_abreast_mm=2 * rows[0].width_mm + shop.kerf_mm + edges,
        crook_mm=_bend_allowed(longest.width_mm - part.width_mm, longest.length_mm),
        bow_mm=_bow_allowed(need, part, shop, longest.length_mm),
        price_limits=limits,
        from_one_board=_from_one_board(need.parts, shop),
    )


def _from_one_board(parts: PartsList, shop: Shop) -> tuple[FromOneBoard, ...]:
    panels = [
        FromOneBoard(part.name, ((f"{part.name}, stave", count),), times=part.quantity)
        for part in parts
        if (count := stave_count(part, shop)) > 1
    ]
    members: dict[tuple[str, Manner], list[Part]] = {}
    for part in parts:
        if found := set_of(part):
            members.setdefault(found, []).append(part)
    sets = []
    for (name, manner), rows in members.items():
        count = sum(part.quantity for part in rows)
        if count < 2:
            continue
        long = sum(part.quantity * rough_size_mm(part, shop)[0] for part in rows)
        whole = long + (count - 1) * shop.kerf_mm if manner is Manner.IN_ORDER else None
        of = tuple((part.name, part.quantity) for part in rows)
        thick = max(part.thickness_mm for part in rows)
        resawn = thickness_needed_mm(thick, 2, shop) if manner is Manner.BOOKMATCH else None
        sets.append(FromOneBoard(name, of, whole, resawn_mm=resawn))
    return (*panels, *sets)


def _row(part: Part, shop: Shop) -> CardRow:
    length, width = rough_size_mm(part, shop)
    return CardRow(
        name=part.name,
        count=part.quantity,
        length_mm=length,
        width_mm=width,
        faces=part.faces.value,
    )


def _bow_allowed(need: Need, part: Part, shop: Shop, length_mm: float) -> float | None:
    if need.quarters is None:
        return None
    rough = need.quarters * MM_PER_INCH / 4
    return _bend_allowed(rough - shop.cleanup_mm - part.thickness_mm, length_mm)


def _bend_allowed(spare_mm: float, length_mm: float) -> float:
    """Return the bend over the sight length that leaves a piece of this length the spare.

    A flat arc: bend goes with the square of the length (h = c^2 / 8 R).
    """
    return max(spare_mm, 0.0) * (SIGHT_MM / length_mm) ** 2
