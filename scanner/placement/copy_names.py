"""What is written on a part before the cut: its name, numbered where there are several."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList


class Counted(Protocol):
    """How often a part is asked for: its row of the parts list, or what a layout says of it."""

    @property
    def quantity(self) -> int:
        """How many are wanted."""

    @property
    def spares(self) -> int:
        """How many more are laid out in case."""


@dataclass(frozen=True, slots=True)
class Copies:
    """How many copies of a part a layout speaks of."""

    quantity: int
    spares: int = 0


def copy_name(name: str, copy: int, row: Counted | None) -> str:
    """Return what one copy of a part is called, on the wood and wherever it is spoken of.

    Parameters
    ----------
    row
        Its row of the parts list, None where it is not known; then its number is named.
    """
    is_lone = row is not None and row.quantity + row.spares == 1 and copy == 1
    return name if is_lone else f"{name} {copy}"


def names_of(parts: PartsList) -> Callable[[str, int], str]:
    """Return what says how a copy is called, by the part's name and the copy's number."""
    return _names_by({part.name: part for part in parts})


def names_in(layout: Layout) -> Callable[[str, int], str]:
    """Return what `names_of` does, where a layout is all that is known of its parts list."""
    return _names_by(copies_in(layout))


def copies_in(layout: Layout) -> Mapping[str, Copies]:
    """Return how many copies of each part a layout speaks of, placed or not: all of its list's."""
    placed: dict[str, set[int]] = {}
    for p in layout.placements:
        placed.setdefault(p.part, set()).add(p.copy)
    missing: dict[str, int] = {}
    for row in layout.unplaced:
        missing[row.part] = missing.get(row.part, 0) + row.copies
    return {
        name: Copies(len(placed.get(name, ())) + missing.get(name, 0))
        for name in (*placed, *missing)
    }


def _names_by(rows: Mapping[str, Counted]) -> Callable[[str, int], str]:
    return lambda name, copy: copy_name(name, copy, rows.get(name))
