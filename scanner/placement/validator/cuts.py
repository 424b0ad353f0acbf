"""The validator's own sawing: pieces hold their parts, the listed cuts free every part."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from scanner.board.board import Board
from scanner.placement.layout import Cut, Layout, Placement
from scanner.placement.shop import Shop
from scanner.placement.validator.ground import end_trim_mm
from scanner.placement.validator.limits import SAWN, SLACK_MM
from scanner.placement.validator.objection import Objection, Rule, copies_of
from scanner.placement.validator.turn import upright

_KINDS = ("crosscut", "rip", "final")


@dataclass(frozen=True, slots=True)
class _Block:
    """A rectangle of wood that no cut has divided yet."""

    x0: float
    y0: float
    x1: float
    y1: float

    def holds(self, p: Placement) -> bool:
        return (
            p.x_mm >= self.x0 - SLACK_MM
            and p.y_mm >= self.y0 - SLACK_MM
            and p.x_mm + p.length_mm <= self.x1 + SLACK_MM
            and p.y_mm + p.width_mm <= self.y1 + SLACK_MM
        )

    def is_cut_by(self, cut: Cut, across: bool, half: float) -> bool:
        """Whether a cut with half a kerf on either side runs right through.

        A blade that takes only a part of its kerf at the wood's edge still cuts.
        """
        (xa, ya), (xb, yb) = cut.from_mm, cut.to_mm
        at, low, high = (xa, self.x0, self.x1) if across else (ya, self.y0, self.y1)
        ends = (ya, yb) if across else (xa, xb)
        first, last = (self.y0, self.y1) if across else (self.x0, self.x1)
        is_through = min(ends) <= first + SLACK_MM and max(ends) >= last - SLACK_MM
        return low - half < at < high + half and is_through

    def halves(self, at: float, across: bool, half: float) -> tuple["_Block", "_Block"]:
        """Return what lies on either side of a cut, half a kerf off its line."""
        if across:
            return replace(self, x1=at - half), replace(self, x0=at + half)
        return replace(self, y1=at - half), replace(self, y0=at + half)


def cut_objections(
    layout: Layout,
    board_of: dict[str, Board],
    on_board: dict[str, list[Placement]],
    shop: Shop,
) -> Iterable[Objection]:
    """Say what is wrong with pieces, cuts and cut class."""
    if layout.cut_class != shop.cut_class:
        words = f"the layout is {layout.cut_class}, the shop asks for {shop.cut_class}"
        yield Objection(Rule.SHOP, words)
    if abs(layout.kerf_mm - shop.kerf_mm) > 1e-9:
        words = f"the layout's kerf is {layout.kerf_mm}, the shop's is {shop.kerf_mm}"
        yield Objection(Rule.SHOP, words)
    yield from _pieces(layout)
    yield from _short_pieces(layout, board_of, shop)
    yield from _uncut_pieces(layout, board_of, shop)
    yield from _cut_in_two(layout, board_of, shop)
    cuts: dict[str, list[Cut]] = defaultdict(list)
    for cut in layout.cuts:
        cuts[cut.board].append(cut)
    for id in cuts:
        if id not in on_board:
            yield Objection(Rule.CUT, f"{id} is cut, but no part lies on it", id)
    for id, placements in on_board.items():
        if layout.cut_class != "any":
            yield from stage_objections(id, placements, shop, layout.cut_class == "three_stage")
        yield from _saw(board_of[id], cuts[id], placements, shop, layout.cut_class)


def _pieces(layout: Layout) -> Iterable[Objection]:
    seen: set[int] = set()
    for piece in layout.pieces:
        for n in piece.placements:
            if n in seen or not 0 <= n < len(layout.placements):
                words = f"piece {piece.id} names placement {n} wrongly"
                yield Objection(Rule.PIECE, words, piece.board)
                continue
            seen.add(n)
            p = upright(layout.placements[n])
            inside = (
                p.board == piece.board
                and piece.x0_mm - SLACK_MM <= p.x_mm
                and p.x_mm + p.length_mm <= piece.x1_mm + SLACK_MM
            )
            if not inside:
                words = f"piece {piece.id} does not hold {p.part} {p.copy}"
                yield Objection(Rule.PIECE, words, p.board, copies_of(p))
    for a in layout.pieces:
        for b in layout.pieces:
            if a.board == b.board and a.id < b.id:
                gap = max(b.x0_mm - a.x1_mm, a.x0_mm - b.x1_mm)
                if gap < layout.kerf_mm - SLACK_MM:
                    yield Objection(Rule.PIECE, f"pieces {a.id} and {b.id} leave no kerf", a.board)
    live = {n for n, p in enumerate(layout.placements) if p.state != "spoiled"}
    if live - seen:
        yield Objection(Rule.PIECE, f"{len(live - seen)} placements lie in no piece")


def _short_pieces(layout: Layout, board_of: dict[str, Board], shop: Shop) -> Iterable[Objection]:
    """Say which pieces are shorter than the machines take, though there was room to be longer."""
    for piece in layout.pieces:
        length = piece.x1_mm - piece.x0_mm
        own = (layout.placements[n] for n in piece.placements if n < len(layout.placements))
        begun = any(p.state in SAWN for p in own)
        if length >= shop.shortest_piece_mm - SLACK_MM or begun or piece.board not in board_of:
            continue
        board = board_of[piece.board]
        bounds = [board.wood(number).bounds for number in board.faces]
        room = []
        for name, wood in (("A", min(b[0] for b in bounds)), ("B", max(b[2] for b in bounds))):
            trim = end_trim_mm(board.ends[name], shop)
            room.append(wood + trim if name == "A" else wood - trim)
        for other in layout.pieces:
            if other.board == piece.board and other.id != piece.id:
                if other.x0_mm < piece.x0_mm:
                    room[0] = max(room[0], other.x1_mm + shop.kerf_mm)
                else:
                    room[1] = min(room[1], other.x0_mm - shop.kerf_mm)
        if room[1] - room[0] >= shop.shortest_piece_mm + SLACK_MM:
            words = (
                f"piece {piece.id} is {length:.0f} mm long, the machines take "
                f"{shop.shortest_piece_mm:.0f} and there was room for that"
            )
            yield Objection(Rule.PIECE, words, piece.board)


def _uncut_pieces(layout: Layout, board_of: dict[str, Board], shop: Shop) -> Iterable[Objection]:
    """Say which pieces end neither at their board's end nor at the blade of a cut across it.

    A piece that is said to be longer than the cuts leave it would hide one too short to mill.
    """
    half = shop.kerf_mm / 2
    for piece in layout.pieces:
        if piece.board not in board_of:
            continue
        whole = _round(board_of[piece.board])
        at = [
            cut.from_mm[0]
            for cut in layout.cuts
            if cut.board == piece.board and abs(cut.from_mm[0] - cut.to_mm[0]) < 1e-6
        ]
        for end, ends in (
            (piece.x0_mm, [whole.x0, *(x + half for x in at)]),
            (piece.x1_mm, [whole.x1, *(x - half for x in at)]),
        ):
            if all(abs(end - there) > SLACK_MM for there in ends):
                words = f"piece {piece.id} is said to end at {end:.1f}, where no cut is"
                yield Objection(Rule.PIECE, words, piece.board)


def _cut_in_two(layout: Layout, board_of: dict[str, Board], shop: Shop) -> Iterable[Objection]:
    """Say which pieces have a crosscut inside them, right across the board: they are two.

    Only a final cut, made after milling, may part the sections of a piece.
    """
    half = shop.kerf_mm / 2
    for piece in layout.pieces:
        if piece.board not in board_of:
            continue
        whole = _round(board_of[piece.board])
        for cut in layout.cuts:
            x = cut.from_mm[0]
            is_across = abs(x - cut.to_mm[0]) < 1e-6 and whole.is_cut_by(cut, True, half)
            is_inside = piece.x0_mm + SLACK_MM < x + half and x - half < piece.x1_mm - SLACK_MM
            if cut.board == piece.board and cut.kind == "crosscut" and is_across and is_inside:
                words = f"piece {piece.id} is cut in two by cut {cut.order}, a crosscut"
                yield Objection(Rule.PIECE, words, piece.board)


def _apart(items: Sequence[Placement], kerf: float, along: bool) -> list[list[Placement]]:
    """Divide placements wherever one straight cut of a kerf fits between them."""

    def span(p: Placement) -> tuple[float, float]:
        return (p.x_mm, p.x_mm + p.length_mm) if along else (p.y_mm, p.y_mm + p.width_mm)

    groups: list[list[Placement]] = []
    reach = float("-inf")
    for p in sorted(items, key=span):
        start, stop = span(p)
        if not groups or start >= reach + kerf - SLACK_MM:
            groups.append([])
        groups[-1].append(p)
        reach = max(reach, stop)
    return groups


def stage_objections(
    id: str, placements: Sequence[Placement], shop: Shop, exact: bool
) -> Iterable[Objection]:
    """Crosscut, rip, crosscut must free every part."""
    for section in _apart(placements, shop.kerf_mm, along=True):
        for strip in _apart(section, shop.kerf_mm, along=False):
            names = ", ".join(f"{p.part} {p.copy}" for p in strip[:4])
            if len(_apart(strip, shop.kerf_mm, along=True)) != len(strip):
                words = f"{id}: crosscut, rip, crosscut cannot free {names}"
                yield Objection(Rule.CUT, words, id, copies_of(*strip))
            widths = [p.width_mm for p in strip]
            starts = [p.y_mm for p in strip]
            if exact and (
                max(widths) - min(widths) > SLACK_MM or max(starts) - min(starts) > SLACK_MM
            ):
                words = f"{id}: {names} share a strip, but not its width"
                yield Objection(Rule.CUT, words, id, copies_of(*strip))


def _saw(
    board: Board, cuts: Sequence[Cut], placements: Sequence[Placement], shop: Shop, cut_class: str
) -> Iterable[Objection]:
    """Saw a rectangle round the board by the list, in order."""

    def objection(words: str, *about: Placement) -> Objection:
        return Objection(Rule.CUT, f"{board.id}: {words}", board.id, copies_of(*about))

    half = shop.kerf_mm / 2
    blocks = [_round(board)]
    if sorted(cut.order for cut in cuts) != list(range(1, len(cuts) + 1)):
        yield objection("the cuts are not numbered from 1 on")
    for cut in sorted(cuts, key=lambda cut: cut.order):
        if cut.kind not in _KINDS:
            yield objection(f"cut {cut.order} is of no known kind")
        (xa, ya), (xb, yb) = cut.from_mm, cut.to_mm
        across = abs(xa - xb) < 1e-6
        if not across and abs(ya - yb) > 1e-6:
            yield objection(f"cut {cut.order} is neither along nor across")
            continue
        if (cut.kind == "rip") == across:
            yield objection(f"cut {cut.order} is called {cut.kind}, but runs otherwise")
        hit = next((block for block in blocks if block.is_cut_by(cut, across, half)), None)
        if hit is None:
            yield objection(f"cut {cut.order} does not run right through a piece")
            continue
        blocks.remove(hit)
        two = hit.halves(xa if across else ya, across, half)
        for p in placements:
            if hit.holds(p) and not any(block.holds(p) for block in two):
                yield objection(f"cut {cut.order} goes through {p.part} {p.copy}", p)
        # Between two cuts closer than a kerf nothing is left for a later cut to meet.
        blocks += [block for block in two if block.x1 > block.x0 and block.y1 > block.y0]
    for p in placements:
        for words in _not_freed(p, blocks, placements, cut_class):
            yield objection(words, p)


def _round(board: Board) -> _Block:
    """Return the rectangle round both faces of a board."""
    bounds = [board.wood(number).bounds for number in board.faces]
    x0, y0 = (min(b[n] for b in bounds) for n in (0, 1))
    x1, y1 = (max(b[n] for b in bounds) for n in (2, 3))
    return _Block(x0, y0, x1, y1)


def _not_freed(
    p: Placement, blocks: Sequence[_Block], placements: Sequence[Placement], cut_class: str
) -> Iterable[str]:
    """Say what keeps a part from being free, once all is sawn into ``blocks``."""
    name = f"{p.part} {p.copy}"
    block = next((block for block in blocks if block.holds(p)), None)
    if block is None:
        yield f"{name} is cut through"
        return
    if sum(block.holds(q) for q in placements) > 1:
        yield f"the cuts do not part {name} from its neighbour"
    if block.x1 - block.x0 > p.length_mm + 2 * SLACK_MM + 1e-6:
        yield f"{name} is not cut to length"
    if cut_class == "three_stage" and block.y1 - block.y0 > p.width_mm + 2 * SLACK_MM:
        yield f"{name} is not ripped to width"
