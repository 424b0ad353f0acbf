"""Nests as rows that the search lays out, and back: a nest is a curved part like any other to it.

What comes out is named as the parts list names it: the copies of one nest are placements of their
own that bear its number.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

from scanner.board.board import Board
from scanner.placement.curves.nests import Nest, nests_of
from scanner.placement.giving.give import Score, is_better
from scanner.placement.giving.sizes import givings_of
from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm

_MARK = "\x1e"
_NEAR_MM = 0.06
# So many ways to nest one part are tried.
_MOST_TRIED = 4


@dataclass(frozen=True, slots=True)
class Nesting:
    """How a part is nested: in which nest, how often."""

    nest: Nest
    times: int


Nestings = Mapping[str, Nesting]


def may_nest(part: Part) -> bool:
    """Whether copies of a part may be nested: curved, of one size, in no set, no filler."""
    return (
        part.outline_mm is not None
        and part.match is None
        and not part.filler
        and part.straight_grain != "follow"
        and not givings_of((part,))
    )


def in_nests(parts: PartsList, nestings: Nestings) -> PartsList:
    """Return the rows that the search lays out: a row of nests, and one of what lies alone."""
    rows: list[Part] = []
    for part in parts:
        one = nestings.get(part.name)
        if one is None or not one.times:
            rows.append(part)
            continue
        copies = len(one.nest.copies)
        rows += (_row(part, one), replace(part, quantity=part.quantity - copies * one.times))
    return tuple(row for row in rows if row.quantity or row.spares)


def _row(part: Part, one: Nesting) -> Part:
    nest = one.nest
    worth = len(nest.copies) * part.length_mm * part.width_mm
    return replace(
        part,
        name=f"{part.name}{_MARK}",
        quantity=one.times,
        spares=0,
        length_mm=nest.length_mm,
        width_mm=nest.width_mm,
        length_allowance_mm=0.0,
        width_allowance_mm=0.0,
        priority=part.priority * worth / (nest.length_mm * nest.width_mm),
        outline_mm=nest.outline_mm,
    )


def is_nest(name: str) -> bool:
    """Whether a name the search uses is that of a row of nests."""
    return name.endswith(_MARK)


def part_in_nest(name: str) -> str:
    """Return the name in the parts list of the part that a row of nests holds."""
    return name.removesuffix(_MARK)


def out_of_nests(
    placements: Sequence[Placement],
    nestings: Nestings,
    parts: Iterable[Part],
    shop: Shop,
    kept: Sequence[Placement] = (),
) -> list[Placement]:
    """Return placements with the copies of each nest in its place; copies get free numbers.

    ``kept``: what else lies on the boards, whose numbers of copies and nests are taken.
    """
    if not any(is_nest(p.part) for p in placements):
        return list(placements)
    part_of = {part.name: part for part in parts}
    used: dict[str, set[int]] = defaultdict(set)
    nests: dict[str, set[int]] = defaultdict(set)
    for p in (*placements, *kept):
        used[p.part].add(p.copy)
        nests[p.board].add(p.nest or 0)
    found: list[Placement] = []
    for p in placements:
        if not is_nest(p.part):
            found.append(p)
            continue
        name = part_in_nest(p.part)
        length, width = rough_size_mm(part_of[name], shop)
        number = _lowest_free(nests[p.board])
        for one in nestings[name].nest.copies:
            copy = _lowest_free(used[name])
            x, y = round(p.x_mm + one.x_mm, 2), round(p.y_mm + one.y_mm, 2)
            found.append(
                replace(
                    p, part=name, copy=copy, x_mm=x, y_mm=y, length_mm=length, width_mm=width,
                    nest=number, half_turn=one.half_turn,
                )
            )  # fmt: skip
    return found


def _lowest_free(used: set[int]) -> int:
    number = next(n for n in count(1) if n not in used)
    used.add(number)
    return number


def into_nests(placements: Iterable[Placement], nestings: Nestings) -> tuple[Placement, ...]:
    """Return a former layout's placements, those nested as they would be today as one each."""
    found: list[Placement] = []
    groups: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    for p in placements:
        if p.nest is None:
            found.append(p)
        elif p.state == "planned" and not p.locked:
            groups[p.board, p.nest].append(p)
    for n, group in enumerate(groups.values(), 1):
        one = nestings.get(group[0].part)
        x0, y0 = min(p.x_mm for p in group), min(p.y_mm for p in group)
        if one is not None and _lie_as(one.nest, group, (x0, y0)):
            size = one.nest.length_mm, one.nest.width_mm
            found.append(
                replace(
                    group[0], part=f"{group[0].part}{_MARK}", copy=n, x_mm=x0, y_mm=y0,
                    length_mm=size[0], width_mm=size[1], nest=None, half_turn=False,
                )
            )  # fmt: skip
    return tuple(found)


def _lie_as(nest: Nest, group: Sequence[Placement], corner: tuple[float, float]) -> bool:
    def at(x: float, y: float, half: bool) -> tuple[int, int, bool]:
        return round(x / _NEAR_MM / 2), round(y / _NEAR_MM / 2), half

    wanted = Counter(at(c.x_mm, c.y_mm, c.half_turn) for c in nest.copies)
    have = Counter(at(p.x_mm - corner[0], p.y_mm - corner[1], p.half_turn) for p in group)
    return wanted == have


def find_nestings(
    parts: PartsList,
    kept: Sequence[Placement],
    boards: Sequence[Board],
    shop: Shop,
    trial: Callable[[Nestings], tuple[Score, Mapping[str, int]]],
    is_over: Callable[[], bool],
) -> dict[str, Nesting]:
    """Return how curved parts are nested: the way that places most, then on least wood.

    ``trial`` lays the parts out quickly and says what that is worth, and how many nests of each
    part found a place. Where not all did, so many are tried beside single copies.
    """
    have = Counter(p.part for p in kept)
    widest = max((b.faces[1].outline.bounds[3] - b.faces[1].outline.bounds[1] for b in boards),
                 default=0.0)  # fmt: skip
    longest = max((b.length.value_mm for b in boards), default=0.0)
    nestings: dict[str, Nesting] = {}
    best: Score | None = None
    for part in parts:
        free = part.quantity - have[part.name]
        if not may_nest(part) or free < 2:
            continue
        ways = [
            nest
            for nest in nests_of(part, shop)
            if len(nest.copies) <= free and nest.length_mm <= longest and nest.width_mm <= widest
        ]
        for nest in ways[:_MOST_TRIED]:
            if best is None:
                best = trial(nestings)[0]
            times = free // len(nest.copies)
            while times:
                tried = {**nestings, part.name: Nesting(nest, times)}
                score, placed = trial(tried)
                if is_better(score, best):
                    best, nestings = score, tried
                fewer = placed.get(part.name, 0)
                times = fewer if fewer < times else 0
            if is_over():
                break
    return nestings
