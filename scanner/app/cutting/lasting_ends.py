"""The errand "ends": what each board's ends may still lose, and trimming them one by one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

from scanner.app.cutting.edit_layout import edit_layout
from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.open_lot import new_stamp
from scanner.app.nodding.sayings import Saying
from scanner.app.placing.given_layout import read_given
from scanner.errors import LotError
from scanner.files.json_text import json_text
from scanner.files.write import refuse_given, write_files
from scanner.lot.doubtful_ends import free_exchanges
from scanner.lot.lasting_ends import end_losses
from scanner.lot.totals import unseen_lines
from scanner.placement.copy_names import copy_name
from scanner.placement.ground.end_room import end_rooms
from scanner.placement.rules.end_trim import trim_mm
from scanner.units import MM_PER_INCH, LengthError, length_text, read_length_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.lot.doubtful_ends import Exchange
    from scanner.lot.lasting_ends import EndLoss, Moved
    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.storage.journal import Answer
    from scanner.storage.lots import Lot

    _NameOf = Callable[[Placement], str]

# What moves lands where it was reckoned to, or not at all.
_REACH_MM = 2.0
_LOOK = (
    "Look at the fresh cut with a lamp from the side, or in a mirror; a check there may run on "
    "inside unseen. An end is never clear before that."
)


@dataclass(frozen=True, slots=True)
class TrimStep:
    """One end to trim: what comes off, how much more it may lose, and whether it was looked at."""

    board: str
    end: str
    trim_mm: float
    is_seen: bool
    said: str


def ends_from_files(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    *,
    output: Path | None = None,
    shop_file: Path | None = None,
    units: str = "mm",
) -> tuple[str, ...]:
    """Return what each end may lose in sentences; write ``ends.json`` where an output is named."""
    if output is not None:
        given_files = (layout_file, parts_file, *board_files, shop_file)
        refuse_given(output, *given_files, ending=".json", holds=("losses_mm", "exchanges"))
    given = read_given(layout_file, parts_file, board_files, shop_file, units)
    found = end_losses(given.layout, given.boards, given.parts, given.shop)
    free = free_exchanges(given.layout, given.boards, given.parts, given.shop)
    told = {one.board for one in found}
    unseen = [one.id for one in given.boards if one.id in told and not one.is_looked_over]
    if output is not None:
        write_files(output.parent, {output.name: losses_json(found, free, unseen)})
    if not found:
        return ("No part that is still to be cut lies on these boards.",)
    name_of = _names(given.parts)
    lines = loss_lines(found, given.layout, given.boards, given.shop, name_of)
    return (
        *lines,
        *(exchange_words(one, given.shop, name_of) for one in free),
        *unseen_lines(unseen),
        _LOOK,
    )


def _names(parts: PartsList) -> _NameOf:
    """Return what each placed part is called."""
    rows = {part.name: part for part in parts}
    return lambda placed: copy_name(placed.part, placed.copy, rows.get(placed.part))


def loss_lines(
    losses: Sequence[EndLoss],
    layout: Layout,
    boards: Sequence[Board],
    shop: Shop,
    name_of: _NameOf,
) -> tuple[str, ...]:
    """Return for each end one line of the room it has, and a line for each loss that counts."""
    said = []
    known = {board.id: board for board in boards}
    ends = dict.fromkeys((one.board, one.end) for one in losses)
    for board, end in ends:
        rooms = {room.end: room for room in end_rooms(known[board], layout.placements, shop)}
        seen = known[board].ends[end].looked_over
        state = "looked at" if seen else "nobody looked at it"
        room = rooms.get(end)
        free = ""
        if room is not None:
            name = name_of(room.part)
            free = f": {_down(room.more_mm, shop)} more may go before the cut reaches {name}"
            if room.is_used_up:
                free = f": nothing more may go, {name} lies there"
        said.append(f"{board} end {end} ({state}){free}")
        own = [
            ("; ".join(_move_words(move, shop, name_of) for move in one.moves), one.loss_mm)
            for one in losses
            if (one.board, one.end) == (board, end)
        ]
        # A little more and a foot more may come to the same.
        for words, alike in groupby(own, key=itemgetter(0)):
            lost = [length_text(mm, shop.units) for _, mm in alike]
            if words:
                said.append(f"  {' to '.join(dict.fromkeys((lost[0], lost[-1])))} more: {words}")
    return tuple(said)


def _move_words(move: Moved, shop: Shop, name_of: _NameOf) -> str:
    name = name_of(move.lost)
    if move.set_moves:
        return f"{name} is lost, and its set or panel must be placed again as a whole"
    if move.to is None:
        return f"{name} is lost; beside what stays there is no other place"
    where = f"{move.to.board}, {length_text(move.to.x_mm, shop.units)} from end A"
    face = f", face {move.to.show_face} shows" if move.to.show_face else ""
    return f"{name} moves to {where}{face}"


def _down(mm: float, shop: Shop) -> str:
    """Return a length rounded down: nobody should cut off more than this."""
    step = MM_PER_INCH / 16 if shop.units == "inch" else 1.0
    return length_text(math.floor(mm / step + 1e-6) * step, shop.units)


def exchange_words(exchange: Exchange, shop: Shop, name_of: _NameOf) -> str:
    """Return in a sentence how a part leaves a doubtful end for nothing."""
    part, to = exchange.part, exchange.to
    said = (
        f"{name_of(part)} lies at end {exchange.end} of {part.board}, which nobody looked at."
        f" For nothing it may lie on {to.board}, {length_text(to.x_mm, shop.units)} from end A"
    )
    other, other_to = exchange.other, exchange.other_to
    if other is None or other_to is None:
        return f"{said}."
    return (
        f"{said}, with {name_of(other)} on {other_to.board}, "
        f"{length_text(other_to.x_mm, shop.units)} from end A."
    )


def exchanges_of(lot: Lot) -> tuple[str, ...]:
    """Return in sentences how parts of the lot may leave doubtful ends for nothing."""
    return tuple(words for words, _ in _exchanges(lot))


def take_exchange(lot: Lot, words: str) -> Answer:
    """Carry out the exchange that a sentence of `exchanges_of` says.

    Raises
    ------
    ScannerError
        It is not offered any more, or a part may not lie there.
    """
    found = next((one for said, one in _exchanges(lot) if said == words), None)
    if found is None:
        raise LotError("this exchange is not offered any more", "look at the ends again")
    answer = edit_layout(lot, _moving(lot, found.part, found.to))
    if found.other is not None and found.other_to is not None:
        answer = edit_layout(lot, _moving(lot, found.other, found.other_to))
    return answer


def _exchanges(lot: Lot) -> tuple[tuple[str, Exchange], ...]:
    """Return what may be exchanged for nothing, with its sentence."""
    saved = lot.layout()
    if saved is None:
        return ()
    parts, shop = asked_parts(lot), lot.shop()
    found = free_exchanges(saved.layout, lot.boards(), parts, shop)
    return tuple((exchange_words(one, shop, _names(parts)), one) for one in found)


def _moving(lot: Lot, placed: Placement, to: Placement) -> Saying:
    return Saying(
        new_stamp(lot, "ends"),
        "move",
        board=placed.board,
        face=to.show_face or 0,
        part=placed.part,
        copy=placed.copy,
        other=to.board,
        ring=((placed.x_mm, placed.y_mm), (to.x_mm, to.y_mm)),
        reach_mm=_REACH_MM,
    )


def losses_json(
    losses: Sequence[EndLoss], free: Sequence[Exchange] = (), not_looked_over: Sequence[str] = ()
) -> bytes:
    """Return the losses, what is exchanged for nothing and the boards not looked over, as JSON."""
    rows = [
        {
            "board": one.board,
            "end": one.end,
            "loss": one.loss_mm,
            "survives": one.survives,
            "moves": [
                {
                    "part": move.lost.part,
                    "copy": move.lost.copy,
                    "to": None
                    if move.to is None
                    else {"board": move.to.board, "x": move.to.x_mm, "y": move.to.y_mm},
                    "set_moves": move.set_moves,
                }
                for move in one.moves
            ],
        }
        for one in losses
    ]
    exchanges = [
        {
            "part": one.part.part,
            "copy": one.part.copy,
            "board": one.part.board,
            "end": one.end,
            "to": {"board": one.to.board, "x": one.to.x_mm, "y": one.to.y_mm},
            "with": None if one.other is None else {"part": one.other.part, "copy": one.other.copy},
        }
        for one in free
    ]
    tried = list(dict.fromkeys(one.loss_mm for one in losses))
    return json_text({"format": "ends", "version": 1, "losses_mm": tried,
                      "ends": rows, "exchanges": exchanges,
                      "not_looked_over": list(not_looked_over)}).encode()  # fmt: skip


def trim_steps(lot: Lot) -> tuple[TrimStep, ...]:
    """Return the ends of the opened boards, those nobody looked at first: trim, look, tick."""
    saved = lot.layout()
    if saved is None:
        return ()
    shop, placements, name_of = lot.shop(), saved.layout.placements, _names(asked_parts(lot))
    opened = {p.board for p in placements}
    steps = []
    for board in lot.boards():
        if board.id not in opened:
            continue
        for room in end_rooms(board, placements, shop):
            end = board.ends[room.end]
            off = trim_mm(end, shop)
            name = name_of(room.part)
            rest = (
                f"nothing more may go: {name} lies there"
                if room.is_used_up
                else f"{_down(room.more_mm, shop)} more may go before {name} is lost"
            )
            steps.append(
                TrimStep(
                    board.id,
                    room.end,
                    off,
                    end.looked_over,
                    f"{board.id}, end {room.end}: {length_text(off, shop.units)} come off; {rest}",
                )
            )
    return tuple(sorted(steps, key=lambda step: (step.is_seen, step.board, step.end)))


def survival_lines(lot: Lot, board: str) -> tuple[str, ...]:
    """Return what a board of the lot's layout loses with its ends, in sentences."""
    saved = lot.layout()
    if saved is None:
        return ()
    parts = asked_parts(lot)
    shop, boards = lot.shop(), lot.boards()
    found = [one for one in end_losses(saved.layout, boards, parts, shop) if one.board == board]
    return loss_lines(found, saved.layout, boards, shop, _names(parts))


