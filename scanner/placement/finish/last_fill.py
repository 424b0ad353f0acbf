"""What found no place yet, into clear room beside what lies: exact places, no rows.

The search lays parts on rows of about a millimetre, so that one with less to spare than a row may
be passed over. Here nothing moves that lies; each missing part is tried wherever its corner may be
(`may_lie`), and the judge has the last word on every place.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count

import shapely
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.placement.curves.shapes import is_upright_rectangle
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.ground.may_lie import both_edges, corners_beside, corners_on
from scanner.placement.ground.rooms import Rooms
from scanner.placement.laid.cuts import frees_all
from scanner.placement.laid.kept import taken_stretches
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, show_faces
from scanner.placement.rules import refusal_of
from scanner.placement.rules.ground import Zone, margin_mm
from scanner.placement.shop import Shop
from scanner.placement.validator.dropped import dropped_objections
from scanner.placement.wanted.items import rough_size_mm, value_mm2
from scanner.placement.wanted.turned import sawn_blanks

# Boards looked at, those that are opened anyway first: what is left of a large lot takes longer.
_MOST_BOARDS = 40
# Limits count as kept to within this: the same sum of sizes differs by rounding.
_HAIR_MM = 1e-3
# Stretches, and corners of the clear ground in them, that are tried on one board.
_MOST_STRETCHES, _MOST_CORNERS, _MOST_JUDGED = 60, 200, 8

_Stretch = tuple[float, float, float, float]


def with_last_fill(
    boards: Sequence[Board],
    parts: Sequence[Part],
    placed: Sequence[Placement],
    kept: tuple[Placement, ...],
    former: Layout | None,
    shop: Shop,
) -> list[Placement]:
    """Return the placements with what else finds room, most value first, beside what lies.

    Left out are what is not laid alone as an upright rectangle (sets and staves, curved or turned
    parts), fillers and spares. ``parts``: the rows of the search. ``kept``: what is fixed, with
    ``former`` the layout it is from; the stretch of board beside it is not to be had.
    """
    have = Counter(p.part for p in placed)
    missing = [p for p in parts if _is_alone(p) and have[p.name] < p.quantity]
    if not missing or not boards:
        return list(placed)
    fill = _Fill(boards, placed, kept, former, shop)
    for part in sorted(missing, key=lambda p: (-value_mm2(p), p.name)):
        fill.lay(part, part.quantity - have[part.name])
    return [*placed, *fill.laid]


def _is_alone(part: Part) -> bool:
    return not (part.match or part.filler or part.outline_mm)


class _Fill:
    """The boards as they lie, and what was laid on them since."""

    def __init__(
        self,
        boards: Sequence[Board],
        placed: Sequence[Placement],
        kept: tuple[Placement, ...],
        former: Layout | None,
        shop: Shop,
    ) -> None:
        self._lying: dict[str, list[Placement]] = defaultdict(list)
        self._copies: dict[str, set[int]] = defaultdict(set)
        for p in (*placed, *kept):
            self._copies[p.part].add(p.copy)
        for p in placed:
            self._lying[p.board].append(p)
        is_opened = {board.id: board.id in self._lying for board in boards}
        self._boards = sorted(boards, key=lambda b: not is_opened[b.id])[:_MOST_BOARDS]
        self._taken: Mapping[str, Sequence[tuple[float, float]]] = taken_stretches(
            kept, shop, boards, former
        )
        self._rooms = Rooms(shop, self._lying)
        self._shop = shop
        self.laid: list[Placement] = []

    def lay(self, part: Part, copies: int) -> None:
        """Lay so many copies of a part, or as many as there is room for."""
        for board in self._boards:
            if refusal_of(board, part, self._shop) or not is_upright_rectangle(board, part):
                continue
            while copies and (found := self._place(board, part)) is not None:
                self._lying[board.id].append(found)
                self._copies[part.name].add(found.copy)
                self._rooms.forget(board)
                self.laid.append(found)
                copies -= 1

    def _place(self, board: Board, part: Part) -> Placement | None:
        """Return a place for one more copy on a board, or None."""
        for show in show_faces(part):
            stretches = self._rooms.corners_mm(board, part, show)
            zones = known_zones(board, part, self._shop, show) if stretches else ()
            for stretch in stretches[:_MOST_STRETCHES]:
                clear = self._clear(board, part, zones, stretch)
                if not clear.is_empty and (found := self._first(board, part, show, clear)):
                    return found
        return None

    def _clear(
        self, board: Board, part: Part, zones: Sequence[Zone], stretch: _Stretch
    ) -> BaseGeometry:
        """Return where in a stretch the part's corner may be, a hair over each limit."""
        length, width = rough_size_mm(part, self._shop)
        left, low, right, high = stretch
        within = box(left - 1.0, low - 1.0, right + length + 1.0, high + width + 1.0)
        # A hair off each limit by itself: two that leave exactly a part's width do not meet.
        grounds = (
            z.ground.intersection(within).buffer(-_HAIR_MM, join_style="mitre") for z in zones
        )
        here_only = [replace(z, ground=g) for z, g in zip(zones, grounds, strict=True)]
        near = [zone for zone in here_only if not zone.ground.is_empty]
        forbidden = [shape for zone in near for shape in corners_on(zone, length, width)]
        forbidden.append(both_edges(near, length, width))
        kerf = self._shop.kerf_mm - _HAIR_MM
        forbidden += [
            corners_beside((0.0, 0.0, length, width), p, kerf)
            for p in sawn_blanks(self._lying[board.id])
        ]
        forbidden += [
            box(start - length + _HAIR_MM, low - 1.0, stop - _HAIR_MM, high + 1.0)
            for start, stop in self._taken.get(board.id, ())
        ]
        here = box(left, low - _HAIR_MM, max(left, right), high)
        return here.difference(shapely.union_all(shapely.intersection(forbidden, here)))

    def _first(
        self, board: Board, part: Part, show: int | None, clear: BaseGeometry
    ) -> Placement | None:
        """Return the first of these places that saws can free and the judge has no word against."""
        length, width = rough_size_mm(part, self._shop)
        lying = self._lying[board.id]
        exact = self._shop.cut_class == "three_stage"
        scale = max(face.u_scale for face in board.faces.values())
        number = next(n for n in count(1) if n not in self._copies[part.name])
        judged = 0
        for x, y in _corners(clear, lying, width):
            margin = margin_mm(board.outline_u_mm, scale, min(x, y), self._shop)
            new = Placement(
                part.name, number, board.id, x, y, length, width,
                show_face=show, margin_mm=round(margin, 2),
            )  # fmt: skip
            every = list(enumerate(sawn_blanks((*lying, new))))
            if not frees_all(every, self._shop.kerf_mm, exact):
                continue
            if not any(dropped_objections(new, lying, part, board, self._shop)):
                return new
            judged += 1
            if judged >= _MOST_JUDGED:
                return None
        return None


def _corners(
    clear: BaseGeometry, lying: Sequence[Placement], width: float
) -> Iterator[tuple[float, float]]:
    """Yield places in the clear ground: first on a line with what lies, then its corners."""
    left, low, right, high = clear.bounds
    lines = {line for p in lying for line in (p.y_mm, p.y_mm + p.width_mm - width)}
    on_lines = [
        clear.intersection(LineString(((left - 1.0, line), (right + 1.0, line))))
        for line in sorted(lines)
        if low <= line <= high
    ]
    for shapes in (on_lines, [clear]):
        found = {
            (round(x, 2) + 0.0, round(y, 2) + 0.0): None
            for shape in shapes
            for x, y in shapely.get_coordinates(shape).tolist()
        }
        yield from sorted(found)[:_MOST_CORNERS]
