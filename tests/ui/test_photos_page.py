"""Photos become boards on the page: chosen, paired, scanned, refused; without a browser."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from scanner.app.lot import add_board
from scanner.app.lot.parts_table import set_units
from scanner.app.lot.propose_pairs import PhotoLook
from scanner.app.scanning.scan_board import ScanResult
from scanner.errors import PhotoError
from tests import common
from tests.ui.page_runs import (
    PATIENCE_S,
    begun,
    button_of,
    choose_photos,
    errors_of,
    go_to,
    sent_to,
    words_of,
)
from ui import desks, limits, looks, photo_pairs, warp_drawings
from ui.uploads import BATTEN


def test_a_scan_without_a_photo_is_refused(home):
    page = go_to(begun(home, "empty one"), "boards")
    page = button_of(page, "Scan this board").click().run()
    assert [error.value for error in page.error] == [
        "There is no photo of face 1: choose or take one, then scan."
    ]


@pytest.fixture
def empty(home):
    page = go_to(begun(home, "hall bench"), "boards")
    return choose_photos(page, "front.jpg", "back.jpg")


@pytest.mark.slow
def test_a_photo_over_the_limit_is_refused_in_a_sentence(empty, home, monkeypatch):
    assert add_board.MOST_PHOTO_BYTES == limits.PHOTO_MB * 1_000_000
    monkeypatch.setattr(add_board, "MOST_PHOTO_BYTES", 300)
    page = _scan_all(empty, home, "Scan this board")
    assert "more than the page takes: choose a photo under" in errors_of(page)[0]
    assert desks.desk_of(home / "hall bench.lot").lot.boards() == ()


def test_how_bow_cup_and_twist_are_measured_is_drawn_where_they_are_asked_for(empty):
    toggle = next(one for one in empty.toggle if one.label == "Measured bow, cup or twist")
    page = toggle.set_value(True).run()
    assert not page.exception
    asked = [one.label.split(" ")[0].lower() for one in page.text_input]
    drawn = " ".join(str(one.proto) for one in page.get("image"))
    for kind, words in warp_drawings.WORDS.items():
        assert kind in asked and words in words_of(page)
        assert drawn.count(f"How to measure {kind}") == 1


@pytest.mark.slow
def test_the_rule_found_is_drawn_on_the_photo_shown(empty, monkeypatch):
    shown = []
    monkeypatch.setattr(photo_pairs, "thumbnail", lambda photo, rule=(): shown.append(rule))
    rule_px = ((5.0, 5.0), (50.0, 5.0), (50.0, 9.0), (5.0, 9.0))
    found = PhotoLook(None, rule_px, "This photo will do.", will_do=True, advice=())
    monkeypatch.setattr(looks.Looks, "look_of", lambda looks, photo, rule: found)
    page = empty.run()
    assert not page.exception
    # tests/app/test_add_boards.py says that these corners are drawn.
    assert shown == [rule_px, rule_px]


@pytest.mark.slow
def test_each_photo_shown_says_which_face_it_is_taken_for(empty, monkeypatch):
    small = io.BytesIO()
    Image.new("RGB", (8, 6)).save(small, "PNG")
    monkeypatch.setattr(photo_pairs, "thumbnail", lambda photo, rule=(): small.getvalue())
    page = empty.run()
    assert not page.exception
    captions = [one.caption for shown in page.get("image") for one in shown.proto.imgs]
    assert [said for said in captions if said] == ["face 1", "face 2"]


@pytest.mark.slow
def test_a_tap_just_as_a_photo_was_looked_at_is_heard(empty, monkeypatch):
    # Five looks come in between one line of the page and the next.
    done = iter(range(1, 6))
    monkeypatch.setattr(looks.Looks, "done", property(lambda looks: next(done, 6)))
    page = button_of(empty, "Swap the faces").click().run()
    assert "Board 1: face 1 back.jpg, face 2 front.jpg" in words_of(page)


def _scan_all(page, home, label):
    page = button_of(page, label).click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(PATIENCE_S)
    return page.run()


def test_two_photos_become_a_board(empty, home, monkeypatch):
    def scan(request, folder, progress):
        # A strip on a batten that is not told of would make every length too short.
        assert request.batten_mm == 26.0
        board = replace(common.ash_board(request.id), species=request.species)
        for number in board.faces:
            common.flat_picture(board, number).save(folder / f"{request.id}-face{number}.jpg")
        return ScanResult(board, folder, ())

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    next(field for field in empty.text_input if field.label == "Species").set_value("walnut")
    next(field for field in empty.text_input if field.label == BATTEN).set_value("26 mm")
    page = button_of(empty, "Scan this board").click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(PATIENCE_S)
    page.run()
    assert not page.exception and not page.error
    assert "0 of 1 board looked over" in words_of(page)
    assert sent_to(go_to(page, "flaws"))["board"]["head"].startswith("walnut")
    assert len(desk.lot.photos("B01")) == 2


def test_a_scan_that_fails_says_why_and_keeps_the_photos(empty, home, monkeypatch):
    def scan(request, folder, progress):
        raise PhotoError("No rule found in front.jpg", "lay one beside the board")

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    page = button_of(empty, "Scan this board").click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(PATIENCE_S)
    page.run()
    assert errors_of(page) == ["No rule found in front.jpg: lay one beside the board."]
    assert len(page.file_uploader[0].value) == 2
    assert not button_of(page, "Scan this board").disabled


def test_a_size_that_cannot_be_read_is_said_before_a_scan_begins(empty, home):
    batten = next(field for field in empty.text_input if field.label == BATTEN)
    # Three quarters of a millimetre under a strip would make every length wrong by a per cent.
    batten.set_value("3/4")
    page = button_of(empty, "Scan this board").click().run()
    assert errors_of(page) == ["batten: '3/4' has no unit: write \"3/4 in\"."]
    assert desks.desk_of(home / "hall bench.lot").job is None


def test_a_bare_figure_beside_a_photo_is_inches_in_a_lot_of_inches(empty, home, monkeypatch):
    lot = desks.desk_of(home / "hall bench.lot").lot
    set_units(lot, "inch")
    asked = []

    def scan(request, folder, progress):
        asked.append((request.batten_mm, request.strip_taped.value_mm, request.thickness.value_mm))
        return ScanResult(common.ash_board(request.id), folder, ())

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    typed = {BATTEN: "3/4", "Length of the strip as taped (may be left empty)": "98 1/2",
             "Thickness (4/4, 1 1/16 in or 27 mm)": "1 1/16"}  # fmt: skip
    page = empty.run()
    for label, text in typed.items():
        next(field for field in page.text_input if field.label == label).set_value(text)
    _scan_all(page, home, "Scan this board")
    assert asked == [pytest.approx((19.05, 2501.9, 26.9875))]


@pytest.mark.slow
def test_a_stack_shot_from_one_side_and_then_from_the_other_becomes_its_boards(
    empty, home, monkeypatch
):
    scanned = []

    def scan(request, folder, progress):
        lot = desks.desk_of(home / "hall bench.lot").lot
        stored = {picture: name for picture, name in lot._connection.execute(
            "SELECT file, name FROM picture")}  # fmt: skip
        scanned.append((request.id, len(stored)))
        if request.id == "B02" and len(scanned) == 2:
            raise PhotoError("No rule found in 2.jpg", "lay one beside the board")
        return ScanResult(common.ash_board(request.id), folder, ())

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    page = choose_photos(empty, "1.jpg", "2.jpg", "3.jpg", "1b.jpg", "2b.jpg", "3b.jpg")
    order = next(radio for radio in page.radio if radio.label == "The photos come as")
    page = order.set_value("all faces 1, then all faces 2").run()
    assert "Board 2: face 1 2.jpg, face 2 2b.jpg" in words_of(page)
    page = _scan_all(page, home, "Scan these 3 boards")
    # The second could not be scanned: the third was nevertheless, and only the second is left.
    lot = desks.desk_of(home / "hall bench.lot").lot
    assert [board.id for board in lot.boards()] == ["B01", "B02"]
    assert errors_of(page) == ["No rule found in 2.jpg: lay one beside the board."]
    assert "Board 1: face 1 2.jpg, face 2 2b.jpg" in words_of(page)
    page = _scan_all(button_of(page, "Understood").click().run(), home, "Scan this board")
    assert [board.id for board in lot.boards()] == ["B01", "B02", "B03"]
    assert page.file_uploader[0].value == [] and not page.error


@pytest.mark.slow
def test_each_face_taken_twice_is_scanned_from_both_its_photos(empty, home, monkeypatch):
    asked = []

    def scan(request, folder, progress):
        asked.append((len(request.photos_1), len(request.photos_2)))
        return ScanResult(common.ash_board(request.id), folder, ())

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    page = choose_photos(empty, "1.jpg", "1 again.jpg", "2.jpg", "2 again.jpg")
    order = next(radio for radio in page.radio if radio.label == "The photos come as")
    page = order.set_value("each face twice: face 1, face 1, face 2, face 2").run()
    assert "Board 1: face 1 1.jpg and 1 again.jpg, face 2 2.jpg and 2 again.jpg" in words_of(page)
    page = _scan_all(page, home, "Scan this board")
    assert asked == [(2, 2)]
    assert [
        len(photos) for photos in desks.desk_of(home / "hall bench.lot").lot.photos("B01").values()
    ] == [2, 2]


def test_a_photo_may_be_put_to_another_board(empty, home):
    page = choose_photos(empty, "1.jpg", "1b.jpg", "2.jpg", "2b.jpg")
    place = next(one for one in page.selectbox if one.label == "2b.jpg shows")
    page = place.set_value((0, 2)).run()
    assert "Board 1: face 1 1.jpg, face 2 1b.jpg and 2b.jpg" in words_of(page)
    assert "Board 2: face 1 2.jpg, face 2 is missing" in words_of(page)


@pytest.mark.parametrize("seen", ["no strip", "a strip", "not looked at yet"])
def test_whoever_lays_a_plain_rule_there_says_so_with_one_tap_below_the_photos(
    empty, monkeypatch, seen
):
    strip = ((5.0, 5.0), (50.0, 5.0), (50.0, 9.0), (5.0, 9.0)) if seen == "a strip" else ()
    found = PhotoLook(None, strip, "This photo will not do.", will_do=False, advice=())
    look = None if seen == "not looked at yet" else found
    monkeypatch.setattr(looks.Looks, "look_of", lambda looks, photo, rule: look)
    page = empty.run()
    offered = [one for one in page.button if one.label == "A plain rule lies there"]
    assert bool(offered) == (seen == "no strip")
    if not offered:
        return
    page = offered[0].click().run()
    beside = next(one for one in page.radio if one.label == "What lies beside the board?")
    assert beside.value == "a plain rule"
    assert "Length of the rule" in [one.label for one in page.text_input]
    assert "A plain rule lies there" not in [one.label for one in page.button]
    # It stands after a look elsewhere, as if it had been chosen above.
    page = go_to(go_to(page, "help"), "boards")
    beside = next(one for one in page.radio if one.label == "What lies beside the board?")
    assert beside.value == "a plain rule"
