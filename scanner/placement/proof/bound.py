"""A bound that no placement whatever can beat: from clear area, and from bars where that is quick.

Every part takes its rough size plus one kerf along and across: neighbours keep a kerf, and ground
grown by one kerf holds all those rectangles without overlap. So on each board, for each family of
parts, the sum of these rectangles is at most the area of the ground that family may use, grown by
one kerf. The linear programme that splits parts over boards under these limits is a bound; parts
may be cut into fractions there, so it is loose, but never wrong. Up to some size of problem
the bars of ``bars`` and the prices of ``lagrange`` make it much tighter; the lower of both counts.
Where there is time, the bound of the layout's own cut class (``bound_of_class``) is tighter still.
"""

import math
from collections.abc import Collection, Sequence

import numpy as np
from scipy import sparse
from shapely.affinity import translate
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.placement.choosing.programme import least_whole, most
from scanner.placement.ground.known_zones import known_zones
from scanner.placement.ground.relaxed_ground import KERF_TOLERANCE_MM
from scanner.placement.layout import Bound
from scanner.placement.parts import Faces, Part, show_faces
from scanner.placement.proof.bars import Lines, lines_of
from scanner.placement.proof.bound_of_class import Proof, bound_of_class
from scanner.placement.proof.lagrange import area_limits, lowest_value_bound, refuting_limit
from scanner.placement.rules import need_of, refusal_of
from scanner.placement.rules.ground import Where, frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Floats, rough_size_mm, value_mm2

# Larger problems use one limit a board: the finer ones would take longer than the search.
MOST_VARIABLES = 20_000
# Boards times parts up to which bars are made, and how much work goes into pricing them: about a
# second. Cells along are 4 mm.
MOST_FOR_BARS = 600
CELL = 40
STEPS_FOR_BARS = 500_000_000
MOST_REFUTED = 12
# Nodes that the search for the cheapest boards visits at most.
_MOST_NODES = 2000
_AS_GOOD_AS_BEST = 1e-6
# A solver's answer may be wrong by so much of itself, and a bound gives way by as much.
_ROUNDING = 1e-7
LEAST_EVALUATIONS, MOST_EVALUATIONS = 40, 400
QUICK_EVALUATIONS = 15
MOST_BOARDS_WHEN_QUICK = 40


def rooms_mm2(
    board: Board, families: Sequence[Sequence[Part]], shop: Shop, refused: Collection[str]
) -> list[float]:
    """Return for each family of parts the area it may use, grown by one kerf each way.

    ``refused``: the names of parts that this board may not give at all.
    """
    usable: dict[object, BaseGeometry] = {}
    every = [part for family in families for part in family]
    narrowest = min(rough_size_mm(part, shop)[1] for part in every)
    rooms = []
    for family in families:
        shapes: dict[object, BaseGeometry] = {}
        for part in family:
            if part.name in refused:
                continue
            need = need_of(board, part)
            if need not in usable:
                usable[need] = unary_union(
                    [_usable(board, part, shop, show, narrowest) for show in show_faces(part)]
                )
            shapes[need] = usable[need]
        ground = unary_union(list(shapes.values()))
        rooms.append(float(_swept(ground, shop.kerf_mm).area) if shapes else 0.0)
    return rooms


def _usable(
    board: Board, part: Part, shop: Shop, show_face: int | None, narrowest: float
) -> BaseGeometry:
    zones = known_zones(board, part, shop, show_face)
    # Zones that forbid only some rows of a part are left out: more ground, still a bound.
    bad = unary_union([zone.ground for zone in zones if zone.where is Where.ALL])
    ground = box(*frame_of(board)).difference(bad)
    # Slivers no part fits into: a rectangle at least 2r wide, shrunk by a disc of r and grown by
    # a square, is whole again; the disc of r sqrt 2 holds that square. A disc drawn with sixteen
    # corners holds the one that is smaller by cos(pi / 16) > 1 / 1.02.
    r = narrowest / 2 - 0.1
    opened = ground.buffer(-r, quad_segs=4).buffer(r * math.sqrt(2) * 1.02, quad_segs=4)
    return ground.intersection(opened)


