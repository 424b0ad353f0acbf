"""A results folder as the demo leaves it, made of the drawn boards of `tests/common.py`."""

from collections.abc import Mapping
from functools import cache
from io import BytesIO
from pathlib import Path

from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from tests import common

PARTS = """name,quantity,length,width,thickness,faces,species
rail,2,610,70,19,both,white ash
seat slat,2,1000,70,19,show,white ash
stretcher,1,675,58,19,sound,white ash
cleat,1,250,40,19,hidden,white ash
shelf,1,800,170,25,both,walnut
bracket,2,220,95,25,show,walnut
"""


def write_results(folder: Path, *, with_layout: bool = True) -> Path:
    """Write an ash board nobody looked over, a walnut board that is done, parts and a layout."""
    for name, content in _files().items():
        if with_layout or name != "layout.json":
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
    return folder


@cache
def _files() -> Mapping[str, bytes]:
    """Return the content of every file: drawn and written once for all lots."""
    made: dict[str, bytes] = {}
    for board in (common.ash_board(), common.walnut_board()):
        for number, face in board.faces.items():
            if face.picture:
                picture = BytesIO()
                common.flat_picture(board, number).save(picture, "JPEG", quality=85)
                made[f"{board.id}/{face.picture}"] = picture.getvalue()
        made[f"{board.id}/board.json"] = board_json(board).encode()
    made["parts.csv"] = PARTS.encode()
    made["layout.json"] = layout_json(common.small_layout()).encode()
    return made
