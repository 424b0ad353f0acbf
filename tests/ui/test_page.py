"""The page without a browser: first view, main errand, one error."""

import io
import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from threading import Event

import numpy as np
import pytest
from PIL import Image
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

import ui
from scanner.app.lot import add_board
from scanner.app.lot.open_lot import new_stamp, parts_of
from scanner.app.lot.parts_table import keep_table, set_units
from scanner.app.lot.propose_pairs import PhotoLook
from scanner.app.lot.take_parts_files import take_parts_files
from scanner.app.lot.trust_test import PHONES
from scanner.app.scanning.scan_board import ScanResult
from scanner.board.flaw import FlawState
from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.files.camera_profiles import PhoneProfile, write_profiles
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from tests import common
from tests.ui.made_results import write_results
from ui import apart, desks, limits, looks, photo_pairs, place, warp_drawings
from ui import sample as sample_lots
from ui.place import sample_lot
from ui.side_pages import SIDE_PAGES
from ui.uploads import BATTEN

_MAIN = Path(ui.__file__).with_name("main.py")
_PATIENCE_S = 240
# Streamlit reads about all installed packages whenever a page starts: once is enough here.
_find_components = cache(manifest_scanner.scan_component_manifests)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(place.HOME_VARIABLE, str(tmp_path))
    monkeypatch.delenv(place.LOT_VARIABLE, raising=False)
    monkeypatch.setattr(manifest_scanner, "scan_component_manifests", _find_components)
    # Placing the parts is the browser test's errand; here no worker is started.
    monkeypatch.setattr(desks.Desk, "place_again", lambda desk, seconds=0: None)
    monkeypatch.setattr(desks, "QUIET_S", 1e9)
    # Scans run in the page's own process here: the tests put a scan of their own in their place.
    monkeypatch.setattr(
        apart,
        "work_apart",
        lambda errand, path, *given, progress: errand(desks.desk_of(path).lot, *given, progress),
    )
    # So is looking at photos: tests/ui/test_photo_pairs.py says what they look like.
    monkeypatch.setattr(looks.Looks, "_want", lambda looks, key, photo: None)
    return tmp_path


def _page(home, **parameters):
    page = AppTest.from_file(str(_MAIN), default_timeout=_PATIENCE_S)
    for name, value in parameters.items():
        page.query_params[name] = value
    return page.run()


def _sent(page, name="board"):
    """Return the data that the board view (or the road: ``steps``) was given."""
    all_sent = [json.loads(one.proto.json)[0] for one in page.get("bidi_component")]
    return next(sent for sent in all_sent if name in sent)


def _go(page, step):
    return page.switch_page(f"views/{step}.py").run()


def _road(page):
    return {step["name"]: (step["state"], step["note"]) for step in _sent(page, "steps")["steps"]}


def _button(page, label):
    return next(button for button in page.button if button.label == label)


def _words(page):
    # What came from files is escaped for Markdown.
    return " ".join(_read(element.value) for element in page.markdown)


def _read(value):
    """Return words as they are read: without escapes, and with plain spaces in sizes."""
    return value.replace("\\", "").replace("\u00a0", " ")


@pytest.fixture
def sample(home):
    write_results(home / "out" / "demo")
    page = _page(home)
    return _button(page, "Open the sample lot").click().run()


def _errors(page):
    """Return what went wrong as it is read, without the marks that keep Markdown from it."""
    return [_read(error.value) for error in page.error]


def test_the_first_view_offers_a_way_to_begin(home):
    page = _page(home)
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert [field.label for field in page.text_input] == ["Name of the lot"]


def _begin(home, name):
    page = _page(home)
    page.text_input[0].set_value(name)
    return _button(page, "Begin the lot").click().run()


def test_a_lot_without_a_name_is_asked_for_one(home):
    page = _button(_page(home), "Begin the lot").click().run()
    assert _errors(page) == ["Give the lot a name first."]
    assert list(home.glob("*.lot")) == []


