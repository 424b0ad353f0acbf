"""Curved parts in a lot: their drawings are kept with it, and what follows knows their curves."""

import io
import json
import sqlite3
import zipfile
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from scanner.app.cutting import hold_marks
from scanner.app.cutting.save_maps import maps_zip, sticks_pdf
from scanner.app.cutting.tick_parts import boards_to_cut
from scanner.app.lot.asked_parts import asked_parts
from scanner.app.lot.move_lot import export_lot, import_lot
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot, parts_of
from scanner.app.lot.parts_table import columns_of, keep_table, read_table, table_of
from scanner.app.lot.take_parts_files import (
    drawing_views,
    take_out_drawing,
    take_parts_files,
    text_of_upload,
)
from scanner.app.placing.layout_state import layout_view
from scanner.app.showing.layout_board import laid_boards
from scanner.board.board import Station
from scanner.board.lay_again import LaidAgain
from scanner.board.measured import Measured
from scanner.errors import FileError, LotError, PartsListError
from scanner.placement.layout import Placement
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.storage.lots import PartsText
from scanner.storage.schema import MIGRATIONS, connect
from tests.common import small_layout
from tests.instances.tiny import board

# A wedge, its grain upright in the drawing: 400 along the part, 100 across.
WEDGE = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0V400H100Z"/>{}</svg>'.format(
    '<line x1="0" y1="0" x2="0" y2="50"/>'
)
SHAPE = json.dumps({"outline": [[0, 0], [400, 0], [0, 100]], "grain": [[0, 0], [1, 0]]})
LIST = "name,quantity,length,width,thickness,faces,shape\nwedge,{},400,{},20,both,{}\n"


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


def give(lot, quantity=2, width=100, name="wedge.svg"):
    files = {"parts.csv": LIST.format(quantity, width, f"drawings/{name}")}
    take_parts_files(lot, files | {name: SHAPE if name.endswith("json") else WEDGE})


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_list_on_the_page_is_read_as_the_commands_read_it(lot, encoding):
    """Its letters were lost there, or all of it."""
    text = LIST.format(2, 100, "").replace("wedge", "F\u00fcllung")
    take_parts_files(lot, {"p.csv": text_of_upload(text.encode(encoding), "p.csv")})
    assert [part.name for part in parts_of(lot)] == ["F\u00fcllung"]


def test_what_is_no_text_is_refused_on_the_page_by_its_name():
    with pytest.raises(FileError, match=r"p\.csv is no UTF-8 text"):
        text_of_upload(b"\x89PNG\0\0", "p.csv")


@pytest.mark.parametrize("name", ["wedge.svg", "wedge.json"])
def test_a_list_and_its_drawings_given_at_once_are_kept(lot, name):
    give(lot, name=name)
    lot.close()
    (part,) = parts_of(open_lot(lot.path))
    assert part.outline_mm is not None
    assert np.ptp(np.array(part.outline_mm), axis=0) == pytest.approx((400, 100))


def test_a_table_may_name_a_drawing_that_came_before_it(lot):
    take_parts_files(lot, {"wedge.svg": WEDGE})
    (view,) = drawing_views(lot)
    assert (view.size, view.parts) == ("400 × 100 mm", ())
    assert "shape" in columns_of([], has_drawings=True)
    row = {"name": "wedge", "quantity": "2", "length": "400", "width": "100", "thickness": "20",
           "faces": "both", "shape": "wedge.svg"}  # fmt: skip
    keep_table(lot, [row])
    assert table_of(lot)[0]["shape"] == "wedge.svg"
    assert parts_of(lot)[0].outline_mm and drawing_views(lot)[0].parts == ("wedge",)
    with pytest.raises(PartsListError, match=r"wedge names wedge\.svg"):
        take_out_drawing(lot, "wedge.svg")
    keep_table(lot, [row | {"shape": ""}])
    take_out_drawing(lot, "wedge.svg")
    assert drawing_views(lot) == ()
    lot.undo(new_stamp(lot))
    assert len(drawing_views(lot)) == 1


@pytest.mark.parametrize(
    ("change", "column", "says"),
    [
        ({"shape": "leg.svg"}, "shape", "leg.svg is not here yet"),
        ({"length": "450"}, "length", "400.0 x 100.0 mm along its grain, the row says 450.0"),
        ({"width": "90"}, "width", "the row says 400.0 x 90.0"),
        ({"width_min": "80"}, "width_min", "one size only"),
    ],
)
def test_a_row_that_its_drawing_does_not_fit_is_marked_and_not_kept(lot, change, column, says):
    give(lot)
    rows = [table_of(lot)[0] | change]
    (mistake,) = read_table(rows, Shop(), lot.drawings()).mistakes
    assert mistake.column == column and says in mistake.what
    with pytest.raises(PartsListError):
        keep_table(lot, rows)
    assert parts_of(lot)[0].width_mm == 100


def test_what_does_not_go_together_is_refused_whole(lot):
    give(lot)
    before = lot.revision
    for files, says in (
        ({"a.csv": "x", "b.csv": "y"}, "two lists"),
        ({"a.csv": LIST.format(1, 100, "leg.svg")}, "its drawing leg.svg is not there"),
        ({"wedge.svg": WEDGE.replace("H100", "H90")}, "give the drawing another name"),
        ({"leg.svg": "<svg/>"}, "no path or polygon"),
    ):
        with pytest.raises(PartsListError, match=says):
            take_parts_files(lot, files)
    assert lot.revision == before