def _swept(ground: BaseGeometry, kerf: float) -> BaseGeometry:
    """Return the ground moved along and across by all of 0 to one kerf (a superset is safe)."""
    if kerf <= 0:
        return ground
    pieces: list[BaseGeometry] = []
    for polygon in getattr(ground, "geoms", [ground]):
        if isinstance(polygon, Polygon) and not polygon.is_empty:
            # The disc of this size holds the square of half a kerf.
            grown = polygon.buffer(kerf * 0.7072, join_style="mitre", mitre_limit=2.0)
            pieces.append(translate(grown, kerf / 2, kerf / 2))
    return unary_union(pieces)


def bound_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Sequence[int],
    gross_mm2: Sequence[float],
    shop: Shop,
    achieved: tuple[float, float],
    is_complete: bool,
    proof: Proof | None = None,
    is_quick: bool = False,
) -> Bound:
    """Return the bound on value, or on the area opened where every part asked for is placed.

    ``achieved``: value and area opened of the layout; the gap is relative to the bound's side
    (value: 1 - value / bound; area: 1 - bound / area). ``proof``: how long the bound of the
    layout's own class may be sought; without it, and where it gives no less, that of any placement
    is the answer. ``is_quick``: a person waits for a small change, so a looser one will do.
    """
    if not parts or not boards:
        return Bound("value", "any", achieved[0], 0.0)
    model = _Model(boards, parts, np.asarray(wanted, float), shop, is_quick)
    of_class = None
    if proof is not None:
        of_class = bound_of_class(boards, parts, wanted, gross_mm2, shop, achieved, is_complete,
                                  proof)  # fmt: skip
        if of_class is not None and of_class.gap < _AS_GOOD_AS_BEST:
            return of_class
    of_any = _of_any(model, gross_mm2, achieved, is_complete)
    return of_any if of_class is None or of_any.gap <= of_class.gap else of_class


def _of_any(
    model: "_Model", gross_mm2: Sequence[float], achieved: tuple[float, float], is_complete: bool
) -> Bound:
    value, area = achieved
    if is_complete:
        # The search cannot beat a true bound; rounding in the solver's answer can be that small.
        least = min(model.least_area(np.asarray(gross_mm2, float), area), area)
        return Bound("area", "any", least, 1 - least / area if area > 0 else 0.0)
    most = max(model.most_value(value), value)
    return Bound("value", "any", most, 1 - value / most if most > 0 else 0.0)


