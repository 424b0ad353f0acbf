"""Parts as they come out of boards: a glued panel as its staves, a bookmatched pair as a blank."""

from collections.abc import Iterable
from dataclasses import replace

from scanner.placement.ground.resaw import thickness_needed_mm
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.sets import Manner, set_of
from scanner.placement.wanted.staves import choices_of, stave_width_mm
from scanner.units import MM_PER_INCH

# 16/4, the thickest class that is sold.
_THICKEST_MM = 4 * MM_PER_INCH


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


def as_bought(parts: PartsList, shop: Shop) -> PartsList:
    """Return the parts as ripped, the pairs of each bookmatched set as blanks, ``name, blank``.

    Two slices are sawn apart out of a blank, whose thickness is such that its own class holds it.
    """
    blanks = resawn_blanks(parts, shop)
    found: list[Part] = []
    for part in parts:
        blank = blanks.get(part.name, part)
        if blank not in found:
            found.append(blank)
    return as_ripped(tuple(found), shop)


def resawn_blanks(parts: Iterable[Part], shop: Shop) -> dict[str, Part]:
    """Return by its rows' names the blanks of each bookmatched set that may be resawn in pairs.

    Not where its members are unlike, or no board is sold thick enough: they then lie side by side.
    """
    sets: dict[str, list[Part]] = {}
    for part in parts:
        found = set_of(part)
        if found is not None and found[1] is Manner.BOOKMATCH:
            sets.setdefault(found[0], []).append(part)
    return {
        row.name: blank
        for rows in sets.values()
        if (blank := _blank_of(rows, shop)) is not None
        for row in rows
    }


def _blank_of(rows: list[Part], shop: Shop) -> Part | None:
    first, count = rows[0], sum(row.quantity for row in rows)
    alike = {(r.length_mm, r.width_mm, r.thickness_mm, r.species) for r in rows}
    thick = thickness_needed_mm(first.thickness_mm, 2, shop)
    if count < 2 or len(alike) > 1 or thick > _THICKEST_MM:
        return None
    blanks, spares = -(-count // 2), sum(row.spares for row in rows)
    return replace(
        first,
        name=f"{' + '.join(row.name for row in rows)}, blank",
        quantity=blanks,
        spares=-(-(count + spares) // 2) - blanks,
        # The clean-up of a blank's faces is in its slices' share.
        thickness_mm=thick - shop.cleanup_mm,
        match=None,
    )


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