def test_a_new_lot_is_empty_and_says_what_comes_next(home):
    page = _begin(home, "hall bench")
    assert not page.exception
    assert page.title[0].value == "hall bench"
    assert _road(page) == {
        "parts": ("next", "none yet"),
        "boards": ("open", "none yet"),
        "flaws": ("open", "after the boards"),
        "layout": ("open", "not yet"),
        "cut": ("open", "after the layout"),
    }
    page = _go(page, "boards")
    assert "This lot is empty. Next: photograph both faces" in _words(page)
    assert (home / "hall bench.lot").stat().st_size > 0


def test_the_sample_lot_opens_with_one_tap(sample):
    assert not sample.exception
    assert sample.title[0].value == "demo"
    assert "1 of 2 boards looked over" in _words(sample)
    sent = _sent(sample)
    assert sent["board"]["id"] == "B01"
    assert [face["number"] for face in sent["faces"]] == [1, 2]
    assert len(sent["flaws"]) == 5 and len(sent["parts"]) == 5


@pytest.mark.slow
def test_whoever_waits_for_the_sample_boards_is_not_asked_for_parts(home, monkeypatch):
    ended = Event()
    monkeypatch.setattr(apart, "work_apart", lambda *asked, progress: ended.wait(_PATIENCE_S))
    page = _button(_page(home), "Open the sample lot").click().run()
    assert not page.exception
    assert _road(page)["parts"] == ("done", "27 wanted")
    assert "Each board shows here as soon as it is scanned." in _words(page)
    ended.set()


def test_a_sample_set_without_its_parts_list_is_said_to_lack_it(home, monkeypatch):
    monkeypatch.setattr(sample_lots, "find_samples", lambda: home)
    page = _button(_page(home), "Open the sample lot").click().run()
    assert not page.exception
    assert "there is no file" in _errors(page)[0] and "parts.csv" in _errors(page)[0]


@pytest.mark.parametrize("step", ["parts", "boards", "flaws", "layout", "cut"])
@pytest.mark.parametrize("lot", ["empty", "half", pytest.param("finished", marks=pytest.mark.slow)])
def test_every_step_opens_on_an_empty_a_half_done_and_a_finished_lot(home, step, lot):
    if lot == "empty":
        page = _begin(home, "hall bench")
    else:
        write_results(home / "out" / "demo")
        page = _button(_page(home), "Open the sample lot").click().run()
    if lot == "finished":
        _look_over_everything(page)
        desk = desks.desk_of(sample_lot()).lot
        desk.save_layout(desk.layout().layout, desk.revision)
    page = _go(page, step)
    assert not page.exception and not page.error
    assert _sent(page, "steps")["here"] == step
    mains = [button.label for button in page.button if button.proto.type == "primary"]
    # The board view, the parts table and the board maps' link are main buttons of their own.
    assert len(mains) <= 1 and (mains or lot != "empty" or step == "parts")


@pytest.mark.parametrize(
    "side",
    # Every third is enough where time counts.
    [
        pytest.param(side, id=side.name, marks=[pytest.mark.slow] if number % 3 else [])
        for number, side in enumerate(SIDE_PAGES)
    ],
)
@pytest.mark.parametrize("lot", [pytest.param("empty", marks=pytest.mark.slow), "half"])
def test_every_side_page_is_reached_from_its_step_and_leads_back(home, side, lot):
    if lot == "empty":
        page = _begin(home, "hall bench")
    else:
        write_results(home / "out" / "demo")
        page = _button(_page(home), "Open the sample lot").click().run()
    page = _go(page, side.beside)
    # A lot without boards has no use for most of them, but an old address still shows them.
    is_offered = lot != "empty" or side.needs == "nothing"
    assert is_offered == (side.title in [button.label for button in page.button])
    page = _button(page, side.title).click().run() if is_offered else _go(page, side.name)
    assert not page.exception and not page.error
    assert side.title in [header.value for header in page.header]
    assert _sent(page, "steps")["here"] == side.beside
    assert sum(button.proto.type == "primary" for button in page.button) <= 1
    back = next(button for button in page.button if button.label.startswith("Back to "))
    assert is_offered == (side.title in [button.label for button in back.click().run().button])


