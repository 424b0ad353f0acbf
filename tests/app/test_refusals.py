"""What an errand cannot do it says in a sentence, and nothing is changed or written."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from scanner.app.buying.wood_movement import movement_lines
from scanner.app.cutting import milling, milling_in_lot
from scanner.app.cutting.edit_layout import edit_layout
from scanner.app.cutting.hold_marks import hold_marks
from scanner.app.cutting.keep_stock import find_in_stock, keep_from_lot, take_from_stock
from scanner.app.cutting.marks_in_lot import boards_with_parts, kept_marks, look_again_as
from scanner.app.cutting.save_maps import sticks_pdf
from scanner.app.fitting import fit_by_hand, fit_in_lot
from scanner.app.fitting.alike import alike_boards
from scanner.app.fitting.dry_fit import ByHand, laid_by_hand
from scanner.app.later import edge_in_lot, end_in_lot, piece_in_lot
from scanner.app.later.piece_on_board import stretch_of
from scanner.app.later.read_end import TypedSide, read_end
from scanner.app.lot.open_lot import new_stamp
from scanner.app.many import work_through
from scanner.app.nodding.review_flaws import say_of_board
from scanner.app.nodding.sayings import Saying
from scanner.app.placing.given_layout import read_given
from scanner.app.placing.place_again import plan_lot
from scanner.app.placing.plan_cuts import plan_cuts
from scanner.app.placing.save_a_board import look_for_savings
from scanner.app.scanning.make_strip import make_strip
from scanner.app.scanning.scan_board import scan_board
from scanner.app.scanning.scan_request import TypedOptions, scan_request
from scanner.app.scanning.tap_rule import refine_rule_taps
from scanner.board.assembly import Assembly, Member
from scanner.board.edge_facts import EdgeFacts
from scanner.board.ring_facts import UNTOLD_DEG, RingFacts, RingStation
from scanner.errors import ScannerError
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from scanner.placement.shop import Shop
from scanner.placement.stop import Work
from scanner.storage.values import to_document
from scanner.vision.second_look.find_again import PiecePlace
from tests import common
from tests.app.placed_lot import PARTS, PLACED
from tests.command import run
from tests.lot.laid import layout_of

FOUR = "0,0 300,0 300,20 0,20"
LEGS = Assembly(
    "leg",
    "side_by_side",
    tuple(
        Member("leg", copy, 0, "P01", (60.0 * copy, 10.0), (300.0, 40.0), may_show=(1,))
        for copy in (1, 2)
    ),
)


def quiet(step, share):
    pass


@pytest.fixture
def files(tmp_path):
    """Return a folder with a board, parts, a layout and a small photo of nothing."""
    (tmp_path / "P01").mkdir()
    (tmp_path / "P01" / "board.json").write_text(board_json(common.plain_board()))
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "layout.json").write_text(layout_json(layout_of(*PLACED)))
    Image.new("RGB", (320, 240), (150, 120, 90)).save(tmp_path / "photo.png")
    return tmp_path


def _given(files, parts=PARTS, layout=None, boards=("P01",)):
    (files / "parts.csv").write_text(parts)
    if layout is not None:
        (files / "layout.json").write_text(layout_json(layout))
    named = tuple(files / id / "board.json" for id in boards)
    return read_given(files / "layout.json", files / "parts.csv", named)


ON_FILES = {
    "holds no board.json": lambda f: alike_boards(f / "P01" / "..", "P01", None)
    if (f / "P01" / "board.json").unlink() is None
    else None,
    "uses board P02, which is not among": lambda f: _given(
        f, layout=layout_of(replace(PLACED[0], board="P02"))
    ),
    "holds leg, which is not in the parts list": lambda f: _given(f, PARTS.partition("leg")[0]),
    "there is no stock in": lambda f: find_in_stock(f / "none", "450mm", "50mm"),
    "size: ": lambda f: find_in_stock(f, "long", "50mm"),
    "a piece of no size": lambda f: find_in_stock(f, "450mm", "0"),
    '--paper: "a3"': lambda f: make_strip("8ft", "a3", f / "strip.pdf"),
    "--length: a strip of 9 mm is no use": lambda f: make_strip("9", "a4", f / "strip.pdf"),
    "more than two sizes": lambda f: make_strip(
        "8ft", "a4", f / "strip.pdf", measured="250x180x100"
    ),
    "means a scaled page": lambda f: make_strip("8ft", "a4", f / "strip.pdf", measured="220mm"),
    '--at "C" is no end': lambda f: read_end(f / "photo.png", TypedSide(FOUR), "C", f / "end"),
    "say nothing without the rule's size": lambda f: read_end(
        f / "photo.png", TypedSide(FOUR, rule_corners=FOUR), "A", f / "end"
    ),
    "is not four points": lambda f: read_end(
        f / "photo.png", TypedSide("1,2 3"), "a", f / "end"
    ),
    "3 corners were tapped in photo.png": lambda f: refine_rule_taps(
        f / "photo.png", "36in", ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))
    ),
    "no photo of face 1": lambda f: scan_board(
        replace(scan_request("B01", f / "photo.png", None, TypedOptions()), photos_1=()), f / "out"
    ),
    "--corners2 has no effect": lambda f: scan_request(
        "B01", f / "photo.png", None, TypedOptions(rule="36in", corners_2=FOUR)
    ),
    "--raking2 has no effect": lambda f: scan_request(
        "B01", f / "photo.png", None, TypedOptions(raking_2="low.jpg")
    ),
    "the layout has no part on Q01": lambda f: hold_marks(
        scan_request("marks", f / "photo.png", None, TypedOptions()),
        _renamed_board(f, "Q01"), f / "layout.json", f / "marks",
    ),
    "there is no board to place parts on": lambda f: plan_cuts((), (), Shop(), Work(1)),
    "two boards are called P01": lambda f: plan_cuts(
        (common.plain_board(), common.plain_board()), (), Shop(), Work(1)
    ),
    '--units: "furlong" is neither': lambda f: movement_lines(
        "12in", "white ash", 6, 12, "furlong"
    ),
    "width: ": lambda f: movement_lines("wide", "white ash", 6, 12),
    '--begin: "soon" is no date': lambda f: _milled(f, begin="soon"),
    '"table=2027-03-01" names no part': lambda f: _milled(f, glue_up=["table=2027-03-01"]),
    "over the final thickness: ": lambda f: _milled(f, over="much"),
    "P01 has no picture of face 1": lambda f: stretch_of(
        common.plain_board(),
        lambda board, face: None,
        PiecePlace("P01", 1, 100.0, 20.0, 400.0, 80.0, False, 1.0),
    ),
}  # fmt: skip


def _renamed_board(files, id):
    path = files / "other.json"
    path.write_text(board_json(replace(common.plain_board(), id=id)))
    return path


def _milled(files, **asked):
    return milling.milling_files(
        files / "layout.json", files / "parts.csv", (files / "P01" / "board.json",),
        files / "milling", **asked,
    )  # fmt: skip


@pytest.mark.parametrize("said", ON_FILES)
def test_a_thing_asked_of_files_that_cannot_be_done_is_refused_and_writes_nothing(files, said):
    before = sorted(path for path in files.rglob("*") if path.is_file())
    with pytest.raises(ScannerError, match=said.replace("(", r"\(")):
        ON_FILES[said](files)
    made = {path for path in files.rglob("*") if path.is_file()} - set(before)
    assert made <= {files / "other.json"}


ON_AN_EMPTY_LOT = {
    "there is no layout yet": [
        lambda lot: keep_from_lot(lot, lot.folder / "stock", ()),
        milling_in_lot.lot_plan,
        lambda lot: look_for_savings(lot, quiet),
        lambda lot: fit_in_lot.fit_view(lot, "leg"),
    ],
    "there is no parts list yet": [lambda lot: plan_lot(lot, Work(1))],
    "there is no B01-rest in stock": [
        lambda lot: take_from_stock(lot, lot.folder / "stock", "B01-rest")
    ],
}


@pytest.mark.parametrize(
    ("said", "errand"),
    [(said, one) for said, several in ON_AN_EMPTY_LOT.items() for one in several],
)
def test_an_empty_lot_says_what_it_lacks(empty_lot, said, errand):
    revision = empty_lot.revision
    with pytest.raises(ScannerError, match=said):
        errand(empty_lot)
    assert empty_lot.revision == revision


def _about(lot, verb, **more):
    first = PLACED[0]
    given = {
        "board": "P01", "part": first.part, "copy": first.copy, "ring": ((60.0, 5.0),), **more,
    }  # fmt: skip
    return Saying(new_stamp(lot), verb, **given)


ON_A_PLACED_LOT = {
    "the layout leaves nothing worth keeping": lambda lot: keep_from_lot(lot, lot.folder, ()),
    "the layout has other left-overs by now": lambda lot: keep_from_lot(lot, lot.folder, ("P01/",)),
    "the layout has no cuts": sticks_pdf,
    "leg has no piece 9": lambda lot: fit_by_hand.turn(lot, "leg", 9),
    "the page sent a place that is none": lambda lot: edit_layout(lot, _about(lot, "move")),
    "choose both parts again": lambda lot: edit_layout(lot, _about(lot, "swap")),
    "front 1 cannot be swapped with itself": lambda lot: edit_layout(
        lot,
        _about(
            lot, "swap", other="front", other_copy=1, other_board="P01",
            ring=((60.0, 5.0), (60.0, 5.0)),
        ),
    ),
    "the page sent a drawing that is none": lambda lot: say_of_board(
        lot, Saying(new_stamp(lot), "divide", board="P01", flaw="F1", face=1)
    ),
    "the photo of P01 is not here any more": lambda lot: look_again_as(lot, "P01", 1, quiet),
    "no rings were read on this end": lambda lot: end_in_lot.nod_at_end(lot, _end()),
    "the picture of this end is not here": lambda lot: end_in_lot.tap_ring(lot, _end(), ()),
    "not in the plan any more": lambda lot: milling_in_lot.tick_step(lot, "7.0/first", None),
}  # fmt: skip


def _end(picture="gone.jpg"):
    return end_in_lot.KeptEnd("P01", "A", picture, picture, picture, (150.0, 27.0), None)


def test_a_thing_asked_of_a_lot_that_cannot_be_done_is_refused(placed_lot):
    revision, layout = placed_lot.revision, placed_lot.layout()
    for said, errand in ON_A_PLACED_LOT.items():
        with pytest.raises(ScannerError, match=said):
            errand(placed_lot)
        assert placed_lot.revision == revision and placed_lot.layout() == layout, said


def test_spares_have_an_end(placed_lot, monkeypatch):
    monkeypatch.setattr("scanner.app.cutting.edit_layout._MOST_SPARES", 1)
    edit_layout(placed_lot, _about(placed_lot, "spare", to="more"))
    with pytest.raises(ScannerError, match="front has 1 spares"):
        edit_layout(placed_lot, _about(placed_lot, "spare", to="more"))


def test_three_points_that_are_no_ring_are_refused(placed_lot):
    stored = placed_lot.keep_picture((_png()), "end.png").file
    for taps, said in (
        (((1.0, 1.0), (5.0, 5.0)), "told by three points"),
        (((1.0, 1.0), (1.0, 1.0), (1.0, 1.0)), "tap points further apart"),
    ):
        with pytest.raises(ScannerError, match=said):
            end_in_lot.tap_ring(placed_lot, _end(stored), taps)


def _png():
    import io

    made = io.BytesIO()
    Image.fromarray(np.full((54, 300, 3), 150, np.uint8)).save(made, "PNG")
    return made.getvalue()


@pytest.mark.parametrize(
    ("asked", "way", "said"),
    [
        (ByHand(flip="1"), None, "--flip 1: "),
        (ByHand(flip="3"), None, "--flip"),
        (ByHand(order="1,1"), None, "does not name each of 2 pieces once"),
        (ByHand(), "heaped", '--way: "heaped" is none'),
    ],
)
def test_a_group_cannot_be_put_together_as_nobody_can(asked, way, said):
    with pytest.raises(ScannerError, match=said):
        laid_by_hand(LEGS, asked, way)


def test_notes_that_an_older_program_wrote_otherwise_are_let_go(placed_lot):
    lot, torn = placed_lot, {"what": "nobody knows"}
    usual = milling_in_lot.notes_of(lot), fit_in_lot.notes_of(lot)
    for name in (
        milling_in_lot.NOTE,
        fit_in_lot.NOTE,
        "marks-P01",
        "end-P01-A",
        "edge-P01",
        "piece",
    ):
        lot.set_note(name, torn, new_stamp(lot), "noted")
    assert (milling_in_lot.notes_of(lot), fit_in_lot.notes_of(lot)) == usual
    assert kept_marks(lot, "P01") is None
    assert end_in_lot.kept_end(lot, "P01", "A") is edge_in_lot.kept_edge(lot, "P01") is None
    assert piece_in_lot.kept_piece(lot) is None


def test_what_is_not_read_off_an_edge_or_end_is_said_or_left_out(placed_lot):
    bare = EdgeFacts(1500.0, (), None, None, doubts=("the light is flat",))
    kept = edge_in_lot.KeptEdge("P01", "a.jpg", "b.jpg", bare)
    assert edge_in_lot.edge_words(kept, "mm") == ("Doubt: the light is flat.",)
    assert end_in_lot.end_words(_end(), "mm") == ()
    assert to_document(kept)["facts"]["stations"] == []


def test_an_end_says_in_words_where_a_direction_is_not_sure_and_no_number_where_none_is_told():
    flat, faint, none = (RingStation(20.0, 8.0, u, "+") for u in (3.0, 9.0, UNTOLD_DEG))

    def words(*stations):
        facts = RingFacts("A", 150.0, 27.0, stations, None, None)
        return end_in_lot.end_words(replace(_end(), facts=facts), "mm")[1]

    told = "From the left in the picture: flatsawn (8 ± 3°), not sure (8 ± 9°), not sure."
    assert words(flat, faint, none) == told
    assert words(none, none) == "It is not sure how the rings run anywhere on this end."


def test_a_lot_without_a_layout_has_no_board_to_mark(empty_lot):
    assert boards_with_parts(empty_lot) == ()
    assert fit_in_lot.group_titles(empty_lot) == ()


def test_one_core_does_the_jobs_here():
    assert list(work_through(len, ["a", "bc"], cores=1)) == [1, 2]
    assert list(work_through(len, [], cores=2)) == []


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((), "there is no photo of face 1"),
        (("--all", "photos", "--id", "B07"), "--all takes its photos and names from the folder"),
        (("front.jpg", "--cores", "2"), "belong to --all"),
        (("--all", "photos", "--order", "any"), '--order: "any" is neither'),
        (("--all", "nowhere"), "is not a folder"),
    ],
)
def test_scan_says_which_of_its_options_do_not_go_together(capsys, monkeypatch, asked, said):
    ran = run(capsys, monkeypatch, "scan", *asked)
    assert ran.status == 2 and said in ran.err


def test_a_command_that_is_stopped_or_meets_a_full_disk_says_so(capsys, monkeypatch, tmp_path):
    def stop(*given, **more):
        raise KeyboardInterrupt

    def full(*given, **more):
        raise OSError(28, "No space left on device")

    for problem, status, said in ((stop, 130, "nothing half-written"), (full, 2, "disk is full")):
        monkeypatch.setattr("scanner.app.scanning.make_strip.make_strip", problem)
        ran = run(capsys, monkeypatch, "strip", "-o", tmp_path / "strip.pdf")
        assert ran.status == status and said in ran.err
