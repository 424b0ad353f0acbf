"""What the sheets tell of one board, gathered once."""

from collections.abc import Mapping
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.lot.saws import CutCare, cut_cares, mind_text
from scanner.lot.totals import BoardTotals, LayoutTotals
from scanner.placement.layout import Layout, Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.sheets.board_share import board_share
from scanner.sheets.cut_list import CutRow, cut_rows
from scanner.sheets.drawing import Photograph
from scanner.sheets.part_marks import placements_on
from scanner.sheets.tape import TapeEdge, hooked_edge, landmark_text
from scanner.sheets.words import by_name


@dataclass(frozen=True, slots=True)
class MapContent:
    """What a board map tells: the board, its share of the layout, and the figures.

    ``layout``: of this board alone, with the whole one's summary. ``landmark``: where a big knot
    lies, to know end and face by.
    """

    board: Board
    totals: BoardTotals
    layout: Layout
    figures: LayoutTotals
    parts: Mapping[str, Part]
    placements: tuple[Placement, ...]
    cuts: tuple[CutRow, ...]
    edge: TapeEdge
    shop: Shop
    pictures: Mapping[int, Photograph | None]
    cares: tuple[CutCare, ...] = ()
    landmark: str = ""

    @property
    def units(self) -> str:
        """The shop's units."""
        return self.shop.units


def map_content(
    board: Board,
    totals: BoardTotals,
    layout: Layout,
    figures: LayoutTotals,
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[int, Photograph | None],
) -> MapContent:
    """Gather what the map of one board tells."""
    named, edge = by_name(parts), hooked_edge(board)
    layout = board_share(layout, board.id)
    cares = cut_cares(layout, board, shop)
    minds = {care.order: mind_text(care.minds, most=2) for care in cares}
    return MapContent(
        board=board,
        totals=totals,
        layout=layout,
        figures=figures,
        parts=named,
        placements=placements_on(layout, board.id),
        cuts=cut_rows(layout, board, named, edge, shop.units, minds),
        edge=edge,
        shop=shop,
        pictures=pictures,
        cares=cares,
        landmark=landmark_text(board, edge, shop.units),
    )
