"""Which parts need thicker wood for their size and the boards' bend, and what a bent board gives.

Flattening a piece takes its own share of bow, cup and twist: a short piece of a bowed board is
nearly flat, a long one may need the next class.
"""

from collections.abc import Sequence

from scanner.board.board import Board
from scanner.board.species import species_key
from scanner.lot.need import class_for
from scanner.lot.ripped import as_ripped, resawn_blanks
from scanner.placement.parts import Part, PartsList
from scanner.placement.rules.thickness import flattened_mm, refusal
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.units import exact_text, length_text

# A bend that takes less than this from the longest part is not worth a line.
_TELLS_MM = 0.5
_CLOSE_MM = 1.0


def thickness_lines(boards: Sequence[Board], parts: PartsList, shop: Shop) -> tuple[str, ...]:
    """Return in words which parts need thicker wood, and what each bent board is good for."""
    wanted = tuple(part for part in parts if not part.filler)
    blanks = resawn_blanks(wanted, shop)
    # What is so for several parts is said once.
    told: dict[str, list[str]] = {}
    for part in wanted:
        line = _of_part(part, boards, shop, blanks.get(part.name))
        told.setdefault(line, []).append(part.name)
    lines = [f"{', '.join(names)} {what}" for what, names in told.items()]
    flat: list[str] = []
    for board in boards:
        suited = [part for part in as_ripped(wanted, shop) if _is_of(part, board)]
        if board.warp is None or not board.warp.is_flatness_known:
            flat += [board.id] * bool(suited)
        elif line := _board_line(board, suited, shop):
            lines.append(line)
    if flat:
        they = "it is, so it counts" if len(flat) == 1 else "they are, so they count"
        lines.append(f"{', '.join(flat)}: nobody said how flat {they} as flat")
    return tuple(lines)


def class_on(board: Board, part: Part, shop: Shop) -> int | None:
    """Return the thinnest class n/4 that a part comes out of, bent as this board is; None: none."""
    size = _piece_mm(part, shop)
    bend = board.thickness.value_mm - shop.cleanup_mm - flattened_mm(board, size, shop)
    return class_for(part, shop, bend)


def longest_mm(board: Board, thickness_mm: float, width_mm: float, shop: Shop) -> float:
    """Return how long a piece may be that is flattened to a thickness; 0 where none gives it."""
    low, high = 0.0, board.length.value_mm
    if flattened_mm(board, (high, width_mm), shop) >= thickness_mm:
        return high
    if flattened_mm(board, (shop.shortest_piece_mm, width_mm), shop) < thickness_mm:
        return 0.0
    while high - low > _CLOSE_MM:
        middle = (low + high) / 2
        if flattened_mm(board, (middle, width_mm), shop) >= thickness_mm:
            low = middle
        else:
            high = middle
    return low


def _of_part(part: Part, boards: Sequence[Board], shop: Shop, blank: Part | None) -> str:
    """Return which class a part needs; of a bookmatched one, what two are sawn out of."""
    piece, over = (part, 0.0) if blank is None else (blank, shop.cleanup_mm)
    thick = exact_text(piece.thickness_mm + over, shop.units)
    flat = class_for(piece, shop)
    begin = f"({thick} thick)" if blank is None else f"(two out of one piece {thick} thick)"
    if flat is None:
        return f"{begin}: no class is thick enough, glue it up"
    mine = [board for board in boards if _is_of(piece, board)]
    short = [board for board in mine if refusal(board, piece, shop) is not None]
    line = f"{begin}: {flat}/4 where it is flat"
    side_by_side = class_for(part, shop)
    if side_by_side != flat:
        line += f", {side_by_side}/4 side by side"
    if not mine:
        return line
    give = "board gives" if len(mine) == 1 else "boards give"
    line += f"; {len(mine) - len(short)} of {len(mine)} {give} it"
    for board in short:
        left = max(flattened_mm(board, _piece_mm(piece, shop), shop), 0.0) + over
        needed = class_on(board, piece, shop)
        line += f"; {board.id} leaves {exact_text(round(left, 1), shop.units)}"
        if needed is not None and needed > flat:
            line += f": bent like that it needs {needed}/4"
    return line


def _board_line(board: Board, parts: Sequence[Part], shop: Shop) -> str:
    """Return how long pieces of a bent board may be, "" where its bend takes nothing."""
    assert board.warp is not None
    widths: dict[float, float] = {}
    _, low, _, high = board.faces[1].outline.bounds
    for part in parts:
        wide = _piece_mm(part, shop)[1]
        if wide > high - low:
            continue
        widths[part.thickness_mm] = max(widths.get(part.thickness_mm, 0.0), wide)
    told = []
    for thick, wide in sorted(widths.items()):
        whole = flattened_mm(board, (board.length.value_mm, wide), shop)
        if board.thickness.value_mm - shop.cleanup_mm - whole < _TELLS_MM:
            continue
        long = longest_mm(board, thick, wide, shop)
        size = f"{exact_text(thick, shop.units)} thick, {length_text(wide, shop.units)} wide"
        if long <= 0:
            told.append(f"nothing {size}")
        elif long >= board.length.value_mm:
            told.append(f"its whole length {size}")
        else:
            told.append(f"pieces up to {length_text(long, shop.units)} long {size}")
    if not told:
        return ""
    bends = (
        (name, abs(value or 0.0))
        for name, value in (
            ("bow", board.warp.bow_mm),
            ("cup", board.warp.cup_mm),
            ("twist", board.warp.twist_mm),
        )
    )
    bent = ", ".join(f"{name} {exact_text(mm, shop.units)}" for name, mm in bends if mm)
    return f"{board.id} ({bent}) is good for: {'; '.join(told)}"


def _piece_mm(part: Part, shop: Shop) -> tuple[float, float]:
    """Return length and width of the piece that is flattened for a part."""
    length, width = rough_size_mm(part, shop)
    return max(length, shop.shortest_piece_mm), width


def _is_of(part: Part, board: Board) -> bool:
    if part.species is None:
        return True
    return species_key(board.species) == species_key(part.species)
