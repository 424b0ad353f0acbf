"""Marks that survive the planer: names on the ends, ticks at the show face, triangles over sets.

What is chalked on a face goes with the first shavings; the end grain keeps its marks until the
part is cut to its finished length. Common practice among makers, no standard.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from scanner.board.assembly import Assembly
from scanner.lot.milling_plan import MillingPiece
from scanner.placement.layout import Placement
from scanner.placement.parts import PartsList
from scanner.placement.wanted.sets import set_of


@dataclass(frozen=True, slots=True)
class EndMark:
    """What is written on both ends of a piece.

    Attributes
    ----------
    show_face
        The face of its board at whose side of the end the tick goes, None where either may show.
    is_sawn
        A slice of a bookmatched set: the face that the resaw opened shows.
    """

    title: str
    board: str
    show_face: int | None
    is_sawn: bool = False


@dataclass(frozen=True, slots=True)
class SetMark:
    """Pieces that one triangle goes across, in the order in which they lie together."""

    title: str
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LastingMarks:
    """All marks to make before the first pass."""

    ends: tuple[EndMark, ...]
    sets: tuple[SetMark, ...]


def lasting_marks(
    pieces: Iterable[MillingPiece],
    placements: Iterable[Placement],
    groups: Iterable[Assembly],
    parts: PartsList,
) -> LastingMarks:
    """Return the marks for pieces that are still to be milled.

    Parameters
    ----------
    groups
        What lies together, as `groups_of` says; mere copies of a part get no triangle.
    """
    faces = {
        (p.part, p.copy, p.stave or 0): p.show_face for p in placements if p.state != "spoiled"
    }
    ends = tuple(
        EndMark(
            p.title_once_sawn,
            p.board,
            None if p.layer else faces.get((p.part, p.copy, p.stave)),
            is_sawn=p.layer > 0,
        )
        for p in pieces
    )
    to_mill = {end.title for end in ends}
    matched = {part.name for part in parts if set_of(part) is not None}
    found = []
    for group in groups:
        belong = any(m.stave or m.part in matched for m in group.members)
        # A piece already planed was marked with its set; the triangle still goes over all.
        if belong and any(m.title in to_mill for m in group.members):
            found.append(SetMark(group.title, tuple(m.title for m in group.members)))
    return LastingMarks(ends, tuple(found))