def test_a_results_folder_brings_the_drawings_beside_its_list(lot, tmp_path):
    results = tmp_path / "out"
    (results / "drawings").mkdir(parents=True)
    (results / "parts.csv").write_text(LIST.format(2, 100, "drawings/wedge.svg"))
    with pytest.raises(PartsListError, match=r"drawings/wedge\.svg is not there"):
        fill_from_results(lot, results)
    (results / "drawings" / "wedge.svg").write_text(WEDGE)
    fill_from_results(lot, results)
    assert parts_of(lot)[0].outline_mm is not None


def test_a_packed_lot_takes_its_drawings_along(lot, tmp_path):
    give(lot)
    export_lot(lot, tmp_path / "bench.zip")
    other = open_lot(import_lot(tmp_path / "bench.zip", tmp_path, "other"))
    assert parts_of(other) == parts_of(lot)
    other.close()


def test_a_lot_of_the_first_release_is_backed_up_and_its_curved_part_stays_a_rectangle(tmp_path):
    path = tmp_path / "bench.lot"
    connect(path, MIGRATIONS[:1]).close()
    text = {"name": "parts.csv", "text": LIST.format(2, 100, "wedge.svg")}
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO fact VALUES ('parts', ?)", (json.dumps(text),))
    lot = open_lot(path)
    assert lot.parts_text() == PartsText(**text)
    assert [(part.shape, part.outline_mm) for part in parts_of(lot)] == [("wedge.svg", None)]
    (mistake,) = read_table(table_of(lot), lot.shop(), lot.drawings()).mistakes
    assert mistake.column == "shape"
    take_parts_files(lot, {"wedge.svg": WEDGE})
    assert parts_of(lot)[0].outline_mm is not None
    lot.close()
    with closing(sqlite3.connect(tmp_path / "bench.lot.schema-1")) as backup:
        assert backup.execute("PRAGMA user_version").fetchone()[0] == 1
        assert backup.execute("SELECT count(*) FROM fact").fetchone()[0] == 1
    with pytest.raises(LotError, match="newer bothfaces"):
        connect(path, MIGRATIONS[:1])


def _words_in(packed):
    if packed.startswith(b"%PDF"):
        sheets = [packed]
    else:
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            sheets = [archive.read(name) for name in archive.namelist() if name.endswith(".pdf")]
    readers = [PdfReader(io.BytesIO(sheet)) for sheet in sheets]
    return " ".join(page.extract_text() for one in readers for page in one.pages)


BOARD = replace(board("B1", 640, 150), widths=(Station(320.0, Measured(150.0, 0.0)),))
NEST = (
    Placement("wedge", 1, "B1", 12.0, 1.5, 425.0, 112.0, nest=1),
    Placement("wedge", 2, "B1", 12.0, 17.3, 425.0, 112.0, nest=1, half_turn=True),
)


@pytest.fixture
def nested(lot):
    """A lot with two nested wedges."""
    give(lot)
    lot.save_board(BOARD, new_stamp(lot))
    lot.save_layout(replace(small_layout(), placements=NEST), lot.revision)
    return lot


@pytest.mark.slow
def test_page_maps_and_story_stick_know_the_nest_of_a_lot(nested):
    layout = solve(nested.boards(), asked_parts(nested), nested.shop(), Work(40))
    assert {p.nest for p in layout.placements} == {1}
    nested.save_layout(layout, nested.revision)
    (laid,) = laid_boards(nested)
    assert all(len(part.view.rings[1]) < 5 and part.view.rooms for part in laid.parts)
    assert all(part.size.endswith("rough for 2: curves sawn apart") for part in laid.parts)
    (cut,) = boards_to_cut(nested)
    assert all(line.size.endswith(" mm for 2, curves sawn apart") for line in cut.parts)
    assert "rectangles" not in " ".join(layout_view(nested).lines)
    assert "nest wedge 1, 2 to" in _words_in(maps_zip(nested))
    assert "nest of wedge 1, 2" in _words_in(sticks_pdf(nested))


def test_marks_are_asked_for_round_the_blank_of_a_nest_not_round_each_curve(nested, monkeypatch):
    asked = {}
    monkeypatch.setattr("scanner.vision.second_look.drawn.drawn_on", lambda picture, outline: None)
    monkeypatch.setattr(hold_marks, "judge_marks", lambda lines, *_: asked.update(lines=lines))
    laid = LaidAgain(1, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), True)
    one = nested.boards()[0]
    hold_marks.judge_picture(one, NEST, None, one.faces[1].outline, laid)
    assert {line.part for line in asked["lines"]} == {"nest of wedge 1, 2"}
    ends = {line.side: line.begin[0] for line in asked["lines"]}
    assert ends["A"] == pytest.approx(min(p.x_mm for p in NEST))
    assert ends["B"] == pytest.approx(max(p.x_mm + p.length_mm for p in NEST))


def test_without_its_drawing_the_layout_says_that_it_laid_a_rectangle(nested):
    saved = nested.layout()
    nested.set_drawings({}, new_stamp(nested), "lost")
    nested.save_layout(replace(saved.layout), nested.revision)
    assert "Laid as rectangles, as their drawings are not here: wedge (drawings/wedge.svg)." in (
        layout_view(nested).warnings
    )