@pytest.fixture
def scanned(sample):
    """The sample lot as if a phone had scanned three boards of it."""
    lot = desks.desk_of(sample_lot()).lot
    third = replace(common.ash_board(), id="B03", length=Measured(2440.0, 4.0))
    lot.save_board(third, new_stamp(lot))
    ids = tuple(board.id for board in lot.boards())
    lens = LensEvidence(Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4), np.zeros(4))
    lot.folder.mkdir(exist_ok=True)
    write_profiles(lot.folder / PHONES, [PhoneProfile(lens, ids)])
    return _go(sample, "trust")


@pytest.mark.slow
def test_three_boards_are_held_against_the_tape_one_after_the_other(scanned):
    page, lot = scanned, desks.desk_of(sample_lot()).lot
    for count, board in enumerate(lot.boards()):
        assert f"{count} of 3 boards taped." in _words(page)
        field = next(one for one in page.text_input if one.label == f"Length of {board.id} by tape")
        page = field.set_value(f"{board.length.value_mm:.0f} mm").run()
    assert [said.value for said in page.success] == [
        "U held on all 3 boards taped so far with Maker Phone 7."
    ]
    assert "U held on all 3 boards" in _words(_go(page, "boards"))


def test_a_board_that_does_not_stand_the_tape_is_named_on_both_pages(scanned):
    field = next(one for one in scanned.text_input if one.label == "Length of B01 by tape")
    page = field.set_value("2300 mm").run()
    assert ["U did not hold on B01" in said.value for said in page.error] == [True]
    assert ["U did not hold on B01" in said.value for said in _go(page, "boards").error] == [True]


def test_a_finished_lot_is_done_up_to_the_cutting(sample):
    _look_over_everything(sample)
    lot = desks.desk_of(sample_lot()).lot
    lot.save_layout(lot.layout().layout, lot.revision)
    page = _go(sample, "cut")
    states = {name: state for name, (state, _) in _road(page).items()}
    assert states == {
        "parts": "done", "boards": "done", "flaws": "done", "layout": "done", "cut": "next",
    }  # fmt: skip
    links = [link.proto.url for link in page.get("link_button")]
    assert links == ["/board-maps/demo?kind=pdf", "/board-maps/demo?kind=zip", "/story-sticks/demo"]


@pytest.mark.slow
def test_a_story_stick_may_be_used_only_once_its_line_was_measured(sample):
    _look_over_everything(sample)
    lot = desks.desk_of(sample_lot()).lot
    lot.save_layout(lot.layout().layout, lot.revision)
    page = _go(sample, "cut")
    assert any("Not to be used yet" in text.value for text in page.markdown)
    page = page.text_input[0].set_value("250 mm").run()
    assert [said.value for said in page.success] == ["The print is true: the stick may be used."]
    page = page.text_input[0].set_value("248.5 mm").run()
    assert "0.6 % too short" in page.error[0].value
    links = [link.proto.url for link in page.get("link_button")]
    assert "/story-sticks/demo?measured=248.5" in links
    page = page.text_input[0].set_value("9 in").run()
    assert "the page was scaled" in page.error[0].value


def test_a_tap_on_the_road_goes_to_the_step_once(sample):
    sample.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    page = sample.run()
    assert _sent(page, "steps")["here"] == "layout"
    page = _go(page, "boards")
    page.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    assert _sent(page.run(), "steps")["here"] == "boards"


def test_a_run_that_comes_between_a_tap_and_its_page_does_not_lose_the_tap(sample):
    # The browser asked for the old page once more before it heard of the new one.
    sample.session_state["going-to"] = ("layout", {"lot": "demo"})
    page = sample.run()
    assert _sent(page, "steps")["here"] == "layout"
    assert "going-to" not in page.session_state


