"""All sheets of a layout as files: board maps and the layout, as PDF and as PNG."""

from collections.abc import Callable, Mapping, Sequence

from scanner.board.board import Board
from scanner.errors import PlacementError
from scanner.lot.money import money_of
from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.sheets.content import MapContent, map_content
from scanner.sheets.drawing import Page, Photograph
from scanner.sheets.layout_sheet import layout_sheet
from scanner.sheets.map_page import map_page
from scanner.sheets.paper import paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import page_image, png_bytes

PNG_WIDTH = 2000


def board_maps(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[tuple[str, int], Photograph | None],
    paper: str = "a4",
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, bytes]:
    """Return file name to content: ``B01-map.pdf``, ``B01-map.png``, ``layout.pdf``, ...

    Parameters
    ----------
    boards
        All boards of the lot, in tally order; the maps are of those that the layout opens.
    pictures
        Flat pictures by board id and face, board frame, or what opens them when they are drawn;
        what is missing is drawn plain.
    paper
        ``a4`` or ``letter``.
    progress
        Called after each sheet with how many are done, and of how many.

    Returns
    -------
    dict
        The same input gives the same bytes. A sheet of several pages is one PDF and several
        pictures (``B01-map-2.png``).

    Raises
    ------
    PlacementError
        The layout names a board that is not given.
    SettingsError
        There is no such paper.
    """
    size = paper_named(paper)
    contents = _contents(layout, boards, parts, shop, pictures)
    files: dict[str, bytes] = {}
    for number, content in enumerate(contents, 1):
        board_id = content.board.id
        files |= _as_files(f"{board_id}-map", map_page(content, size), f"Board map {board_id}")
        if progress:
            progress(number, len(contents) + 1)
    pages = layout_sheet(
        contents, layout_totals(layout), size, money_of(boards, shop, layout, parts)
    )
    files |= _as_files("layout", pages, "Layout")
    if progress:
        progress(len(contents) + 1, len(contents) + 1)
    return files


def _contents(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[tuple[str, int], Photograph | None],
) -> list[MapContent]:
    known = {board.id: board for board in boards}
    used = {p.board for p in layout.placements if p.state != "spoiled"}
    unknown = sorted(used - set(known))
    if unknown:
        raise PlacementError(
            f"the layout uses board {unknown[0]}, which is not among the boards given",
            "add its board.json",
        )
    figures = layout_totals(layout)
    return [
        map_content(
            board,
            totals,
            layout,
            figures,
            parts,
            shop,
            {face: pictures.get((board.id, face)) for face in (1, 2)},
        )
        for board, totals in zip(boards, board_totals(boards), strict=True)
        if board.id in used
    ]


def _as_files(stem: str, pages: Sequence[Page], title: str) -> dict[str, bytes]:
    files = {f"{stem}.pdf": pdf_bytes(pages, title)}
    for number, page in enumerate(pages, 1):
        name = f"{stem}.png" if number == 1 else f"{stem}-{number}.png"
        files[name] = png_bytes(page_image(page, PNG_WIDTH))
    return files