def tick_end(lot: Lot, board_id: str, end: str, taken: str) -> Answer:
    """Say that an end was trimmed by so much in all, and that its fresh face is clean.

    Parameters
    ----------
    taken
        What came off from the end as it was scanned, as typed.

    Raises
    ------
    LotError
        It is no length, there is no such end, or more came off than the board is long.
    """
    board, said = trimmed_end(lot.board(board_id), end, taken, lot.shop().units)
    return lot.save_board(board, new_stamp(lot), said)


def trimmed_end(board: Board, end: str, taken: str, units: str) -> tuple[Board, str]:
    """Return a board with an end trimmed and looked at, and that in words; as `tick_end`.

    Raises
    ------
    LotError
        As `tick_end`.
    """
    if end not in board.ends:
        raise LotError(f"{board.id} has no end {end}", "name end A or B")
    try:
        off = read_length_mm(taken, units)
    except LengthError as problem:
        raise LotError(f"what came off: {problem.what}", "type it like 35 mm or 1 3/8 in") from None
    if off >= board.length.value_mm / 2:
        raise LotError(
            f"{length_text(off, units)} is more than half of {board.id}",
            "type what came off this end",
        )
    # The saw's own end was cut fresh: no further trim is due there.
    ends = {**board.ends, end: replace(board.ends[end], looked_over=True, trim_mm=off)}
    said = f"{board.id}: end {end} trimmed by {length_text(off, units)} and looked at"
    return replace(board, ends=ends), said
