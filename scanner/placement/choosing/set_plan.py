"""Where matched sets may go: whole on one board, else over two boards that are alike.

A set of which something is cut or locked already goes on where that lies. A set that no board can
hold in one place is divided in two: two places of one board, else two boards of one species and
thickness; where that does not help it stays whole, and so unplaced. Where it is known what boards
look like, the second board is the likest of those that hold the rest.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from scanner.board.board import Board
from scanner.board.likest import boards_apart, likest_id
from scanner.placement.ground.clear_ground import Clear, Stretches
from scanner.placement.ground.resaw import slices_deep
from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import types_of
from scanner.placement.wanted.sets import (
    ANYWHERE_MM,
    Manner,
    MatchedSet,
    arrangements,
    matched_sets,
    outer_size,
    set_of,
)

# Boards of one stack differ by this much in thickness (trade: 4/4 is "1 to 1 1/8 in").
ALIKE_THICKNESS_MM = 3.2


@dataclass(frozen=True, slots=True)
class Plan:
    """What the search places: parts that stand alone with their copies, and sets."""

    parts: tuple[Part, ...]
    wanted: tuple[int, ...]
    sets: tuple[MatchedSet, ...]


def are_alike(one: Board, other: Board) -> bool:
    """Whether a set may be divided over these two: same species, same nominal thickness."""
    return (
        one.species.casefold().strip() == other.species.casefold().strip()
        and abs(one.thickness.value_mm - other.thickness.value_mm) <= ALIKE_THICKNESS_MM
    )


def plan_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Mapping[str, int],
    kept: Sequence[Placement],
    shop: Shop,
    taken: Stretches,
) -> Plan:
    """Return parts and sets as the search should place them."""
    sets: list[MatchedSet] = []
    bound: dict[str, Part] = {}
    in_sets: set[str] = set()
    home = _homes(parts, kept)
    fits = Fits(boards, shop, taken)
    for one in matched_sets(parts, wanted):
        in_sets.update(member.name for member in one.members)
        at_home = _at_home(one, home)
        if one.manner is Manner.STAVES:
            ids = _alike_ids(boards, home.get(one.name, ()))
            sets += _staves(fits, (at_home, _on(one, ids)) if ids else (one,))
            continue
        if one.manner is Manner.BOOKMATCH and not fits.boards_for(at_home):
            # No blank is thick enough: from one board, side by side.
            one, at_home = (replace(s, manner=Manner.BESIDE) for s in (one, at_home))
        if one.name in home and not fits.boards_for(at_home):
            at_home = _beside_home(fits, one, boards, home[one.name])
        sets += _placed_whole_or_divided(fits, at_home)
    for part in parts:
        found = set_of(part)
        if found is not None and part.name not in in_sets and found[0] in home:
            # The last missing member of a set that is cut or locked already.
            alone = _at_home(MatchedSet(*found, (part,)), home)
            if not fits.boards_for(alone):
                alone = _beside_home(fits, MatchedSet(*found, (part,)), boards, home[found[0]])
            bound[part.name] = alone.members[0] if fits.boards_for(alone) else part
    singles = [bound.get(part.name, part) for part in parts if part.name not in in_sets]
    return Plan(tuple(singles), tuple(wanted[part.name] for part in singles), tuple(sets))


def _homes(parts: Sequence[Part], kept: Sequence[Placement]) -> dict[str, tuple[str, ...]]:
    """Return for each set the boards on which something of it is cut or locked."""
    name_of = {part.name: found[0] for part in parts if (found := set_of(part))}
    homes: dict[str, set[str]] = {}
    for p in kept:
        if p.part in name_of:
            homes.setdefault(name_of[p.part], set()).add(p.board)
    return {name: tuple(sorted(ids)) for name, ids in homes.items()}


def _at_home(one: MatchedSet, home: Mapping[str, tuple[str, ...]]) -> MatchedSet:
    """Return the set bound to the boards where the rest of it lies."""
    return _on(one, home[one.name]) if one.name in home else one


def _alike_ids(boards: Sequence[Board], ids: Sequence[str]) -> list[str]:
    """Return the boards that are alike one of these."""
    own = [board for board in boards if board.id in ids]
    return [board.id for board in boards if any(are_alike(board, other) for other in own)]


def _beside_home(
    fits: "Fits", one: MatchedSet, boards: Sequence[Board], home: Sequence[str]
) -> MatchedSet:
    """Return the set bound to boards alike those where the rest of it lies, best the likest one."""
    ids = _alike_ids(boards, home)
    able = [board for board in fits.boards_for(_on(one, ids)) if board.id in ids]
    likest = likest_id([board for board in boards if board.id in home], able)
    return _on(one, [*home, likest] if likest is not None else ids)


def _likest_pair(
    fits: "Fits", first: MatchedSet, second: MatchedSet
) -> tuple[MatchedSet, MatchedSet] | None:
    """Return both halves on the two boards likest to each other, None where looks are not known."""
    rest = fits.boards_for(second)
    pairs = [
        (apart, one.id, other.id)
        for one in fits.boards_for(first)
        for other in rest
        if other is not one and are_alike(one, other)
        if (apart := boards_apart(one, other)) is not None
    ]
    if not pairs:
        return None
    _, one_id, other_id = min(pairs)
    if first.manner is Manner.IN_ORDER:
        return _on(first, [one_id]), _on(second, [other_id])
    ids = [one_id, other_id]
    return _on(first, ids), _on(second, ids)


def _on(one: MatchedSet, ids: Sequence[str]) -> MatchedSet:
    members = tuple(
        replace(m, only_boards=tuple(i for i in ids if not m.only_boards or i in m.only_boards))
        for m in one.members
    )
    # An empty list would mean any board.
    return replace(one, members=members) if all(m.only_boards for m in members) else one


def _placed_whole_or_divided(fits: "Fits", one: MatchedSet) -> list[MatchedSet]:
    """Return the set; in two where only two places of a board, or two alike boards, hold it."""
    if fits.boards_for(one):
        return [one]
    count = len(one.members)
    # Which half is the larger matters only where the first comes before the second.
    least = 0 if one.manner is Manner.IN_ORDER else (count - 1) // 2
    divided = [
        (replace(one, members=one.members[:n]), replace(one, members=one.members[n:]))
        for n in range(count - 1, least, -1)
    ]
    for first, second in divided:
        for board in fits.boards_for(first):
            if both := fits.both_on(board, first, second):
                return [_on(half, [board.id]) for half in both]
    for first, second in divided:
        if pair := _likest_pair(fits, first, second):
            return list(pair)
        for board in fits.boards_for(first):
            alike = [b for b in fits.boards if are_alike(b, board)]
            others = [b.id for b in fits.boards_for(second) if b is not board and b in alike]
            if others and one.manner is Manner.IN_ORDER:
                # Never both on one board: there the second might come before the first.
                return [_on(first, [board.id]), _on(second, others)]
            if others:
                ids = [b.id for b in alike]
                return [_on(first, ids), _on(second, ids)]
    return [one]


def _staves(fits: "Fits", ways: Sequence[MatchedSet]) -> list[MatchedSet]:
    """Return the staves of a panel as one set, or in as many places of one board as it takes."""
    for one in ways:
        if fits.boards_for(one):
            return [one]
        for board in fits.boards:
            places = fits.places_on(board, one)
            if places:
                return places
    return [ways[0]]


class Fits:
    """Answers which boards could hold a set if nothing else lay on them."""

    def __init__(self, boards: Sequence[Board], shop: Shop, taken: Stretches) -> None:
        self.boards, self._shop, self._taken = tuple(boards), shop, dict(taken)

    def boards_for(self, one: MatchedSet) -> list[Board]:
        """Return the boards that could hold the set whole."""
        return [
            board
            for board in self.boards
            if self._first_span(board, one, self._taken.get(board.id, ())) is not None
        ]

    def places_on(self, board: Board, one: MatchedSet) -> list[MatchedSet]:
        """Return the set in as few places of one board as hold it all, none where they do not.

        The places are taken: the next set asked about does not count on them.
        """
        taken = self._taken.get(board.id, ())
        rest, places = one.members, []
        while rest:
            for count in range(len(rest), 0, -1):
                span = self._first_span(board, replace(one, members=rest[:count]), taken)
                if span is not None:
                    break
            else:
                return []
            places.append(_on(replace(one, members=rest[:count]), [board.id]))
            taken, rest = (*taken, span), rest[count:]
        self._taken[board.id] = taken
        return places

    def both_on(
        self, board: Board, one: MatchedSet, other: MatchedSet
    ) -> tuple[MatchedSet, MatchedSet] | None:
        """Return two sets that find room on one board, each as near to end A as it goes, or None.

        Of sets in order each is held to its stretch of the board, the second after the first.
        """
        taken = self._taken.get(board.id, ())
        if one.manner is Manner.IN_ORDER:
            span = self._first_span(board, one, taken)
            if span is None:
                return None
            after = replace(other, within_mm=(span[1], ANYWHERE_MM[1]))
            if self._first_span(board, after, taken) is None:
                return None
            return replace(one, within_mm=(ANYWHERE_MM[0], span[1])), after
        for first, second in ((one, other), (other, one)):
            span = self._first_span(board, first, taken)
            if span is not None and self._first_span(board, second, (*taken, span)) is not None:
                return one, other
        return None

    def _first_span(
        self, board: Board, one: MatchedSet, taken: tuple[tuple[float, float], ...]
    ) -> tuple[float, float] | None:
        """Return the stretch (mm, a kerf round it) of the set's place nearest to end A."""
        types = types_of((), (), self._shop, (one,))
        clear = Clear(board, types, self._shop, taken)
        exact = self._shop.cut_class == "three_stage"
        deep = slices_deep(board, one, self._shop)
        for way in arrangements(one, types.sizes, types.kerf, exact, deep):
            runs = clear.of_arrangement(way, one.within_mm)[1]
            if len(runs):
                start = int(runs[:, 0].min())
                stop = start + outer_size(way).length
                return (start - types.kerf) / 10, (stop + types.kerf) / 10
        return None

    def most_members(self, one: MatchedSet) -> tuple[int, Board | None]:
        """Return how many of the first members one board could hold at most, and which board."""
        for count in range(len(one.members), 0, -1):
            able = self.boards_for(replace(one, members=one.members[:count]))
            if able:
                return count, able[0]
        return 0, None


def partly_placed(
    parts: Sequence[Part], placed: Sequence[Placement], kept: Sequence[Placement]
) -> frozenset[str]:
    """Return the names of the parts whose set is neither complete nor empty, nor kept in part."""
    begun = {p.part for p in kept}
    have = {part.name: sum(p.part == part.name for p in placed) for part in parts}
    names: set[str] = set()
    grouped = sorted((found[0], part.name) for part in parts if (found := set_of(part)))
    quantity = {part.name: part.quantity for part in parts}
    for _, group in groupby(grouped, key=lambda pair: pair[0]):
        own = [name for _, name in group]
        is_full = all(have[name] >= quantity[name] for name in own)
        if not is_full and any(have[name] for name in own) and not begun & set(own):
            names.update(own)
    return frozenset(names)
