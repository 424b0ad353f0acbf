"""A results folder as the demo leaves it, made of the drawn boards of `tests/common.py`."""

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
    for board in (common.ash_board(), common.walnut_board()):
        place = folder / board.id
        place.mkdir(parents=True)
        for number, face in board.faces.items():
            if face.picture:
                common.flat_picture(board, number).save(place / face.picture, quality=85)
        (place / "board.json").write_text(board_json(board), encoding="utf-8")
    (folder / "parts.csv").write_text(PARTS, encoding="utf-8")
    if with_layout:
        (folder / "layout.json").write_text(layout_json(common.small_layout()), encoding="utf-8")
    return folder
