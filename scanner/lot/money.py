"""What the wood of a lot costs, and what each part costs with its share of the waste."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.board.species import species_key
from scanner.lot.totals import BoardTotals, board_totals
from scanner.placement.giving.sizes import parts_as_made
from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import FootPrice, Shop
from scanner.placement.wanted.items import finished_area_mm2
from scanner.placement.wanted.staves import whole_panels


@dataclass(frozen=True, slots=True)
class PartCost:
    """What the placed copies of one part cost: a share of their boards by finished area.

    Attributes
    ----------
    each
        Mean over the copies; board by board the copies share the whole price of the board.
    wood
        The part of ``each`` that is the finished part's own wood; the rest is its share of what
        falls off.
    """

    part: str
    copies: int
    each: float
    wood: float


@dataclass(frozen=True, slots=True)
class Money:
    """What a lot and a layout cost; boards without a price are named, never taken as free."""

    currency: str
    lot: float
    used: float
    parts: tuple[PartCost, ...]
    unpriced: tuple[str, ...]
    by_board: Mapping[str, float]

    def text(self, amount: float) -> str:
        """Return an amount of money with its currency."""
        return amount_text(amount, self.currency)


def amount_text(amount: float, currency: str, *, signed: bool = False) -> str:
    """Return ``$12.35`` or ``12.35 EUR``: a sign stands before the figure, letters after it.

    ``signed``: say + of what is more, as - of what is less.
    """
    before = "-" if round(amount, 2) < 0 else "+" if signed else ""
    figure = f"{abs(amount):.2f}"
    is_sign = bool(currency) and not any(letter.isalpha() for letter in currency)
    if is_sign:
        return f"{before}{currency}{figure}"
    return f"{before}{figure} {currency}".strip()


def board_prices(boards: Iterable[Board], prices: Sequence[FootPrice]) -> dict[str, float]:
    """Return what each board costs; its own price wins, a board of unknown price is left out."""
    boards = tuple(boards)
    known = {}
    for board, totals in zip(boards, board_totals(boards), strict=True):
        price = board.price if board.price is not None else _by_the_foot(totals, prices)
        if price is not None:
            known[board.id] = price
    return known


def money_of(
    boards: Sequence[Board], shop: Shop, layout: Layout | None = None, parts: PartsList = ()
) -> Money | None:
    """Return what the lot costs and, with a layout, what its parts do; None if no price is known.

    A part's cost is its share of the whole price of its board, by finished area: what the saw, the
    ends and the flaws took is paid for by the parts, as is what is kept for later.
    """
    by_board = board_prices(boards, shop.foot_prices)
    if not by_board:
        return None
    opened = {placement.board for placement in layout.placements} if layout else set()
    return Money(
        currency=shop.currency,
        lot=sum(by_board.values()),
        used=sum(price for board, price in by_board.items() if board in opened),
        parts=_part_costs(boards, by_board, layout, parts, shop) if layout else (),
        unpriced=tuple(board.id for board in boards if board.id not in by_board),
        by_board=by_board,
    )


def lot_cost_lines(money: Money) -> tuple[str, ...]:
    """Return what the lot and the boards used cost, and which boards have no price."""
    used = f", those used {money.text(money.used)}" if money.parts else ""
    lines = (f"the boards cost {money.text(money.lot)}{used}",)
    if not money.unpriced:
        return lines
    return (*lines, f"no price is known for {', '.join(money.unpriced)}: not counted")


def money_lines(money: Money) -> tuple[str, ...]:
    """Return the cost of lot, boards used and parts as lines of plain text."""
    return (
        *lot_cost_lines(money),
        *(
            f"{row.part}: {money.text(row.each)} each with its share of the waste"
            f" ({money.text(row.wood)} of it its own wood), {row.copies} placed"
            for row in money.parts
        ),
    )


def _by_the_foot(totals: BoardTotals, prices: Sequence[FootPrice]) -> float | None:
    """Return board feet times the price of the species, that of the very thickness first."""
    for quarters in (totals.quarters, None):
        for price in prices:
            if price.species == species_key(totals.species) and price.quarters == quarters:
                return float(totals.board_feet) * price.price
    return None


def _part_costs(
    boards: Sequence[Board],
    by_board: Mapping[str, float],
    layout: Layout,
    parts: PartsList,
    shop: Shop,
) -> tuple[PartCost, ...]:
    made = parts_as_made(parts, layout.placements, shop)
    area = {part.name: finished_area_mm2(part) for part in made}
    finished: dict[str, float] = dict.fromkeys(by_board, 0.0)
    # Good parts pay for the spoiled.
    sound = whole_panels([p for p in layout.placements if p.state != "spoiled"], shop)
    for placement in sound:
        if placement.board in finished:
            finished[placement.board] += area[placement.part]
    gross = {board.id: board.wood(1).area for board in boards}
    rows = []
    for part in made:
        boards_of = [p.board for p in sound if p.part == part.name]
        priced = [board for board in boards_of if board in by_board]
        if not priced:
            continue
        share = sum(by_board[board] / finished[board] for board in priced) * area[part.name]
        wood = sum(by_board[board] / gross[board] for board in priced) * area[part.name]
        rows.append(PartCost(part.name, len(priced), share / len(priced), wood / len(priced)))
    return tuple(rows)
