"""The errand "change the layout by hand": move, turn over, swap, keep off a board, reserve a spare.

A part that was moved or turned stays where it was put until it is let go; what it pushed away is
placed anew by the next search. Each change is one action of the journal.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from scanner.app.cutting.tick_parts import find_placement
from scanner.app.lot.asked_parts import called
from scanner.app.placing.landing import bench_of, land, turned
from scanner.errors import LotError, PlacementError
from scanner.placement.layout import SAWN_OUT
from scanner.storage.ticks import copy_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from scanner.app.nodding.sayings import Saying
    from scanner.app.placing.landing import Bench, Landing
    from scanner.placement.layout import Layout, Placement
    from scanner.storage.hand_rules import HandRules
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot
    from scanner.storage.ticks import Ticks
    from scanner.storage.values import Json

# Parts that are swapped have their corners this near to the other's, beyond their difference in
# size: flaws beside them differ.
_SWAP_REACH_MM = 30.0
_MOST_SPARES = 50


def edit_layout(
    lot: Lot, saying: Saying, notes: Mapping[str, Json] = MappingProxyType({})
) -> Answer:
    """Carry out one change of the layout.

    ``notes`` are taken down with a move or a turn, as one action with it.

    Raises
    ------
    ScannerError
        The part may not lie there (the sentence says what is in the way), or is cut already, or
        does not lie where it was seen any more.
    """
    match saying.verb:
        case "move":
            return _move(lot, saying, notes)
        case "turn":
            return _turn(lot, saying, notes)
        case "swap":
            return _swap(lot, saying)
        case "forbid" | "allow":
            return _keep_off(lot, saying, off=saying.verb == "forbid")
        case "spare":
            return _reserve(lot, saying)
    raise ValueError(f"{saying.verb} changes no layout")


def _move(lot: Lot, saying: Saying, notes: Mapping[str, Json]) -> Answer:
    if len(saying.ring) < 2:
        raise LotError("the page sent a place that is none", "put the part down again")

    def moved(ticks: Ticks, layouts: Iterable[Layout]) -> Ticks:
        placed = _uncut(lot, ticks, layouts, saying)
        wished = replace(placed, show_face=saying.face or placed.show_face)
        bench = bench_of(lot)
        landing = land(bench, wished, saying.other, saying.ring[1], saying.reach_mm)
        landed = _landed(landing, f"{_name(lot, placed)} may not lie there")
        for one in (landed, *landing.with_it):
            ticks = _held(ticks, one)
        return ticks

    said = f"{called(lot, saying.part, saying.copy)}: moved"
    if saying.other != saying.board:
        said += f" to {saying.other}"
    return lot.tick(saying.stamp, said, moved, notes)


def _turn(lot: Lot, saying: Saying, notes: Mapping[str, Json]) -> Answer:
    def over(ticks: Ticks, layouts: Iterable[Layout]) -> Ticks:
        placed = _uncut(lot, ticks, layouts, saying)
        landing = turned(bench_of(lot), placed)
        return _held(ticks, _landed(landing, "its other face may not show there"))

    name = called(lot, saying.part, saying.copy)
    return lot.tick(saying.stamp, f"{name}: turned over", over, notes)


def _swap(lot: Lot, saying: Saying) -> Answer:
    if len(saying.ring) < 2 or not saying.other:
        raise LotError("the page sent a place that is none", "choose both parts again")

    def swapped(ticks: Ticks, layouts: Iterable[Layout]) -> Ticks:
        kept = tuple(layouts)
        one = _uncut(lot, ticks, kept, saying)
        other_copy = (saying.other, saying.other_copy)
        two = _find_uncut(lot, ticks, kept, other_copy, saying.other_board, saying.ring[1])
        if copy_of(one) == copy_of(two):
            raise LotError(
                f"{_name(lot, one)} cannot be swapped with itself", "choose another part"
            )
        for p in (one, two):
            if p.layer is not None:
                raise LotError(
                    f"{_name(lot, p)} is resawn from a blank with others, and is not swapped",
                    "carry the blank to where you want it",
                )
        first, second = _both_landed(bench_of(lot), one, two)
        return _held(_held(ticks, first), second)

    name = called(lot, saying.part, saying.copy)
    other = called(lot, saying.other, saying.other_copy)
    return lot.tick(saying.stamp, f"{name} swapped with {other}", swapped)


def _both_landed(bench: Bench, one: Placement, two: Placement) -> tuple[Placement, Placement]:
    """Return two parts, each where the other lay or close to it."""
    apart = max(abs(one.length_mm - two.length_mm), abs(one.width_mm - two.width_mm))
    reach = apart + _SWAP_REACH_MM
    away = {copy_of(one), copy_of(two)}
    landing = land(bench, one, two.board, (two.x_mm, two.y_mm), reach, away, in_line=False)
    first = _landed(
        landing, f"{_name(bench.lot, one)} may not lie where {_name(bench.lot, two)} lies"
    )
    # The second must keep clear of the first in its new place.
    rest = tuple(p for p in bench.placements if copy_of(p) not in away)
    among = replace(bench, placements=(*rest, first))
    landing = land(among, two, one.board, (one.x_mm, one.y_mm), reach, in_line=False)
    return first, _landed(
        landing, f"{_name(bench.lot, two)} may not lie where {_name(bench.lot, one)} lies"
    )


def _keep_off(lot: Lot, saying: Saying, *, off: bool) -> Answer:
    """Keep a part off a board, or let it onto it again; what stays there of it is let go."""

    def ruled(rules: HandRules, ticks: Ticks) -> tuple[HandRules, Ticks]:
        if not off:
            return rules.allowing(saying.part, saying.board), ticks
        left = tuple(
            tick
            for tick in ticks.placements
            if (tick.part, tick.board) != (saying.part, saying.board) or tick.state in SAWN_OUT
        )
        return rules.forbidding(saying.part, saying.board), replace(ticks, placements=left)

    _refuse_unknown(lot, saying.part)
    lot.board(saying.board)
    words = "kept off" if off else "let onto"
    said = f"{saying.part} {words} {saying.board}"
    return lot.set_hand_rules(saying.stamp, said, ruled)


def _reserve(lot: Lot, saying: Saying) -> Answer:
    """Ask for one more spare of a part, or one less."""
    more = -1 if saying.to == "less" else 1
    _refuse_unknown(lot, saying.part)

    def ruled(rules: HandRules, ticks: Ticks) -> tuple[HandRules, Ticks]:
        if rules.spares.get(saying.part, 0) + more > _MOST_SPARES:
            raise LotError(f"{saying.part} has {_MOST_SPARES} spares", "more make no sense")
        return rules.reserving(saying.part, more), ticks

    words = "a spare reserved" if more > 0 else "a spare less"
    return lot.set_hand_rules(saying.stamp, f"{saying.part}: {words}", ruled)


def _refuse_unknown(lot: Lot, part: str) -> None:
    if part not in bench_of(lot).parts:
        raise LotError(f"{part} is not in the parts list", "look at the layout again")


def _uncut(lot: Lot, ticks: Ticks, layouts: Iterable[Layout], saying: Saying) -> Placement:
    copy = (saying.part, saying.copy)
    return _find_uncut(lot, ticks, layouts, copy, saying.board, saying.seen_at)


def _find_uncut(
    lot: Lot,
    ticks: Ticks,
    layouts: Iterable[Layout],
    copy: tuple[str, int],
    board: str,
    at: tuple[float, float],
) -> Placement:
    placed = find_placement(ticks, layouts, copy, board, at, called(lot, *copy))
    if placed.state in SAWN_OUT:
        raise LotError(f"{_name(lot, placed)} is cut already", "move another part")
    return placed


def _landed(landing: Landing, what: str) -> Placement:
    if landing.placement is None:
        why = landing.why.removesuffix(".")
        raise PlacementError(what, f"{why[:1].lower()}{why[1:]}")
    return landing.placement


def _held(ticks: Ticks, placed: Placement) -> Ticks:
    """Return the ticks with a part that stays where it was put."""
    others = ticks.without(copy_of(placed))
    return replace(others, placements=(*others.placements, replace(placed, locked=True)))


def _name(lot: Lot, placed: Placement) -> str:
    return called(lot, placed.part, placed.copy)
