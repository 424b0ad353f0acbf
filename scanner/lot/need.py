"""How much wood a parts list needs, before any board is seen."""

from collections.abc import Iterable
from dataclasses import dataclass

from scanner.board.species import species_key
from scanner.board.volume import board_feet
from scanner.placement.items import rough_size_mm
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.units import MM2_PER_SQUARE_FOOT, MM3_PER_BOARD_FOOT, MM_PER_INCH

# Thickness classes as sold; a rough board has at least n/4 in.
CLASSES = (3, 4, 5, 6, 8, 10, 12, 16)


@dataclass(frozen=True, slots=True)
class Need:
    """What one species and thickness class must give, spares included.

    Attributes
    ----------
    quarters
        Thickness class n/4; None where no class is thick enough.
    finished_feet
        Board feet of the finished parts, their finished thickness counted.
    net_feet
        The finished faces at the class's thickness, as the yard counts.
    rough_feet
        The same with the allowances for length and width.
    parts
        The rows of the list.
    """

    species: str | None
    quarters: int | None
    finished_feet: float
    net_feet: float
    rough_feet: float
    parts: PartsList


def needs_of(parts: PartsList, shop: Shop) -> tuple[Need, ...]:
    """Return the needs by species and thickness class, in the order of the list; no fillers."""
    groups: dict[tuple[str | None, int | None], list[Part]] = {}
    for part in parts:
        if not part.filler:
            species = species_key(part.species) if part.species else None
            groups.setdefault((species, class_for(part, shop)), []).append(part)
    return tuple(
        _need(species, quarters, rows, shop) for (species, quarters), rows in groups.items()
    )


def class_for(part: Part, shop: Shop) -> int | None:
    """Return the thinnest class that a part comes out of when the board is flat, None if none."""
    wanted = part.thickness_mm + shop.cleanup_mm
    fitting = (n for n in CLASSES if n * MM_PER_INCH / 4 + 1e-6 >= wanted)
    return next(fitting, None)


def extra_of(waste: float) -> float:
    """Return the share to add to what is needed when this share of what is bought is lost.

    Raises
    ------
    ValueError
        ``waste`` is not from 0 up to (not including) 1.
    """
    if not 0 <= waste < 1:
        raise ValueError(f"waste is a share from 0 to under 1, got {waste}")
    return waste / (1 - waste)


def waste_of(extra: float) -> float:
    """Return the share of what is bought that is lost when this share more was bought."""
    if extra < 0:
        raise ValueError(f"extra is never negative, got {extra}")
    return extra / (1 + extra)


def waste_in_turn(losses: Iterable[float]) -> float:
    """Return the waste of several losses one after the other: less than their sum."""
    kept = 1.0
    for loss in losses:
        kept *= 1 - loss
    return 1 - kept


def _need(species: str | None, quarters: int | None, rows: list[Part], shop: Shop) -> Need:
    net_mm2 = rough_mm2 = finished_mm3 = 0.0
    for part in rows:
        count = part.quantity + part.spares
        length, width = rough_size_mm(part, shop)
        net_mm2 += count * part.length_mm * part.width_mm
        rough_mm2 += count * length * width
        finished_mm3 += count * part.length_mm * part.width_mm * part.thickness_mm
    per_foot = float(board_feet([1], quarters or CLASSES[-1])) / MM2_PER_SQUARE_FOOT
    return Need(
        species=species,
        quarters=quarters,
        finished_feet=finished_mm3 / MM3_PER_BOARD_FOOT,
        net_feet=net_mm2 * per_foot,
        rough_feet=rough_mm2 * per_foot,
        parts=tuple(rows),
    )
