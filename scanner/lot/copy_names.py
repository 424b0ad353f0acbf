"""What is written on a part before the cut: its name, numbered where there are several."""

from scanner.placement.parts import Part


def copy_name(name: str, copy: int, row: Part | None) -> str:
    """Return what one copy of a part is called, on the wood and wherever it is spoken of.

    Parameters
    ----------
    row
        Its row of the parts list, None where it is not known; then its number is named.
    """
    is_lone = row is not None and row.quantity + row.spares == 1 and copy == 1
    return name if is_lone else f"{name} {copy}"
