"""Parts as they are ripped out of boards: a panel that is glued up, as its staves."""

from dataclasses import replace

from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.staves import choices_of, stave_width_mm


def stave_count(part: Part, shop: Shop) -> int:
    """Return how many staves to look for at the rack: the fewest that the jointer takes.

    A number in the parts list stands; a part that is not glued up, or one that the jointer takes
    whole, is 1.
    """
    choices = choices_of(part, shop)
    taken = (n for n in choices if stave_width_mm(part, n, shop) <= shop.jointer_width_mm)
    return next(taken, choices[-1])


def as_ripped(parts: PartsList, shop: Shop) -> PartsList:
    """Return the parts, each glued panel as a part of so many staves, ``name, stave``.

    A stave's finished width is its share of the panel; its allowance holds what jointing takes.
    """
    return tuple(_as_staves(part, stave_count(part, shop), shop) for part in parts)


def _as_staves(part: Part, count: int, shop: Shop) -> Part:
    if count == 1:
        return part
    share = part.width_mm / count
    return replace(
        part,
        name=f"{part.name}, stave",
        quantity=part.quantity * count,
        spares=part.spares * count,
        width_mm=share,
        width_allowance_mm=stave_width_mm(part, count, shop) - share,
        width_min_mm=None,
        width_max_mm=None,
        staves="1",
    )
