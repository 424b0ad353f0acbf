"""How much wood a parts list needs, before any board is seen."""

from dataclasses import dataclass

from scanner.board.species import species_key
from scanner.board.volume import board_feet
from scanner.lot.ripped import as_bought, resawn_blanks
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.units import MM2_PER_SQUARE_FOOT, MM_PER_INCH

# Thickness classes as sold; a rough board has at least n/4 in.
CLASSES = (3, 4, 5, 6, 8, 10, 12, 16)


@dataclass(frozen=True, slots=True)
class Need:
    """What one species and thickness class must give, spares included.

    Attributes
    ----------
    quarters
        Thickness class n/4; None where no class is thick enough.
    net_feet
        The finished faces at the class's thickness, as the yard counts; two slices of a blank
        are one.
    rough_feet
        The same with the allowances for length and width, of glued panels those of each stave.
    parts
        The rows of the list.
    """

    species: str | None
    quarters: int | None
    net_feet: float
    rough_feet: float
    parts: PartsList


def needs_of(parts: PartsList, shop: Shop) -> tuple[Need, ...]:
    """Return the needs by species and thickness class, in the order of the list; no fillers."""
    groups: dict[tuple[str | None, int | None], list[Part]] = {}
    blanks = resawn_blanks(parts, shop)
    for part in parts:
        if not part.filler:
            species = species_key(part.species) if part.species else None
            quarters = class_for(blanks.get(part.name, part), shop)
            groups.setdefault((species, quarters), []).append(part)
    return tuple(
        _need(species, quarters, rows, shop) for (species, quarters), rows in groups.items()
    )


def class_for(part: Part, shop: Shop, bend_mm: float = 0.0) -> int | None:
    """Return the thinnest class n/4 that a part comes out of, None where none does.

    ``bend_mm``: what flattening the piece takes besides; nothing where the board is flat.
    """
    wanted = part.thickness_mm + shop.cleanup_mm + bend_mm
    fitting = (n for n in CLASSES if n * MM_PER_INCH / 4 + 1e-6 >= wanted)
    return next(fitting, None)


def waste_of(extra: float) -> float:
    """Return the share of what is bought that is lost when this share more was bought."""
    if extra < 0:
        raise ValueError(f"extra is never negative, got {extra}")
    return extra / (1 + extra)


def _need(species: str | None, quarters: int | None, rows: list[Part], shop: Shop) -> Need:
    net_mm2 = rough_mm2 = 0.0
    for part in as_bought(tuple(rows), shop):
        count = part.quantity + part.spares
        length, width = rough_size_mm(part, shop)
        net_mm2 += count * part.length_mm * part.width_mm
        rough_mm2 += count * length * width
    per_foot = float(board_feet([1], quarters or CLASSES[-1])) / MM2_PER_SQUARE_FOOT
    return Need(
        species=species,
        quarters=quarters,
        net_feet=net_mm2 * per_foot,
        rough_feet=rough_mm2 * per_foot,
        parts=tuple(rows),
    )