class _Model:
    """The linear programme: copies of each part on each board, rooms of each family."""

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        wanted: Floats,
        shop: Shop,
        is_quick: bool,
    ) -> None:
        sizes = [rough_size_mm(part, shop) for part in parts]
        # The validator lets neighbours stand a little too near; so does the bound.
        kerf = max(0.0, shop.kerf_mm - KERF_TOLERANCE_MM)
        self.need = np.array([(length + kerf) * (width + kerf) for length, width in sizes])
        self.value = np.array([value_mm2(part) for part in parts])
        self.wanted, self.is_quick = wanted, is_quick
        self.boards, self.parts, self.shop = boards, parts, shop
        families = [list(range(len(parts)))]
        if len(boards) * len(parts) <= MOST_VARIABLES:
            for faces in (Faces.BOTH, Faces.SHOW, Faces.SOUND, Faces.HIDDEN):
                own = [t for t, part in enumerate(parts) if part.faces is faces]
                if own and len(own) < len(parts):
                    families.append(own)
        self.families = families
        self.allowed = np.array(
            [[refusal_of(b, part, shop) is None for part in parts] for b in boards]
        )
        if is_quick and len(boards) > MOST_BOARDS_WHEN_QUICK:
            # All wood counts as clear: the flaws of hundreds of boards take seconds.
            whole = [float(_swept(board.wood(1), shop.kerf_mm).area) for board in boards]
            self.rooms = np.repeat(np.array(whole)[:, None], len(families), axis=1)
            return
        lists = [[parts[t] for t in own] for own in families]
        self.rooms = np.array(
            [
                rooms_mm2(
                    b,
                    lists,
                    shop,
                    {p.name for p, is_allowed in zip(parts, may, strict=True) if not is_allowed},
                )
                for b, may in zip(boards, self.allowed, strict=True)
            ]
        )

    def _rows(self) -> tuple[sparse.csr_matrix, Floats]:
        """Room rows (board by board, family by family), then copies of each part."""
        boards, parts = len(self.boards), len(self.parts)
        rows, columns, values = [], [], []
        n = 0
        for b in range(boards):
            for own in self.families:
                for t in own:
                    rows.append(n)
                    columns.append(b * parts + t)
                    values.append(self.need[t])
                n += 1
        for t in range(parts):
            for b in range(boards):
                rows.append(n + t)
                columns.append(b * parts + t)
                values.append(1.0)
        shape = (n + parts, boards * parts)
        return sparse.csr_matrix((values, (rows, columns)), shape=shape), self.rooms.ravel()

    def bars(self) -> list[tuple[Lines, Lines]]:
        """Return the bars of every board; none where that would take longer than it is worth."""
        if self.allowed.size > MOST_FOR_BARS or not np.any(self.wanted > 0):
            return []
        return [lines_of(b, self.parts, self.shop, CELL, 1) for b in self.boards]

    def evaluations(self, bars: list[tuple[Lines, Lines]]) -> int:
        """Return how often the bars may be priced."""
        if self.is_quick:
            return QUICK_EVALUATIONS
        work = sum(along.work + across.work for along, across in bars)
        return max(LEAST_EVALUATIONS, min(MOST_EVALUATIONS, STEPS_FOR_BARS // max(1, work)))

    def most_value(self, reached: float) -> float:
        """Return an upper bound on the value placed; ``reached``: the value of a known layout."""
        by_area = self._most_value_by_area()
        bars = self.bars()
        if not bars:
            return by_area
        count = self.evaluations(bars)
        by_bars = lowest_value_bound(bars, self.value, self.wanted, reached, count)
        return min(by_area, by_bars * (1 + _ROUNDING))

    def _most_value_by_area(self) -> float:
        if self.allowed.size > MOST_VARIABLES:
            return self._most_value_together()
        matrix, rooms = self._rows()
        found = most(
            np.tile(self.value, len(self.boards)),
            matrix,
            np.concatenate((rooms, self.wanted)),
            np.where(self.allowed, self.wanted[None, :], 0.0).ravel(),
        )
        assert found.value is not None
        return found.value * (1 + _ROUNDING)

    def _most_value_together(self) -> float:
        left = float(self.rooms[:, 0].sum())
        total = 0.0
        for t in np.argsort(-self.value / self.need):
            take = min(self.wanted[t], left / self.need[t])
            total += take * self.value[t]
            left -= take * self.need[t]
        return total * (1 + _ROUNDING)

    def least_area(self, gross: Floats, reached: float) -> float:
        """Return a lower bound on the area of the boards opened when all parts are placed."""
        rows, least = [self.rooms[:, 0]], [float(self.need @ self.wanted)]
        bars = self.bars()
        if bars:
            for worth, need in area_limits(
                bars, self.need, self.wanted, gross, reached, self.evaluations(bars)
            ):
                rows.append(worth)
                least.append(need * (1 - _ROUNDING))
        proven = 0.0
        for _ in range(MOST_REFUTED if bars and not self.is_quick else 1):
            scale = np.array([max(1.0, need) for need in least])
            found = least_whole(
                gross,
                np.array(rows) / scale[:, None],
                np.array(least) / scale,
                np.zeros(len(gross)),
                np.ones(len(gross)),
                _MOST_NODES,
            )
            if found.bound is None or found.x is None:
                break
            proven = max(proven, float(found.bound) * (1 - _ROUNDING))
            boards = [int(b) for b in np.flatnonzero(found.x > 0.5)]
            if not bars or self.is_quick or proven >= reached * (1 - 1e-6):
                break
            # The cheapest boards that keep all limits: can they truly hold all parts?
            limit = refuting_limit(bars, self.need, self.wanted, boards, self.evaluations(bars))
            if limit is None:
                break
            rows.append(limit[0])
            least.append(limit[1] * (1 - _ROUNDING))
        return proven