def test_a_wish_of_an_earlier_visit_is_not_followed(sample, home):
    # What a browser tells a restarted server: where it once wanted to go.
    page = AppTest.from_file(str(_MAIN), default_timeout=_PATIENCE_S)
    page.query_params["lot"] = "demo"
    page.session_state["road"] = {"page": {"n": "1", "name": "layout"}}
    assert _sent(page.run(), "steps")["here"] == "flaws"


def test_what_was_said_before_the_page_was_left_arrives_from_the_next(sample):
    page = _go(sample, "layout")
    lot = desks.desk_of(sample_lot()).lot
    op = {
        "id": "window-a-1", "client": "window-a", "base": lot.revision,
        "verb": "strike", "board": "B01", "flaw": "F5",
    }  # fmt: skip
    page.session_state["road"] = {"outbox": {"n": "1", "ops": [op]}}
    page.run()
    struck = next(flaw for flaw in lot.board("B01").flaws if flaw.id == "F5")
    assert struck.state is FlawState.STRUCK
    assert _sent(page, "steps")["answers"] == ["window-a-1"]


def _write(page, what, rows, number="1"):
    page.session_state["parts-table"] = {what: {"n": number, "rows": rows}}
    return page.run()


_RAIL = {"name": "rail", "quantity": "2", "length": "24 in", "width": "70", "thickness": "19",
         "faces": "both"}  # fmt: skip


def test_a_row_being_written_shows_its_rough_size_and_is_not_kept(home):
    page = _write(_begin(home, "hall bench"), "table", [_RAIL])
    reading = _sent(page, "reading")["reading"]
    assert reading["rough"] == ["635 \u00d7 82 mm"]
    assert desks.desk_of(home / "hall bench.lot").lot.parts_text() is None


def test_a_mistake_is_said_for_its_cell(home):
    page = _write(_begin(home, "hall bench"), "table", [_RAIL | {"length": "24 im"}])
    (mistake,) = _sent(page, "reading")["reading"]["mistakes"]
    assert (mistake["row"], mistake["column"]) == (0, "length")
    assert "24 im" in mistake["what"]


@pytest.mark.slow
def test_a_drawing_is_shown_with_its_size_and_may_be_taken_out(sample):
    lot = desks.desk_of(sample_lot()).lot
    shape = {"outline": [[0, 0], [400, 0], [0, 100]], "grain": [[0, 0], [1, 0]]}
    take_parts_files(lot, {"wedge.json": json.dumps(shape)})
    page = _go(sample, "parts")
    assert "shape" in _sent(page, "columns")["columns"]
    assert "wedge.json**, 400 × 100 mm: no part has it yet" in _words(page)
    page = _button(page, "Take wedge.json out").click().run()
    assert "wedge.json" not in _words(page) and lot.drawings() == {}


def test_units_change_what_a_bare_figure_means_and_not_what_was_said(home):
    page = _begin(home, "hall bench")
    lot = desks.desk_of(home / "hall bench.lot").lot
    keep_table(lot, [_RAIL])
    page = _go(page, "parts")
    page.radio[0].set_value("inches").run()
    assert lot.shop().units == "inch" and lot.shop().length_allowance_mm == 25.4
    assert [(round(part.length_mm, 6), part.width_mm) for part in parts_of(lot)] == [(609.6, 70)]


def test_the_shops_own_allowance_changes_the_rough_size_of_every_part(home):
    page = _begin(home, "hall bench")
    keep_table(desks.desk_of(home / "hall bench.lot").lot, [_RAIL])
    page = _keep_size(page.run(), "On the length", "40")
    assert not page.exception and not page.error
    assert _sent(page, "reading")["reading"]["rough"] == ["650 \u00d7 82 mm"]
    # A slip keeps nothing, and the field is named.
    page = _keep_size(page, "Saw kerf", "30")
    assert _errors(page) == ["Saw kerf: 30 is too much: write 20 mm or less."]


def _keep_size(page, label, typed):
    next(field for field in page.text_input if field.label == label).set_value(typed)
    return _button(page, "Keep these sizes").click().run()


