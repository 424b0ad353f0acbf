"""Which order and lie of a group's pieces matches best at the joints, and hints for the eye.

Hints, not rules: makers disagree, and the maker looks at the wood itself.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scanner.board.assembly import Assembly, Member, shimmer_agrees, turned
from scanner.lot.best_order import Row, best_row, cost_of
from scanner.vision.looks.joint_look import PieceLook, joints_of

# By name and face; none where the board has no picture of that face.
Looks = Mapping[tuple[tuple[str, int, int], int], PieceLook]

# Grain steeper than this at an outer edge is named (1 in 20: about the slope from which a plane
# tears; common practice, no source).
_STRAIGHT = 1 / 20
_SAME_SIZE_MM = 0.5
# An order is not called better for less than this share.
_SAME = 0.02


@dataclass(frozen=True, slots=True)
class Match:
    """A group as it lies, and the order proposed; costs are unlikeness at the joints, summed.

    ``proposed`` is the group itself where nothing matches better.
    """

    cost: float
    proposed: Assembly
    proposed_cost: float
    is_exact: bool

    @property
    def gain(self) -> float:
        """The share of the unlikeness that the proposal takes away."""
        return 1 - self.proposed_cost / self.cost if self.cost > 0 else 0.0


def match_of(assembly: Assembly, looks: Looks) -> Match | None:
    """Return the best order and lie of a group.

    None where the group's long edges do not meet, where its pieces differ in size, or where a
    piece has no picture.
    """
    members = assembly.members
    if assembly.way == "in_a_row" or len(members) < 2 or not _are_alike(members):
        return None
    every = [_states(member, looks) for member in members]
    if any(all(look is None for _, look in states) for states in every):
        return None
    joints = joints_of([[look for _, look in states] for states in every])
    shown = [_state_of(member, states) for member, states in zip(members, every, strict=True)]
    if any(look is None for states, s in zip(every, shown, strict=True) for look in [states[s][1]]):
        return None
    allowed = np.array([[look is not None for _, look in states] for states in every])
    cost = cost_of(joints, range(len(members)), shown)
    row = _as_it_lies(best_row(joints, allowed), shown)
    if row.cost > (1 - _SAME) * cost:
        return Match(cost, assembly, cost, row.is_exact)
    laid = tuple(every[k][s][0] for k, s in zip(row.order, row.states, strict=True))
    return Match(cost, replace(assembly, members=laid), row.cost, row.is_exact)


def _as_it_lies(row: Row, shown: Sequence[int]) -> Row:
    """Return the row, or the same row turned as a whole, whichever moves fewer pieces."""
    other = Row(
        row.order[::-1],
        # States run face 1, face 1 turned, face 2, face 2 turned.
        tuple(s ^ 1 for s in row.states[::-1]),
        row.cost,
        row.is_exact,
    )

    def moved(one: Row) -> int:
        return sum(
            (at != k) + (s != shown[k])
            for at, (k, s) in enumerate(zip(one.order, one.states, strict=True))
        )

    return min((row, other), key=moved)


def _are_alike(members: Sequence[Member]) -> bool:
    first = members[0].size_mm
    return all(math.dist(member.size_mm, first) < _SAME_SIZE_MM for member in members)


def _states(member: Member, looks: Looks) -> list[tuple[Member, PieceLook | None]]:
    """Return the member in each state: face 1, face 1 turned, face 2, face 2 turned."""
    found: list[tuple[Member, PieceLook | None]] = []
    for face in (1, 2):
        one = replace(member, face=face, is_turned=False)
        look = looks.get((member.key, face)) if face in member.may_show else None
        found.append((one, look))
        found.append((turned(one), look.turned() if look else None))
    return found


def _state_of(member: Member, states: list[tuple[Member, PieceLook | None]]) -> int:
    return next(
        n
        for n, (one, _) in enumerate(states)
        if (one.face, one.is_turned) == (member.face, member.is_turned)
    )


def hints_of(assembly: Assembly, looks: Looks) -> tuple[str, ...]:
    """Return hints for a group, in sentences; the last says what no photograph shows."""
    members = assembly.members
    shown = [_shown_look(member, looks) for member in members]
    said = []
    if assembly.is_glued and len(members) % 2 == 0:
        said.append(
            f"{len(members)} staves: many makers like an odd number, so that no joint lies in the "
            "middle."
        )
    if assembly.is_glued:
        said += _outer_edges(members, shown)
    said += _cathedrals(members, shown)
    agrees = shimmer_agrees(assembly)
    if agrees is False:
        said.append(
            "Arrows of neighbours from one board differ: those will shimmer differently, light "
            "where the other is dark. Turn one end for end, or flip it."
        )
    said += _apart(members, looks)
    said.append(
        "Shimmer, and how finish deepens colour, no photograph shows: lay the pieces side by side "
        "in the light they will stand in before you glue."
    )
    return tuple(said)


def _apart(members: Sequence[Member], looks: Looks) -> list[str]:
    """Say which wood nobody photographed, and what photos taken apart are not good for."""
    boards = dict.fromkeys(member.board for member in members)
    seen = {member.board for member in members if any(key == member.key for key, _ in looks)}
    said = []
    if unseen := [board for board in boards if board not in seen]:
        said.append(f"No photo of {', '.join(unseen)}: that wood is drawn plain.")
    if len(boards) > 1:
        apart = "" if unseen else " their photos were taken apart, so"
        said.append(f"From several boards:{apart} compare colours at the wood, wetted or planed.")
    return said


def _shown_look(member: Member, looks: Looks) -> PieceLook | None:
    look = looks.get((member.key, member.face))
    return look.turned() if look is not None and member.is_turned else look


def _outer_edges(members: Sequence[Member], shown: Sequence[PieceLook | None]) -> list[str]:
    said = []
    first, last = shown[0], shown[-1]
    ends = [
        (members[0], first.upper.mean_course_rad if first else None),
        (members[-1], last.lower.mean_course_rad if last else None),
    ]
    for member, course in ends:
        if course is None or abs(course) < 1e-9:
            continue
        slope = abs(math.tan(course))
        if slope > _STRAIGHT:
            said.append(
                f"Outer edge of {member.title}: grain runs out at about 1 in {1 / slope:.0f}; "
                "straight grain there frames a top."
            )
    return said


def _cathedrals(members: Sequence[Member], shown: Sequence[PieceLook | None]) -> list[str]:
    ways = [look.cathedral if look else 0 for look in shown]
    right, left = ways.count(1), ways.count(-1)
    if not right or not left:
        return []
    fewer = 1 if right < left else -1
    odd = [m.title for m, way in zip(members, ways, strict=True) if way == fewer]
    return [
        f"Cathedrals point both ways ({', '.join(odd)} against the rest); most makers let them "
        "point one way, on doors upwards."
    ]
