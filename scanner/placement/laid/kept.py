"""What stays of a former layout: placements that are locked, or cut already."""

from collections import defaultdict
from collections.abc import Sequence

from scanner.board.board import Board
from scanner.errors import PlacementError
from scanner.placement.laid.cuts import divided, pieces_and_cuts
from scanner.placement.layout import SAWN_OUT, Layout, Placement
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.turned import blank_of


def kept_placements(
    keep: Layout | None, boards: tuple[Board, ...], parts: PartsList
) -> tuple[Placement, ...]:
    """Return the placements of a former layout that stay; what was spoiled is asked for again.

    Where one slice stays, so do all that are resawn from its blank.

    Raises
    ------
    PlacementError
        A placement that must stay lies on a board, or is of a part, that is no longer there.
    """
    if keep is None:
        return ()
    names = {part.name for part in parts}
    ids = {board.id for board in boards}
    whole = [p for p in keep.placements if p.state != "spoiled"]
    said = [p for p in whole if p.locked or p.state in SAWN_OUT]
    blanks = {_blank_of_slice(p) for p in said if p.layer is not None}
    stay = tuple(
        p for p in whole if p in said or (p.layer is not None and _blank_of_slice(p) in blanks)
    )
    for p in stay:
        if p.part not in names:
            raise PlacementError(
                f"the former layout keeps {p.part}, which is not in the parts list",
                "put it back into the list or unlock it",
            )
        if p.board not in ids:
            raise PlacementError(
                f"the former layout keeps {p.part} on {p.board}, which is not among the boards",
                f"add {p.board} or unlock the part",
            )
    return stay


def _blank_of_slice(p: Placement) -> tuple[str, float, float]:
    return p.board, p.x_mm, p.y_mm


def taken_stretches(
    placements: tuple[Placement, ...],
    shop: Shop,
    boards: Sequence[Board] = (),
    former: Layout | None = None,
) -> dict[str, tuple[tuple[float, float], ...]]:
    """Return for each board the stretches along it that kept parts take, a kerf round them.

    A whole stretch is taken from edge to edge, so that the crosscuts beside it stay possible. A
    short piece of a ``former`` layout that is cut took waste along with it, which is taken too.
    """
    kerf = shop.kerf_mm
    by_board: dict[str, list[tuple[int, Placement]]] = defaultdict(list)
    for n, p in enumerate(placements):
        by_board[p.board].append((n, blank_of(p)))
    taken = {
        id: [
            (
                min(p.x_mm for _, p in section) - kerf,
                max(p.x_mm + p.length_mm for _, p in section) + kerf,
            )
            for section in divided(items, kerf, along=True)
        ]
        for id, items in by_board.items()
    }
    lay = former.placements if former is not None else ()
    for board in boards:
        lying = [p for p in lay if p.board == board.id and p.state != "spoiled"]
        if board.id not in taken or not any(p.state in SAWN_OUT for p in lying):
            continue
        for piece in pieces_and_cuts(board, list(enumerate(lying)), shop)[0]:
            if all(lying[n].state in SAWN_OUT for n in piece.placements):
                taken[board.id].append((piece.x0_mm - kerf, piece.x1_mm + kerf))
    return {id: tuple(stretches) for id, stretches in taken.items()}