def test_a_board_is_taken_out_and_comes_back_by_undo(sample):
    page = _go(sample, "boards")
    page = _button(page, "Take B02 out").click().run()
    lot = desks.desk_of(sample_lot()).lot
    assert [board.id for board in lot.boards()] == ["B01"]
    page = _button(page, "Undo: took out board B02").click().run()
    assert [board.id for board in lot.boards()] == ["B01", "B02"]
    assert not page.exception and not page.error


@pytest.mark.slow
def test_a_tap_just_as_a_scan_ends_is_heard(sample):
    page = _go(sample, "boards")
    desk = desks.desk_of(sample_lot())
    desk.job = desks.Job("Scanning", lambda report: None)
    desk.job.wait(_PATIENCE_S)
    page = _button(page, "Take B02 out").click().run()
    assert [board.id for board in desk.lot.boards()] == ["B01"]
    assert desk.job is None and not page.exception


@pytest.mark.slow
@pytest.mark.parametrize("step", ["flaws", "layout", "cut"])
def test_a_tap_just_as_the_layout_is_ready_is_heard(sample, step, monkeypatch):
    page = _go(sample, step)
    side = next(one for one in SIDE_PAGES if one.beside == step or step == "flaws")
    # It was being made as the page began to be drawn, and is there one line further down.
    goes_on = iter([True])
    monkeypatch.setattr(desks.Desk, "follow", lambda desk: next(goes_on, False))
    button = "Go on to the layout" if step == "flaws" else side.title
    page = _button(page, button).click().run()
    there = _sent(page, "steps")["here"], [one.value for one in page.header]
    assert there == (("layout", []) if step == "flaws" else (step, [side.title]))


def test_a_page_started_by_the_demo_shows_what_the_demo_made(home, monkeypatch):
    results = write_results(home / "elsewhere")
    monkeypatch.setenv(place.LOT_VARIABLE, str(results / "demo.lot"))
    page = _page(home)
    assert not page.exception
    assert "1 of 2 boards looked over" in _words(page)


def test_what_the_browser_sends_is_kept_and_answered(sample):
    lot = desks.desk_of(sample_lot()).lot
    op = {
        "id": "window-a-1", "client": "window-a", "base": lot.revision,
        "verb": "strike", "board": "B01", "flaw": "F5",
    }  # fmt: skip
    sample.session_state["board-view"] = {"outbox": {"n": "1", "ops": [op]}}
    sample.run()
    assert not sample.exception
    struck = next(flaw for flaw in lot.board("B01").flaws if flaw.id == "F5")
    assert struck.state is FlawState.STRUCK
    sent = _sent(sample)
    assert [answer["status"] for answer in sent["answers"]] == ["done"]
    assert sent["undo"] == "B01: F5 is no flaw"
    assert "the parts are being placed again" in _words(sample)


def _look_over_everything(page):
    lot = desks.desk_of(sample_lot()).lot
    ops = [
        {"id": f"window-a-{face}", "client": "window-a", "base": lot.revision,
         "verb": "look_over", "board": "B01", "face": face}
        for face in (1, 2)
    ]  # fmt: skip
    page.session_state["board-view"] = {"outbox": {"n": "1", "ops": ops}}
    page.run()


def test_a_finished_lot_says_so(sample):
    _look_over_everything(sample)
    assert "2 of 2 boards looked over" in _words(sample)
    assert "Every board is looked over" in _words(sample)


def test_a_board_not_looked_over_is_named_beside_the_layout(sample):
    assert "Not looked over: B01." in _words(_go(sample, "layout"))


def test_a_file_that_is_no_lot_is_said_in_one_sentence(home):
    (home / "broken.lot").write_bytes(b"these are not the bytes of a lot")
    page = _page(home, lot="broken")
    assert not page.exception
    assert _errors(page) == ["broken.lot is no lot file: choose a lot that was made here."]


