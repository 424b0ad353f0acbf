"""The errand "take the board maps along": the newest layout of a lot as files in one ZIP."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

from scanner.app.open_lot import parts_of
from scanner.app.plan_cuts import load_pictures
from scanner.errors import PlacementError
from scanner.files.layout_file import layout_json
from scanner.sheets.board_map import board_maps

if TYPE_CHECKING:
    from scanner.storage.lots import Lot


def maps_zip(lot: Lot) -> bytes:
    """Return the board maps (PDF, PNG) and ``layout.json`` as one ZIP file.

    Raises
    ------
    PlacementError
        There is no layout, or it is older than what was said of the boards.
    """
    saved = lot.layout()
    if saved is None or saved.revision != lot.revision:
        raise PlacementError("the layout is not up to date", "place the parts again first")
    boards, shop = lot.boards(), lot.shop()
    pictures = load_pictures(boards, {board.id: lot.folder for board in boards})
    paper = "letter" if shop.units == "inch" else "a4"
    files = board_maps(saved.layout, boards, parts_of(lot), shop, pictures, paper)
    files["layout.json"] = layout_json(saved.layout).encode()
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return packed.getvalue()
