"""What is written on a part before the cut: its name, numbered where there are several."""

from collections.abc import Callable

from scanner.placement.parts import Part, PartsList


def copy_name(name: str, copy: int, row: Part | None) -> str:
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
    rows = {part.name: part for part in parts}
    return lambda name, copy: copy_name(name, copy, rows.get(name))