def test_a_scan_without_a_photo_is_refused(home):
    page = _go(_begin(home, "empty one"), "boards")
    page = _button(page, "Scan this board").click().run()
    assert [error.value for error in page.error] == [
        "There is no photo of face 1: choose or take one, then scan."
    ]


@pytest.fixture
def empty(home):
    page = _go(_begin(home, "hall bench"), "boards")
    return _choose(page, "front.jpg", "back.jpg")


def _choose(page, *names):
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), (150, 120, 90)).save(picture, "JPEG")
    page.file_uploader[0].set_value([(name, picture.getvalue(), "image/jpeg") for name in names])
    return page.run()


@pytest.mark.slow
def test_a_photo_over_the_limit_is_refused_in_a_sentence(empty, home, monkeypatch):
    assert add_board.MOST_PHOTO_BYTES == limits.PHOTO_MB * 1_000_000
    monkeypatch.setattr(add_board, "MOST_PHOTO_BYTES", 300)
    page = _scan_all(empty, home, "Scan this board")
    assert "more than the page takes: choose a photo under" in _errors(page)[0]
    assert desks.desk_of(home / "hall bench.lot").lot.boards() == ()


def test_a_parts_list_over_the_limit_is_refused_in_a_sentence(home, monkeypatch):
    page = _go(_begin(home, "hall bench"), "parts")
    huge = b"name,quantity\n" + b" " * (limits.PARTS_MB * 1_000_000)
    page.file_uploader[0].set_value(("huge.csv", huge, "text/csv"))
    page = page.run()
    assert _errors(page) == ["huge.csv is more than a parts list takes: choose one under 5 MB."]
    assert desks.desk_of(home / "hall bench.lot").lot.parts_text() is None


def test_how_bow_cup_and_twist_are_measured_is_drawn_where_they_are_asked_for(empty):
    toggle = next(one for one in empty.toggle if one.label == "Measured bow, cup or twist")
    page = toggle.set_value(True).run()
    assert not page.exception
    asked = [one.label.split(" ")[0].lower() for one in page.text_input]
    drawn = " ".join(str(one.proto) for one in page.get("image"))
    for kind, words in warp_drawings.WORDS.items():
        assert kind in asked and words in _words(page)
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
def test_a_tap_just_as_a_photo_was_looked_at_is_heard(empty, monkeypatch):
    # Five looks come in between one line of the page and the next.
    done = iter(range(1, 6))
    monkeypatch.setattr(looks.Looks, "done", property(lambda looks: next(done, 6)))
    page = _button(empty, "Swap the faces").click().run()
    assert "Board 1: face 1 back.jpg, face 2 front.jpg" in _words(page)


def _scan_all(page, home, label):
    page = _button(page, label).click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(_PATIENCE_S)
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
    page = _button(empty, "Scan this board").click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(_PATIENCE_S)
    page.run()
    assert not page.exception and not page.error
    assert "0 of 1 board looked over" in _words(page)
    assert _sent(_go(page, "flaws"))["board"]["head"].startswith("walnut")
    assert len(desk.lot.photos("B01")) == 2


def test_a_scan_that_fails_says_why_and_keeps_the_photos(empty, home, monkeypatch):
    def scan(request, folder, progress):
        raise PhotoError("No rule found in front.jpg", "lay one beside the board")

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    page = _button(empty, "Scan this board").click().run()
    desk = desks.desk_of(home / "hall bench.lot")
    if desk.job is not None:
        desk.job.wait(_PATIENCE_S)
    page.run()
    assert _errors(page) == ["No rule found in front.jpg: lay one beside the board."]
    assert len(page.file_uploader[0].value) == 2
    assert not _button(page, "Scan this board").disabled


def test_a_size_that_cannot_be_read_is_said_before_a_scan_begins(empty, home):
    batten = next(field for field in empty.text_input if field.label == BATTEN)
    # Three quarters of a millimetre under a strip would make every length wrong by a per cent.
    batten.set_value("3/4")
    page = _button(empty, "Scan this board").click().run()
    assert _errors(page) == ["batten: '3/4' has no unit: write \"3/4 in\"."]
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


