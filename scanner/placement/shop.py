"""`Shop`: the shop's own sizes, every one with a default."""

from dataclasses import dataclass
from typing import Literal

from scanner.units import mm_from_inches

CutClass = Literal["three_stage", "three_stage_trimmed", "any"]


@dataclass(frozen=True, slots=True)
class FootPrice:
    """What a board foot of a species costs; ``quarters`` None: in every thickness not named."""

    species: str
    quarters: int | None
    price: float


@dataclass(frozen=True, slots=True)
class Shop:
    """Shop settings; lengths in mm. ``Shop.inch()`` has the inch-native defaults."""

    kerf_mm: float = 3.2
    sawing_tolerance_mm: float = 1.5
    end_trim_seen_mm: float = 12.0
    end_trim_unseen_mm: float = 50.0
    length_allowance_mm: float = 25.0
    width_allowance_mm: float = 12.0
    cleanup_mm: float = 3.2
    piece_length_mm: float = 600.0
    shortest_piece_mm: float = 305.0
    jointer_width_mm: float = 150.0
    planer_width_mm: float = 305.0
    snipe_mm: float = 0.0
    cut_class: CutClass = "three_stage_trimmed"
    units: Literal["mm", "inch"] = "mm"
    currency: str = ""
    foot_prices: tuple[FootPrice, ...] = ()

    @classmethod
    def inch(cls) -> "Shop":
        """Return the defaults of a shop that thinks in inches (1 in, 1/2 in, 24 in, 12 in)."""
        return cls(
            length_allowance_mm=_inches(1),
            width_allowance_mm=_inches(0.5),
            piece_length_mm=_inches(24),
            shortest_piece_mm=_inches(12),
            units="inch",
        )


def _inches(inches: float) -> float:
    # Lots keep 609.6 mm, not the 609.5999999999999 that a float makes of 24 in.
    return round(mm_from_inches(inches), 6)
