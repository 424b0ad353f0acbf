"""Names of parts, boards or flaws joined as in a sentence."""

from collections.abc import Sequence


def joined(names: Sequence[str], most: int | None = None) -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``; beyond ``most`` names the rest is counted.

    Raises
    ------
    ValueError
        There is no name.
    """
    if not names:
        raise ValueError("no names to join")
    shown = list(names)
    if most is not None and len(shown) > most:
        shown = [*shown[:most], f"{len(shown) - most} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
