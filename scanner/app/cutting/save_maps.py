"""The errand "take the sheets along": board maps and story sticks of a lot's newest layout."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Literal

from scanner.app.cutting.make_stick import stick_of, sticks_title
from scanner.app.lot.open_lot import parts_of
from scanner.app.placing.plan_cuts import on_all_cores, waiting_pictures
from scanner.app.placing.spoiled_wood import with_spoiled
from scanner.errors import PlacementError
from scanner.files.layout_file import layout_json
from scanner.placement.giving.sizes import parts_as_made
from scanner.sheets.board_map import board_maps, maps_pdf
from scanner.sheets.strip import shapes_pdf
from scanner.sheets.words import by_name

if TYPE_CHECKING:
    from collections.abc import Callable

    from PIL import Image

    from scanner.board.board import Board
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot

    _Pictures = dict[tuple[str, int], Callable[[int], Image.Image] | None]
    _DrawnFrom = tuple[Layout, tuple[Board, ...], PartsList, Shop, _Pictures, str]


def maps_zip(lot: Lot) -> bytes:
    """Return the board maps (PDF, PNG) and ``layout.json`` as one ZIP file.

    Raises
    ------
    PlacementError
        There is no layout, or it is older than what was said of the boards.
    """
    of_lot = _drawn_from(lot)
    files = board_maps(*of_lot, work=on_all_cores)
    files["layout.json"] = layout_json(with_spoiled(of_lot[0], lot.ticks().spoiled)).encode()
    return _packed(files)


def all_maps_pdf(lot: Lot) -> bytes:
    """Return the layout and all board maps as one PDF, to print at once.

    Raises
    ------
    PlacementError
        There is no layout, or it is older than what was said of the boards.
    """
    return maps_pdf(*_drawn_from(lot))


def _drawn_from(lot: Lot) -> _DrawnFrom:
    """Return what maps are drawn from: the newest layout first, the paper's name last."""
    layout = _newest(lot)
    boards, shop = lot.boards(), lot.shop()
    pictures = waiting_pictures(boards, {board.id: lot.folder for board in boards})
    return layout, boards, parts_of(lot), shop, pictures, paper_of(shop)


def sticks_pdf(lot: Lot, measured_mm: float | None = None) -> bytes:
    """Return the story sticks of all boards that the newest layout cuts, as one PDF.

    Every page and piece names its board.

    Parameters
    ----------
    measured_mm
        What the 250.0 mm between the joint lines of a former print really measure.

    Raises
    ------
    PlacementError
        There is no layout, it is older than what was said of the boards, or it has no cuts.
    SettingsError
        A measured length that cannot be right.
    """
    layout, shop = _newest(lot), lot.shop()
    cut = {line.board for line in layout.cuts}
    if not cut:
        raise PlacementError("the layout has no cuts", "place the parts first")
    paper = paper_of(shop)
    parts = by_name(parts_as_made(parts_of(lot), layout.placements, shop))
    boards = [board for board in lot.boards() if board.id in cut]
    pages = [
        page
        for board in boards
        for page in stick_of(
            layout, board, parts, paper, units=shop.units, measured_mm=measured_mm
        )[1]
    ]
    return shapes_pdf(tuple(pages), sticks_title(boards))


def paper_of(shop: Shop) -> Literal["a4", "letter"]:
    """Return the paper of a shop: Letter where inches are used, else A4."""
    return "letter" if shop.units == "inch" else "a4"


def _newest(lot: Lot) -> Layout:
    saved = lot.layout()
    if saved is None or saved.revision != lot.revision:
        raise PlacementError("the layout is not up to date", "place the parts again first")
    return saved.layout


def _packed(files: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    # PDF and PNG are packed by themselves.
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return packed.getvalue()
