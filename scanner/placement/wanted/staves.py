"""Panels glued up from staves: how many, how wide, and the rows that the search lays out for them.

The search knows no panels: each panel that is glued up becomes a row of its own, its staves the
copies of that row, tied together as a set of one board. What comes out is named as the parts list
names it: the staves of one panel are placements of one copy, numbered by ``stave``.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.sets import Manner, MatchedSet
from scanner.units import MM_PER_INCH, length_text

# What jointing both edges of a stave takes: 1/4 in, the least that makers and mills add to a width
# (shop guide to milling rough wood; University of Kentucky fact sheet on moulder yield).
JOINTING_MM, JOINTING_IN = 6.0, 0.25
# Narrower wood does not go through a planer safely (magazine on short and narrow stock).
NARROWEST_STAVE_MM = 50.0
MOST_CHOICES = 5

# (row, copy) to staves.
Counts = Mapping[tuple[str, int], int]
_MARK = "\x1f"
_LESS_THAN_A_STAVE_MM = 1.0


def jointing_mm(shop: Shop) -> float:
    """Return what a stave loses in width when both its edges are jointed."""
    return JOINTING_IN * MM_PER_INCH if shop.units == "inch" else JOINTING_MM


def is_glued(part: Part) -> bool:
    """Whether a part may be glued up from staves; a filler never is, nor a curved part."""
    return part.staves not in ("", "1") and not part.filler and part.outline_mm is None


def stave_width_mm(part: Part, count: int, shop: Shop) -> float:
    """Return the rough width of one of so many equal staves of a panel."""
    across = rough_size_mm(part, shop)[1]
    return across if count == 1 else across / count + jointing_mm(shop)


def choices_of(part: Part, shop: Shop) -> tuple[int, ...]:
    """Return the numbers of staves a panel may have, fewest first.

    ``auto``: one board where that is wide enough, else staves that the jointer takes.
    """
    if not is_glued(part):
        return (1,)
    if part.staves != "auto":
        return (int(part.staves),)
    counts = [1]
    count = 2
    while len(counts) < MOST_CHOICES and stave_width_mm(part, count, shop) >= NARROWEST_STAVE_MM:
        if stave_width_mm(part, count, shop) <= shop.jointer_width_mm:
            counts.append(count)
        count += 1
    return tuple(counts)


def in_staves(parts: PartsList, counts: Counts, shop: Shop) -> PartsList:
    """Return the rows that the search lays out: one for each panel, its staves as copies."""
    return tuple(
        row
        for part in parts
        for row in (
            [_row(part, key[1], counts, shop) for key in counts if key[0] == part.name]
            if is_glued(part)
            else [part]
        )
    )


def _row(part: Part, copy: int, counts: Counts, shop: Shop) -> Part:
    count = counts[part.name, copy]
    whole = _one(part, copy)
    if count == 1:
        return whole
    return _narrow(whole, part, count, stave_width_mm(part, count, shop), 1 / count)


def _one(part: Part, copy: int) -> Part:
    """Return the row of one panel; what is glued up is not turned with the grain."""
    straight = None if part.straight_grain == "follow" else part.straight_grain
    return replace(
        part,
        name=f"{part.name}{_MARK}{copy}",
        quantity=1,
        spares=0,
        staves="1",
        match=None,
        straight_grain=straight,
    )


def panel(part: Part, count: int, shop: Shop) -> MatchedSet:
    """Return the staves of one panel as a set."""
    row = _row(part, 1, {(part.name, 1): count}, shop)
    return MatchedSet(part.name, Manner.STAVES, (row,) * count)


def _narrow(whole: Part, part: Part, count: int, rough_mm: float, share: float) -> Part:
    """Return staves of this rough width; each counts this share of the panel's value."""
    area = part.length_mm * part.width_mm
    return replace(
        whole,
        quantity=count,
        width_mm=rough_mm,
        width_allowance_mm=0.0,
        width_min_mm=None,
        width_max_mm=None,
        priority=part.priority * share * area / (part.length_mm * rough_mm),
        # A colon would part the set's name from its manner.
        match=f"{whole.name.replace(':', ' ')}:{Manner.STAVES}",
    )


