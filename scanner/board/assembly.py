"""`Assembly`: pieces of wood laid together as they will be seen, before anything is cut.

A member lies on its board as it was placed; shown it may be flipped (its other face up, turned
about its length) and turned end for end. All is mm. A member's own frame has u along its length
and v across, both from its top left corner as it is shown.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal, get_args

Way = Literal["edge_to_edge", "stacked", "upright", "in_a_row"]
WAYS: tuple[Way, ...] = get_args(Way)
Point = tuple[float, float]
# a, b, c, d, e, f of x = a u + b v + c, y = d u + e v + f.
Affine = tuple[float, float, float, float, float, float]

# Between drawer fronts, doors or legs that are not glued together.
_GAP_MM = 6.0
# What was said of a piece holds while it is cut from the same wood.
_SAME_WOOD_MM = 1.0


@dataclass(frozen=True, slots=True)
class Member:
    """One piece of wood in an assembly.

    Attributes
    ----------
    stave
        Which one of its panel, from 1; 0 where the part is in one piece.
    corner_mm, size_mm, angle_deg
        The finished piece on its board: corner of smallest x and y before turning about that
        corner, length and width, turn from x towards y.
    face, is_turned
        Which face of the board shows, and whether the piece is turned end for end.
    may_show
        The faces that may show; a part that is clear on both has two.
    is_face_free
        Whether the layout leaves open which face shows; else it says so, and flipping changes it.
    is_cut
        Whether it is cut already.
    name
        What its copy is called, where that is not part and number.
    """

    part: str
    copy: int
    stave: int
    board: str
    corner_mm: Point
    size_mm: Point
    angle_deg: float = 0.0
    face: int = 1
    is_turned: bool = False
    may_show: tuple[int, ...] = (1, 2)
    is_face_free: bool = True
    is_cut: bool = False
    name: str = ""

    @property
    def key(self) -> tuple[str, int, int]:
        """Its name: part, copy, stave."""
        return (self.part, self.copy, self.stave)

    @property
    def title(self) -> str:
        """Its name in words."""
        name = self.name or f"{self.part} {self.copy}"
        return name + (f", stave {self.stave}" if self.stave else "")

    @property
    def arrow(self) -> int:
        """Which way the arrow of its board's shimmer points in the assembly: 1 right, -1 left.

        Shimmer comes from fibres that rise out of the face towards one end. Seen from the other
        face the same fibres rise towards the other end, so a flipped piece counts as turned
        (geometry). Which of both ends it is no photograph shows: only that two arrows agree.
        """
        return (-1 if self.face == 2 else 1) * (-1 if self.is_turned else 1)

    def board_from_piece(self) -> Affine:
        """Return the move from the member's own frame, as shown, to the board frame."""
        length, width = self.size_mm
        # u = u0 + su * along, v likewise: flipped about the length, then turned by half a turn.
        along, across = 1.0, (-1.0 if self.face == 2 else 1.0)
        if self.is_turned:
            along, across = -along, -across
        u0 = length if along < 0 else 0.0
        v0 = width if across < 0 else 0.0
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        x, y = self.corner_mm
        return (
            c * along, -s * across, x + c * u0 - s * v0,
            s * along, c * across, y + s * u0 + c * v0,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Lie:
    """How a piece of wood is to be laid: known by its place on its board, not by its number."""

    board: str
    corner_mm: Point
    face: int
    is_turned: bool


@dataclass(frozen=True, slots=True)
class FitNotes:
    """What was said of how pieces lie, and by its title of how each group is put together."""

    lies: tuple[Lie, ...] = ()
    ways: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a member lies in its assembly, mm; ``upright``: its length runs down the picture.

    An upright member's left end (as it lies) is at the foot.
    """

    x: float
    y: float
    width: float
    height: float
    upright: bool


@dataclass(frozen=True, slots=True)
class Assembly:
    """Members in order, and how they lie together."""

    title: str
    way: Way
    members: tuple[Member, ...]

    @property
    def is_glued(self) -> bool:
        """Whether the members touch along their long edges."""
        return self.way == "edge_to_edge"

    def places(self) -> tuple[Place, ...]:
        """Return where each member lies, the first one topmost or leftmost."""
        found, at = [], 0.0
        gap = 0.0 if self.is_glued else _GAP_MM
        for member in self.members:
            length, width = member.size_mm
            match self.way:
                case "upright":
                    found.append(Place(at, 0.0, width, length, upright=True))
                    at += width + gap
                case "in_a_row":
                    found.append(Place(at, 0.0, length, width, upright=False))
                    at += length + gap
                case _:
                    found.append(Place(0.0, at, length, width, upright=False))
                    at += width + gap
        return tuple(found)

    @property
    def size_mm(self) -> Point:
        """Width and height of the whole."""
        places = self.places()
        return (
            max((p.x + p.width for p in places), default=0.0),
            max((p.y + p.height for p in places), default=0.0),
        )

    def index(self, part: str, copy: int, stave: int) -> int | None:
        """Return where a member stands, None where there is none of that name."""
        keys = [member.key for member in self.members]
        return keys.index((part, copy, stave)) if (part, copy, stave) in keys else None


def with_member(assembly: Assembly, index: int, member: Member) -> Assembly:
    """Return the assembly with another member at a place."""
    members = list(assembly.members)
    members[index] = member
    return replace(assembly, members=tuple(members))


def flipped(member: Member) -> Member:
    """Return a member with its other face up.

    Raises
    ------
    ValueError
        The other face may not show.
    """
    other = 3 - member.face
    if other not in member.may_show:
        raise ValueError(f"face {other} of {member.title} may not show")
    return replace(member, face=other)


def turned(member: Member) -> Member:
    """Return a member turned end for end."""
    return replace(member, is_turned=not member.is_turned)


def in_order(assembly: Assembly, order: tuple[int, ...]) -> Assembly:
    """Return the assembly with its members in another order.

    Parameters
    ----------
    order
        For each new place the index of the member that goes there.
    """
    if sorted(order) != list(range(len(assembly.members))):
        raise ValueError(f"{order} is no order of {len(assembly.members)} members")
    return replace(assembly, members=tuple(assembly.members[k] for k in order))


def shimmer_agrees(assembly: Assembly) -> bool | None:
    """Return whether neighbours from one board shimmer alike; None where no two are of one board.

    Of pieces from different boards nothing can be told.
    """
    members = assembly.members
    pairs = [(a, b) for a, b in pairwise(members) if a.board == b.board]
    return all(a.arrow == b.arrow for a, b in pairs) if pairs else None


def lie_of(member: Member) -> Lie:
    """Return how a member lies, to be kept."""
    return Lie(member.board, member.corner_mm, member.face, member.is_turned)


def laid_as(assembly: Assembly, lies: Iterable[Lie]) -> Assembly:
    """Return the assembly with its members laid as was said of their wood; the last word counts."""
    said = list(lies)[::-1]
    return replace(assembly, members=tuple(_laid(member, said) for member in assembly.members))


def _laid(member: Member, said: list[Lie]) -> Member:
    for lie in said:
        if lie.board == member.board and math.dist(lie.corner_mm, member.corner_mm) < _SAME_WOOD_MM:
            may = member.is_face_free and lie.face in member.may_show
            return replace(member, face=lie.face if may else member.face, is_turned=lie.is_turned)
    return member
