"""Matched sets: which copies belong together, and how they may lie on a board as one item."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Self

from scanner.errors import PlacementError
from scanner.placement.parts import Part

ANYWHERE_MM = (float("-inf"), float("inf"))


class Manner(StrEnum):
    """How the members of a set lie to each other."""

    BESIDE = "beside"
    IN_ORDER = "in_order"
    BOOKMATCH = "bookmatch"
    # Staves of one panel: one board, and beside each other where that is possible.
    STAVES = "staves"

    @property
    def words(self) -> str:
        """How they lie: "the set is to lie ..."."""
        match self:
            case Manner.BESIDE:
                return "next to each other"
            case Manner.IN_ORDER:
                return "in order along the grain"
            case Manner.BOOKMATCH:
                return "bookmatched"
            case Manner.STAVES:
                return "as the staves of a panel"


@dataclass(frozen=True, slots=True)
class MatchedSet:
    """Copies that come from one board, all or none; ``members`` has one entry a copy, in order.

    ``within_mm``: the stretch of its board they must lie in, where another place of the same board
    holds what comes before or after them.
    """

    name: str
    manner: Manner
    members: tuple[Part, ...]
    within_mm: tuple[float, float] = ANYWHERE_MM


@dataclass(frozen=True, slots=True)
class Size:
    """What a part takes: tenths of a millimetre along and across; rows, and rows with the kerf."""

    length: int
    width: int
    deep: int
    pitch: int

    @classmethod
    def of(cls, length: int, width: int, row: int, kerf: int) -> Self:
        """Return the size of so many tenths, in rows of so many."""
        return cls(length, width, -(-width // row), -(-(width + kerf) // row))


@dataclass(frozen=True, slots=True)
class Member:
    """One member of a laid-out set: its place from the set's first corner, tenths and rows.

    ``layer``: which slice it is where several are resawn from one blank.
    """

    part: Part
    size: Size
    x: int
    row: int
    layer: int | None = None


Arrangement = tuple[Member, ...]


def set_of(part: Part) -> tuple[str, Manner] | None:
    """Return the name of the set a part belongs to and its manner, or None."""
    if not part.match:
        return None
    name, _, manner = part.match.partition(":")
    return name.strip(), Manner(manner or "beside")


def refuse_mixed_sets(parts: Sequence[Part]) -> None:
    """Refuse a parts list whose sets cannot be meant as they stand.

    Raises
    ------
    PlacementError
        One set is asked for in two manners, or holds a filler.
    """
    manners: dict[str, Manner] = {}
    for part in parts:
        found = set_of(part)
        if found is None:
            continue
        name, manner = found
        if manners.setdefault(name, manner) is not manner:
            raise PlacementError(
                f"the set {name} is to lie {manners[name].words} and also {manner.words}",
                f"write the same manner after {name}: in every row of the set",
            )
        if part.filler:
            raise PlacementError(
                f"{part.name} is a filler and belongs to the set {name}",
                "take it out of the set, or make it no filler",
            )


def matched_sets(parts: Sequence[Part], wanted: Mapping[str, int]) -> tuple[MatchedSet, ...]:
    """Return the sets of a parts list, with as many copies of each part as are still wanted.

    A set of a single copy is none: that copy is an ordinary part.
    """
    members: dict[tuple[str, Manner], list[Part]] = {}
    for part in parts:
        found = set_of(part)
        if found is not None:
            members.setdefault(found, []).extend([part] * wanted[part.name])
    return tuple(
        MatchedSet(name, manner, tuple(own))
        for (name, manner), own in members.items()
        if len(own) > 1
    )


def arrangements(
    matched: MatchedSet, sizes: Mapping[str, Size], kerf: int, exact: bool, deep: int = 0
) -> Iterator[Arrangement]:
    """Yield how the set may lie, the arrangement that is liked best first.

    ``in_order``: one after another in one strip. Otherwise side by side, then in a block of as few
    columns as will do, at last in one strip. ``exact``: a strip holds one width only. ``deep``: how
    many members of a bookmatched set one blank gives; such a set lies as its blanks do.
    """
    if matched.manner is Manner.BOOKMATCH:
        if deep:
            yield from _blanks(matched, sizes, kerf, exact, deep)
        return
    own = [sizes[part.name] for part in matched.members]
    count = len(own)
    are_alike = len({(size.length, size.width) for size in own}) == 1
    for columns in range(1, count + 1):
        in_one_strip = columns == count
        if matched.manner is Manner.IN_ORDER and not in_one_strip:
            continue
        if 1 < columns < count and not are_alike:
            continue
        if in_one_strip and columns > 1 and exact and len({size.width for size in own}) > 1:
            continue
        yield _block(matched.members, own, columns, kerf)


def _blanks(
    matched: MatchedSet, sizes: Mapping[str, Size], kerf: int, exact: bool, deep: int
) -> Iterator[Arrangement]:
    """Yield how blanks may lie that are resawn into members in their order."""
    blanks = replace(matched, manner=Manner.BESIDE, members=matched.members[::deep])
    for way in arrangements(blanks, sizes, kerf, exact):
        yield tuple(
            Member(part, blank.size, blank.x, blank.row, layer)
            for n, blank in enumerate(way)
            for layer, part in enumerate(matched.members[n * deep : (n + 1) * deep], 1)
        )


def _block(parts: Sequence[Part], sizes: Sequence[Size], columns: int, kerf: int) -> Arrangement:
    """Lay the members row by row, so many in a row."""
    members: list[Member] = []
    x = row = 0
    for n, (part, size) in enumerate(zip(parts, sizes, strict=True)):
        if n and n % columns == 0:
            row += max(member.size.pitch for member in members[-columns:])
            x = 0
        members.append(Member(part, size, x, row))
        x += size.length + kerf
    return tuple(members)


def outer_size(arrangement: Arrangement) -> Size:
    """Return what the whole arrangement takes."""
    return Size(
        max(m.x + m.size.length for m in arrangement),
        max(m.size.width for m in arrangement),
        max(m.row + m.size.deep for m in arrangement),
        max(m.row + m.size.pitch for m in arrangement),
    )


def is_one_strip(arrangement: Arrangement) -> bool:
    """Whether one rip on each side frees the whole arrangement as a strip."""
    return all(member.row == 0 for member in arrangement)
