"""What is to be placed, as whole numbers: tenths of a millimetre, rounded to the safe side."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.wanted.sets import Manner, MatchedSet, Size

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

# Row heights to choose from, tenths of a millimetre: the one that the part widths waste least on.
ROW_HEIGHTS = (10, 8)
# ... and where a layout may hang on less than that.
FINE_ROW_HEIGHTS = (2,)


def tenths_up(mm: float) -> int:
    """Return tenths of a millimetre, rounded up: for parts and kerfs."""
    return math.ceil(mm * 10 - 1e-6)


def rough_size_mm(part: Part, shop: Shop) -> tuple[float, float]:
    """Return rough length and width: finished size and the part's own or the shop's allowance."""
    length = shop.length_allowance_mm
    width = shop.width_allowance_mm
    return (
        part.length_mm + (length if part.length_allowance_mm is None else part.length_allowance_mm),
        part.width_mm + (width if part.width_allowance_mm is None else part.width_allowance_mm),
    )


@dataclass(frozen=True, slots=True)
class Types:
    """What the search places, as arrays: the parts, then the matched sets (T = both together).

    Attributes
    ----------
    sizes
        Of each part by name, members of sets too: tenths, rounded up, and rows.
    value
        Priority times finished area of one copy, mm2, (T,). A matched set is worth more than all
        parts that stand alone, since such sets are sought first.
    wanted
        Copies asked for, (T,); 1 of each set.
    row
        Height of a row, tenths.
    """

    parts: tuple[Part, ...]
    sets: tuple[MatchedSet, ...]
    sizes: Mapping[str, Size]
    value: Floats
    wanted: Ints
    row: int
    kerf: int

    def __len__(self) -> int:
        return len(self.parts) + len(self.sets)

    @property
    def every_part(self) -> tuple[Part, ...]:
        """The parts that stand alone, and the members of sets, once a copy."""
        return (*self.parts, *(member for one in self.sets for member in one.members))


def types_of(
    parts: Sequence[Part],
    wanted: Sequence[int],
    shop: Shop,
    sets: Sequence[MatchedSet] = (),
    row_heights: Sequence[int] = ROW_HEIGHTS,
) -> Types:
    """Return parts and sets as arrays; ``wanted`` copies of each part, one of each set."""
    every = {part.name: part for part in (*parts, *(m for one in sets for m in one.members))}
    rough = {name: rough_size_mm(part, shop) for name, part in every.items()}
    kerf = tenths_up(shop.kerf_mm)
    widths = np.array([tenths_up(width) for _, width in rough.values()], np.int32)
    row = min(row_heights, key=lambda h: (_waste_of_rows(widths + kerf, h), -h))
    sizes = {
        name: Size.of(tenths_up(length), tenths_up(width), row, kerf)
        for name, (length, width) in rough.items()
    }
    value = [value_mm2(part) for part in parts]
    first = sum(v * n for v, n in zip(value, wanted, strict=True))
    # Matched sets come before all else; a panel counts no more than a part of its size.
    value += [
        sum(value_mm2(member) for member in one.members)
        + (0.0 if one.manner is Manner.STAVES else first)
        for one in sets
    ]
    return Types(
        tuple(parts),
        tuple(sets),
        sizes,
        np.array(value, np.float64),
        np.array([*wanted, *(1 for _ in sets)], np.int32),
        row,
        kerf,
    )


def value_mm2(part: Part) -> float:
    """Return what one copy counts: priority times finished area."""
    return part.priority * part.length_mm * part.width_mm


def finished_area_mm2(part: Part) -> float:
    """Return the finished area of one copy: of a curved part that of its shape."""
    if part.outline_mm is None:
        return part.length_mm * part.width_mm
    return float(Polygon(part.outline_mm).area)


def _waste_of_rows(sizes: Ints, row: int) -> float:
    return float(np.sum(-sizes % row))
