"""The stated bound of the layout's own cut class: whether it can be had, and for how much time."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from scanner.board.board import Board
from scanner.placement.layout import Bound
from scanner.placement.parts import Part
from scanner.placement.proof.class_bound import class_area_bound, class_value_bound
from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.laying import Laying
from scanner.placement.proof.one_board import OneBoard
from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.section_grid import (
    LONG_WORK,
    Section,
    SectionGrid,
    planes_of,
    section_grid,
)
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Floats, rough_size_mm, value_mm2

# Cells along and rows across, tenths, and how many times as long the coarser cells are; the first
# that memory allows. On medium scarce jobs of seeds 0-2 half as long cells as the finest gave the
# same bound to 0.01 %, rows of 1 mm one that is up to 0.15 % higher.
_GRIDS = ((20, 5, (8, 4)), (40, 10, (4, 2)), (80, 10, (2,)))
# The cells on which single boards are asked whether they hold a few copies, and how many patterns
# that may be listed for it.
_CLOSE, _MANY = (5, 5, (32, 8, 2)), 30_000
_CLOSEST = (1, 5, (160, 40, 10, 2))
# What may take this long and cannot be broken off is not begun later.
_LONG_STEP_S = 3.0
# The masks of all boards together, and the parts of one list, may take so much.
_MOST_BYTES = 400e6
_MOST_PARTS = 128
# Of 200 boards one round of prices takes longer than all the time that there is for a proof.
_MOST_BOARDS = 100
# A copy of a part that the search knows no price of is thought to cost this share of its value.
_SHARE = 0.3


@dataclass(frozen=True, slots=True)
class Proof:
    """How a bound may be sought: until it is over, for parts as large as the list says or not.

    ``prices``: of a copy of a part by name, as the search knows them, where to begin. ``laying``:
    lays out on boards what the bound says that they may hold. ``known``: what was found before.
    """

    is_over: Callable[[], bool]
    sizes_are_fixed: bool = True
    prices: Mapping[str, float] = field(default_factory=dict)
    seconds_left: Callable[[], float] = lambda: float("inf")
    laying: Laying | None = None
    known: Bound | None = None


def can_be_proven(boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> bool:
    """Whether the bound of the cut class is worth its time and memory for this lot."""
    return _grid_for(boards, parts, shop) is not None


def _grid_for(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop
) -> tuple[int, int, tuple[int, ...]] | None:
    """Return the finest cells and rows whose masks memory allows for all boards; None for none."""
    if shop.cut_class == "any" or not 0 < len(parts) <= _MOST_PARTS:
        return None
    if not 0 < len(boards) <= _MOST_BOARDS:
        return None
    return next((g for g in _GRIDS if _bytes_of(boards, parts, shop, *g[:2]) <= _MOST_BYTES), None)


def _bytes_of(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, cell: int, row: int
) -> float:
    """Return how much memory the masks take."""
    widths = {rough_size_mm(part, shop)[1] for part in parts}
    tenths = 0.0
    for board in boards:
        left, low, right, high = frame_of(board)
        planes = planes_of(len(parts), widths, high - low, shop)
        tenths += (right - left) * 10 * (high - low) * 10 * planes
    return 4 * 1.4 * tenths / (cell * row)


def bound_of_class(
    boards: Sequence[Board],
    parts: Sequence[Part],
    wanted: Sequence[int],
    gross_mm2: Sequence[float],
    shop: Shop,
    achieved: tuple[float, float],
    is_complete: bool,
    proof: Proof,
) -> Bound | None:
    """Return what no layout of the shop's cut class can beat; None where that was not found.

    achieved: value and area opened of the layout. A layout that beats the bound is not of the
    class (parts put down by hand need not be): then it says nothing.
    """
    if proof.known is not None:
        return _as_known(proof.known, achieved, is_complete)
    asked = [t for t, n in enumerate(wanted) if n > 0]
    parts = [parts[int(t)] for t in asked]
    # Parts that may be smaller than others in their strip are those of the wider class.
    grouped = shop if proof.sizes_are_fixed else replace(shop, cut_class="three_stage_trimmed")
    fineness = _grid_for(boards, parts, grouped)
    if fineness is None or proof.is_over():
        return None
    grids = []
    for board in boards:
        grids.append(section_grid(board, parts, grouped, *fineness))
        if proof.is_over():
            return None
    pricing = Pricing(grids, proof.is_over)
    copies = np.array([wanted[t] for t in asked], np.float64)
    value, area = achieved
    size = np.array([length * width for length, width in (rough_size_mm(p, shop) for p in parts)])
    exact = None
    if grouped.cut_class == "three_stage":
        problem = None if proof.laying is None else proof.laying.problem
        exact = OneBoard(boards, parts, grouped, problem)
    look = _CloseLook(
        boards, parts, grouped, size, lambda: proof.seconds_left() < _LONG_STEP_S, exact
    )
    maker = None if proof.laying is None else _maker(proof.laying, look, proof)
    is_quick = exact is not None
    if exact is not None:
        may_hold = exact.may_hold
    else:
        may_hold = look.may_hold if maker is None else partial(_may_hold, maker, look)
    if is_complete:
        least = class_area_bound(
            pricing, size, copies, np.asarray(gross_mm2, float), area, proof.is_over,
            CloserLook(
                may_hold, look.listed, look.may_hold_closest, is_quick=is_quick, size=size
            ), maker, proof.seconds_left,
        )  # fmt: skip
        if not 0 < least <= area * (1 + 1e-6):
            return None
        least = min(least, area)
        return Bound("area", shop.cut_class, least, 1 - least / area)
    worth = np.array([value_mm2(part) for part in parts])
    begin = [proof.prices.get(part.name, _SHARE * w) for part, w in zip(parts, worth, strict=True)]
    price = np.clip(begin, 0.0, worth)
    most = class_value_bound(
        pricing, worth, price, copies, value, proof.is_over, may_hold, maker,
        proof.seconds_left, is_quick, look.may_hold_closest,
    )  # fmt: skip
    if not value * (1 - 1e-6) <= most < float("inf"):
        return None
    most = max(most, value)
    return Bound("value", shop.cut_class, most, 1 - value / most if most > 0 else 0.0)


def _as_known(known: Bound, achieved: tuple[float, float], is_complete: bool) -> Bound | None:
    """Return what was found before for another layout; None where it was of something else."""
    value, area = achieved
    if (known.of == "area") != is_complete:
        return None
    if is_complete:
        least = min(known.value, area)
        return replace(known, value=least, gap=1 - least / area)
    most = max(known.value, value)
    return replace(known, value=most, gap=1 - value / most if most > 0 else 0.0)


def _may_hold(maker: Maker, look: "_CloseLook", board: int, counts: Floats) -> bool:
    """Whether a board was laid out so, which is quickly tried, or may be as fine cells tell."""
    return maker.unlaid.may_hold(board, counts) or look.may_hold(board, counts)


def _maker(laying: Laying, look: "_CloseLook", proof: Proof) -> Maker | None:
    """Return how layouts are made of patterns; None where some part is not laid out alone."""
    names = [part.name for part in look.parts]
    if not laying.knows(names):
        return None

    def lays(board: int, counts: Floats) -> bool:
        exact = look.exact
        is_asked = exact is not None and exact.can_be_asked(counts)
        places = partial(exact.places, board, counts) if exact is not None and is_asked else None
        return laying.lays(board, counts, names, partial(look.sections, board, counts), places)

    def listed(board: int, price: Floats, wanted: Floats, least: float) -> Floats | None:
        return None if look.is_late() else laying.listed(board, names, price, wanted, least)

    search = partial(laying.searched, is_over=proof.is_over, left=proof.seconds_left)
    return Maker(CloserLook(lays, listed), partial(laying.take, names=names), search)


@dataclass(slots=True)
class _CloseLook:
    """Single boards on fine cells; remembers how each may hold what was asked.

    is_late: whether what takes seconds is not looked at any more.
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    size: Floats
    is_late: Callable[[], bool]
    exact: OneBoard | None = None
    _known: dict[tuple[int, bytes], list[Section] | None] = field(default_factory=dict)
    _grids: dict[int, SectionGrid] = field(default_factory=dict)

    def listed(self, board: int, price: Floats, wanted: Floats, least: float) -> Floats | None:
        """Return all that a board may hold and be worth so much; None for too much of it."""
        if self.is_late():
            return None
        if board not in self._grids:
            cell, row, coarse = _CLOSE
            one = self.boards[board]
            if _bytes_of([one], self.parts, self.shop, cell, row) > _MOST_BYTES / len(self.boards):
                return None
            self._grids[board] = section_grid(one, self.parts, self.shop, cell, row, coarse)
        grid = self._grids[board]
        return grid.near_best(price, wanted, least, len(grid.levels), _MANY, LONG_WORK)

    def may_hold(self, board: int, counts: Floats) -> bool:
        """Whether a board may hold so many copies of each part, (T,), as far as is asked."""
        if self.exact is not None and self.exact.can_be_asked(counts):
            return self.exact.may_hold(board, counts)
        sections = self.sections(board, counts)
        return sections is None or len(sections) > 0 or not counts.any()

    def may_hold_closest(self, board: int, counts: Floats) -> bool:
        """Whether it may as far as cells of a tenth of a millimetre tell."""
        if self.exact is not None:
            return self.exact.may_hold_closest(board, counts)
        if self.is_late():
            return True
        sections = self._found(board, counts, _CLOSEST)
        return sections is None or len(sections) > 0 or not counts.any()

    def sections(self, board: int, counts: Floats) -> list[Section] | None:
        """Return the sections in which it may hold them, none where it may not; None: not known."""
        key = (board, counts.tobytes())
        if key not in self._known:
            self._known[key] = self._found(board, counts, _CLOSE)
        return self._known[key]

    def _found(
        self, board: int, counts: Floats, cells: tuple[int, int, tuple[int, ...]]
    ) -> list[Section] | None:
        asked = np.flatnonzero(counts)
        own = [self.parts[int(t)] for t in asked]
        cell, row, coarse = cells
        one = self.boards[board]
        if len(own) == 0 or _bytes_of([one], own, self.shop, cell, row) > _MOST_BYTES:
            return None
        grid = section_grid(one, own, self.shop, cell, row, coarse)
        price = self.size[asked] / float(counts @ self.size)
        found = grid.sections_of(price, counts[asked], _MANY)
        if found is None:
            return None
        every = []
        for section in found:
            held = np.zeros(len(counts))
            held[asked] = section.counts
            every.append(replace(section, counts=held))
        return every
