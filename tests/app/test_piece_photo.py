"""A planed piece photographed beside the strip is found on the board it was cut from."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scanner.app.later.find_piece import find_piece
from scanner.app.scanning.scan_request import ScanRequest
from scanner.board.board import Station
from scanner.board.measured import Measured
from scanner.files.board_file import board_json
from scanner.files.picture_file import jpeg_bytes
from tests.bench.piece_cases import _face, board_of, cases_of, prints_of, spec_of
from tests.render.draw_photos import draw_photo
from tests.render.photo import save_photo
from tests.render.second_look.piece_photo import piece_spec, render_piece_photo


def board_folder(seed: int, folder: Path) -> Path:
    """Write a rough board as a scan would: board.json and the flat faces, face 2 seen through."""
    board, spec = board_of(seed), spec_of(seed)
    faces = {}
    for number, known in enumerate(prints_of(seed), start=1):
        pixels, _ = _face(spec, number)
        pixels = np.ascontiguousarray(pixels[::-1] if number == 2 else pixels)
        name = f"{board.id}-face{number}.jpg"
        (folder / name).write_bytes(jpeg_bytes(pixels))
        faces[number] = replace(
            board.faces[number], picture=name, mm_per_px=1.0, picture_origin=known.origin_mm
        )
    shares = (0.04, 0.27, 0.5, 0.73, 0.96)
    widths = tuple(
        Station(share * board.length.value_mm, Measured(spec.width_mm, 1.0)) for share in shares
    )
    path = folder / f"{board.id}.json"
    path.write_text(board_json(replace(board, faces=faces, widths=widths)))
    return path


@pytest.mark.slow
def test_a_planed_piece_is_found_where_it_was_cut(tmp_path):
    case = cases_of(8000, 1)[0]
    spec = piece_spec(spec_of(8000), case.cut)
    photo = draw_photo(8000, spec, rule="strip", size="middling")
    picture = save_photo(render_piece_photo(spec_of(8000), case.cut, photo), tmp_path / "piece.jpg")
    request = ScanRequest(
        "piece",
        (picture,),
        (),
        Measured(round(spec.thickness_mm, 1), 1.0),
        batten_mm=photo.rule.batten_mm,
        strip_taped=Measured(photo.rule.taped_mm or 0.0, 2.0),
    )
    boards = [board_folder(seed, tmp_path) for seed in (8000, 8001)]
    answer = find_piece(request, boards, tmp_path / "out", take=1)
    place = answer.places[0]
    assert (place.board, place.face, place.is_turned) == ("S8000", 1, True)
    assert (place.x_mm, place.y_mm) == pytest.approx((case.cut.x, case.cut.y), abs=6.0)
    assert not answer.is_sure  # no cuts are known: a person says it