def loosest(parts: PartsList, shop: Shop) -> PartsList:
    """Return rows that ask no more of the wood than any number of staves would, for a bound.

    Where the number is open, each wide stave holds some of the narrowest with a kerf between them;
    a panel counts as so many narrow ones as every number yields, each worth its share of those.
    """
    rows = []
    for part in parts:
        if not is_glued(part):
            rows.append(part)
            continue
        widths = {count: stave_width_mm(part, count, shop) for count in choices_of(part, shop)}
        least = min(widths.values())
        many = min(
            count * int((width + shop.kerf_mm) / (least + shop.kerf_mm) + 1e-9)
            for count, width in widths.items()
        )
        for n in range(1, part.quantity + 1):
            narrow = _narrow(_one(part, n), part, many, least, 1 / many)
            rows.append(replace(narrow, match=None))
    return tuple(rows)


def inside(placements: Iterable[Placement], parts: PartsList) -> tuple[Placement, ...]:
    """Return placements under the names that the search uses."""
    glued = {part.name for part in parts if is_glued(part)}
    return tuple(
        replace(p, part=f"{p.part}{_MARK}{p.copy}", copy=p.stave or 1, stave=None)
        if p.part in glued
        else p
        for p in placements
    )


def outside(placements: Iterable[Placement], counts: Counts) -> tuple[Placement, ...]:
    """Return placements under the names of the parts list."""
    found = []
    for p in placements:
        name, mark, copy = p.part.partition(_MARK)
        if mark:
            stave = p.copy if counts[name, int(copy)] > 1 else None
            found.append(replace(p, part=name, copy=int(copy), stave=stave))
        else:
            found.append(p)
    return tuple(found)


def whole_panels(placements: Iterable[Placement], shop: Shop) -> tuple[Placement, ...]:
    """Return the placements, the staves of a panel as one at their first one's place.

    Its width is what the staves make when they are jointed and glued.
    """
    staves: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    found = []
    for p in placements:
        if p.stave is None:
            found.append(p)
        else:
            staves[p.part, p.copy].append(p)
    for group in staves.values():
        width = sum(p.width_mm - jointing_mm(shop) for p in group)
        found.append(replace(group[0], width_mm=width, stave=None))
    return tuple(found)


def copies_placed(placements: Iterable[Placement], parts: PartsList, shop: Shop) -> Counter[str]:
    """Return how many copies of each part are placed; a panel that lacks a stave is none."""
    rough = {part.name: rough_size_mm(part, shop)[1] for part in parts if is_glued(part)}
    return Counter(
        p.part
        for p in whole_panels(placements, shop)
        if p.width_mm >= rough.get(p.part, 0.0) - _LESS_THAN_A_STAVE_MM
    )


def staves_said(placements: Iterable[Placement], parts: PartsList, shop: Shop) -> tuple[str, ...]:
    """Return one sentence for each panel that is glued up: its staves, and what they make."""
    said = []
    found: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    for p in placements:
        if p.stave is not None and p.state != "spoiled":
            found[p.part, p.copy].append(p)
    quantity = {part.name: part for part in parts}
    for (name, copy), group in sorted(found.items()):
        part = quantity[name]
        title = f"{name} {copy}" if part.quantity > 1 else name
        boards = " and ".join(sorted({p.board for p in group}))
        made = sum(p.width_mm - jointing_mm(shop) for p in group)
        size = length_text(group[0].width_mm, shop.units)
        joint = length_text(jointing_mm(shop), shop.units)
        said.append(
            f"{title} is glued up from {len(group)} staves of {boards}, {size} wide rough: jointed "
            f"({joint} each) they make {length_text(made, shop.units)}, to be trimmed to "
            f"{length_text(part.width_mm, shop.units)}."
        )
    return tuple(said)
