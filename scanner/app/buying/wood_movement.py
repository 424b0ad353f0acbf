"""The errand "movement": how much a wide part grows or shrinks between two moisture contents."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from scanner.board.volume import LONGEST_MM
from scanner.errors import SettingsError
from scanner.lot.movement import SPECIES, Sawn, change_mm
from scanner.units import MM_PER_INCH, LengthError, exact_text, read_length_mm, shortened, unit_of

if TYPE_CHECKING:
    from scanner.storage.lots import Lot


def movement_lines(
    width: str, species: str, from_percent: float, to_percent: float, units: str = "mm"
) -> tuple[str, ...]:
    """Return the movement of a width, flatsawn and quartersawn, a line each (lumber: one).

    A width that names its unit is answered in it, one without is read in ``units``.

    Raises
    ------
    SettingsError
        The width is no length, none or longer than any board, or the tables do not hold the
        species.
    """
    if units not in ("mm", "inch"):
        raise SettingsError(f'--units: "{units}" is neither', "write mm or inch")
    try:
        width_mm = read_length_mm(width, units)
    except LengthError as problem:
        raise SettingsError(f"width: {problem.what}", "write it like 12in or 300mm") from None
    if not 0 < width_mm <= LONGEST_MM:
        raise SettingsError(
            f'width: "{shortened(width)}" is no width of a part', "write it like 12in or 300mm"
        )
    units = unit_of(width, units)
    lines = [f"{species}, {from_percent:g} to {to_percent:g} % moisture content"]
    told = SPECIES.get(species.strip().lower())
    # Building lumber is told by one line: how it was sawn is not known of it.
    is_any = told is not None and told.shrunk is not None
    kinds: tuple[Sawn, ...] = ("flatsawn",) if is_any else ("flatsawn", "quartersawn")
    for sawn in kinds:
        change = change_mm(width_mm, species, sawn, from_percent, to_percent)
        name = "in width, however sawn" if is_any else sawn
        lines.append(
            f"  {name}: {exact_text(width_mm, units)} {_verb(change)} {_text(abs(change), units)}"
        )
    lines.append(
        "After the Forest Products Laboratory's formula for building lumber (FPL-RP-489); boards"
        " differ, so leave room for more."
        if is_any
        else "After the Wood Handbook's tables; real boards are seldom truly flatsawn or"
        " quartersawn, so leave room for more."
    )
    return tuple(lines)


def known_species() -> tuple[str, ...]:
    """Return the woods that the tables hold."""
    return tuple(sorted(SPECIES))


def wood_of(lot: Lot) -> str:
    """Return the wood that a lot's boards, or its parts, are of; the first known one if neither."""
    # The command has no lot, and need not wait for what reads one.
    from scanner.app.lot.open_lot import parts_of

    named = [board.species for board in lot.boards()]
    if lot.parts_text() is not None:
        named += [part.species or "" for part in parts_of(lot)]
    woods = known_species()
    return next((name.strip().lower() for name in named if name.strip().lower() in woods), woods[0])


def _verb(change: float) -> Literal["grows by", "shrinks by"]:
    return "grows by" if change >= 0 else "shrinks by"


def _text(length_mm: float, units: str) -> str:
    if units == "inch":
        # As a caliper reads.
        return f"{length_mm / MM_PER_INCH:.3f} in"
    return f"{length_mm:.1f} mm"