def test_wood_that_nobody_looked_over_is_not_what_to_cut_next(sample):
    page = _go(sample, "layout")
    main = next(button for button in page.button if button.proto.type == "primary")
    assert main.label == "Look over B01 first"
    assert not _button(page, "Go on to cutting").disabled
    page = main.click().run()
    assert _sent(page, "steps")["here"] == "flaws" and _sent(page)["board"]["id"] == "B01"


def test_an_address_never_opens_a_file_outside_the_known_lots(home):
    page = _page(home, lot="../../etc/passwd")
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert "lies in this folder" in _errors(page)[0]


def test_a_lot_whose_file_was_taken_away_is_said_to_be_gone(home):
    page = _begin(home, "hall bench")
    (home / "hall bench.lot").unlink()
    page.run()
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert 'No lot "hall bench" lies in this folder' in _errors(page)[0]


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
    page = _choose(empty, "1.jpg", "2.jpg", "3.jpg", "1b.jpg", "2b.jpg", "3b.jpg")
    order = next(radio for radio in page.radio if radio.label == "The photos come as")
    page = order.set_value("all faces 1, then all faces 2").run()
    assert "Board 2: face 1 2.jpg, face 2 2b.jpg" in _words(page)
    page = _scan_all(page, home, "Scan these 3 boards")
    # The second could not be scanned: the third was nevertheless, and only the second is left.
    lot = desks.desk_of(home / "hall bench.lot").lot
    assert [board.id for board in lot.boards()] == ["B01", "B02"]
    assert _errors(page) == ["No rule found in 2.jpg: lay one beside the board."]
    assert "Board 1: face 1 2.jpg, face 2 2b.jpg" in _words(page)
    page = _scan_all(_button(page, "Understood").click().run(), home, "Scan this board")
    assert [board.id for board in lot.boards()] == ["B01", "B02", "B03"]
    assert page.file_uploader[0].value == [] and not page.error


@pytest.mark.slow
def test_each_face_taken_twice_is_scanned_from_both_its_photos(empty, home, monkeypatch):
    asked = []

    def scan(request, folder, progress):
        asked.append((len(request.photos_1), len(request.photos_2)))
        return ScanResult(common.ash_board(request.id), folder, ())

    monkeypatch.setattr("scanner.app.lot.add_board.scan_board", scan)
    page = _choose(empty, "1.jpg", "1 again.jpg", "2.jpg", "2 again.jpg")
    order = next(radio for radio in page.radio if radio.label == "The photos come as")
    page = order.set_value("each face twice: face 1, face 1, face 2, face 2").run()
    assert "Board 1: face 1 1.jpg and 1 again.jpg, face 2 2.jpg and 2 again.jpg" in _words(page)
    page = _scan_all(page, home, "Scan this board")
    assert asked == [(2, 2)]
    assert [
        len(photos) for photos in desks.desk_of(home / "hall bench.lot").lot.photos("B01").values()
    ] == [2, 2]


def test_a_photo_may_be_put_to_another_board(empty, home):
    page = _choose(empty, "1.jpg", "1b.jpg", "2.jpg", "2b.jpg")
    place = next(one for one in page.selectbox if one.label == "2b.jpg shows")
    page = place.set_value((0, 2)).run()
    assert "Board 1: face 1 1.jpg, face 2 1b.jpg and 2b.jpg" in _words(page)
    assert "Board 2: face 1 2.jpg, face 2 is missing" in _words(page)


def test_a_taped_length_is_kept_at_its_board_and_the_field_is_empty_again(sample):
    page = _go(sample, "boards")
    field = next(one for one in page.text_input if one.label == "Length of B01 by tape")
    page = field.set_value("2400 mm").run()
    assert "do not agree" in _words(page)
    field = next(one for one in page.text_input if one.label == "Length of B01 by tape")
    assert field.value == ""
    page = field.set_value("rather long").run()
    assert len(page.error) == 1
