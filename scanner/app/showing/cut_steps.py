"""The errand "which saw for which cut": a board's cuts as steps at one saw each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from scanner.app.lot.newest_layout import newest_layout
from scanner.app.lot.open_lot import parts_of
from scanner.errors import LotError
from scanner.lot.saws import MEANS, cut_cares, mind_text
from scanner.placement.giving.sizes import parts_as_made
from scanner.sheets.cut_list import DONE, cut_rows
from scanner.sheets.tape import hooked_edge
from scanner.sheets.words import by_name, unit_name

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scanner.lot.saws import CutCare
    from scanner.sheets.cut_list import CutRow
    from scanner.storage.lots import Lot

# As the cut list writes what a cut does that gives no part its size.
_NO_SIZE = ("far side of ", "A end of ", "on the line")
# On one line with the places beside it.
_THEN = "\u00a0→\u00a0"
_FAR = "the far edge (face 1 up, end A at your left)"
# What is sawn apart after all straight cuts, by its kind in the cut list: the step's title, its
# saw, and how the wood is made ready.
_APART = {
    "resaw": (
        "Blanks apart, through their thickness",
        "band saw",
        "Flatten a face and joint an edge of the blank first; it stands on that edge.",
    ),
    "band saw": (
        "Curves apart",
        "band saw",
        "Mill the blank whole first: nothing curved goes through a planer.",
    ),
}


@dataclass(frozen=True, slots=True)
class CutLine:
    """A cut: its number on the board's map, where to mark it, what it makes, what to mind there.

    A blank or a nest that is sawn apart has neither number nor place. ``is_done``: it is made
    already, as the parts beside it are ticked; then nothing is to mind.
    """

    number: str
    at: str
    makes: str
    mind: str
    is_done: bool = False


@dataclass(frozen=True, slots=True)
class CutStep:
    """Cuts that follow each other at one saw.

    Attributes
    ----------
    title, saw
        What is done, and where.
    marked
        From where the places of its cuts are marked.
    cuts
        In sawing order.
    means
        What each danger beside one of them means, and what to do.
    """

    title: str
    saw: str
    marked: str
    cuts: tuple[CutLine, ...]
    means: tuple[str, ...]


def boards_with_cuts(lot: Lot) -> tuple[str, ...]:
    """Return the boards that the lot's newest layout cuts, in the order of the lot."""
    saved = lot.layout()
    cut = set() if saved is None else {line.board for line in saved.layout.cuts}
    return tuple(board.id for board in lot.boards() if board.id in cut)


def cut_steps(lot: Lot, board_id: str) -> tuple[CutStep, ...]:
    """Return the steps of sawing a board by the lot's newest layout.

    Raises
    ------
    LotError
        The layout cuts no such board.
    """
    layout, shop = newest_layout(lot).layout, lot.shop()
    if board_id not in boards_with_cuts(lot):
        raise LotError(f"the layout does not cut {board_id}", "choose a board that it cuts")
    board = lot.board(board_id)
    parts = by_name(parts_as_made(parts_of(lot), layout.placements, shop))
    cares = {care.order: care for care in cut_cares(layout, board, shop)}
    rows = cut_rows(layout, board, parts, hooked_edge(board), shop.units)
    cuts = [(row, cares[row.order]) for row in rows if row.order is not None]
    apart = [row for row in rows if row.order is None]
    unit = unit_name(shop.units)
    straight = (
        _step(title, saw, tuple(of_step), unit)
        for (title, saw), of_step in groupby(cuts, lambda cut: (_title(cut[0]), cut[1].saw))
    )
    return (*straight, *(_apart(kind, tuple(of)) for kind, of in groupby(apart, lambda r: r.kind)))


def _step(title: str, saw: str, cuts: tuple[tuple[CutRow, CutCare], ...], unit: str) -> CutStep:
    return CutStep(
        title,
        saw,
        _marked(row for row, _ in cuts),
        tuple(
            CutLine(
                row.number,
                f"{row.at.replace(' to ', _THEN)} {unit}",
                _makes(row, unit),
                "" if row.mind == DONE else mind_text(care.minds, most=len(care.minds)),
                row.mind == DONE,
            )
            for row, care in cuts
        ),
        tuple(
            f"{danger.value}: {MEANS[danger]}"
            for danger in dict.fromkeys(
                mind.danger for row, care in cuts if row.mind != DONE for mind in care.minds
            )
        ),
    )


def _apart(kind: str, rows: tuple[CutRow, ...]) -> CutStep:
    """Return the step in which blanks or nests of one kind are sawn apart, after all else."""
    title, saw, ready = _APART[kind]
    cuts = (
        CutLine("", f"piece {row.piece}" if row.piece else "", row.text, row.mind) for row in rows
    )
    return CutStep(title, saw, ready, tuple(cuts), ())


def _title(row: CutRow) -> str:
    if row.kind == "crosscut":
        return "Across the board"
    of = f"piece {row.piece}" if row.piece else "the board"
    if row.kind == "to length":
        return f"Across {of}, to length"
    return f"Along {of}" if row.kind == "rip" else f"Along {of}, to width"


def _marked(rows: Iterable[CutRow]) -> str:
    """Return from where the cuts of a step are marked; as `cut_list.AT_MEANS`, of one kind."""
    known = list(rows)
    if known[0].kind == "crosscut":
        return "Marked from end A, with the tape along its edge."
    if known[0].kind == "to length":
        return "Marked from the piece’s A end."
    slants = any(" to " in row.at for row in known)
    ends = "; where there are two, at the A end → at the B end" if slants else ""
    return f"Marked in from {_FAR}{ends}."


def _makes(row: CutRow, unit: str) -> str:
    if row.kind == "crosscut":
        pieces = row.piece.split(", ") if row.piece else []
        if len(pieces) == 2:
            return f"piece {pieces[0]} ends, piece {pieces[1]} starts"
        return f"piece {row.piece} {row.text}" if pieces else row.text
    if row.text.startswith(_NO_SIZE):
        return row.text
    size = "long" if row.kind == "to length" else "wide"
    return "; ".join(f"{made} {unit} {size}" for made in row.text.split("; "))
