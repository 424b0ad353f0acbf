"""The page without a browser: first view, every step and side page, lots that cannot be opened."""

from threading import Event

import pytest

from tests.ui.made_results import write_results
from tests.ui.page_runs import (
    PATIENCE_S,
    begun,
    button_of,
    errors_of,
    go_to,
    look_over_everything,
    page_at,
    road_of,
    sent_to,
    words_of,
)
from ui import apart, desks, place
from ui import sample as sample_lots
from ui.place import sample_lot
from ui.side_pages import SIDE_PAGES


def test_the_first_view_offers_a_way_to_begin(home):
    page = page_at(home)
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert [field.label for field in page.text_input] == ["Name of the lot"]


def test_a_lot_without_a_name_is_asked_for_one(home):
    page = button_of(page_at(home), "Begin the lot").click().run()
    assert errors_of(page) == ["Give the lot a name first."]
    assert list(home.glob("*.lot")) == []


def test_a_new_lot_is_empty_and_says_what_comes_next(home):
    page = begun(home, "hall bench")
    assert not page.exception
    assert page.title[0].value == "hall bench"
    assert road_of(page) == {
        "parts": ("next", "none yet"),
        "boards": ("open", "none yet"),
        "flaws": ("open", "after the boards"),
        "layout": ("open", "not yet"),
        "cut": ("open", "after the layout"),
    }
    page = go_to(page, "boards")
    assert "This lot is empty. Next: photograph both faces" in words_of(page)
    assert (home / "hall bench.lot").stat().st_size > 0


def test_the_sample_lot_opens_with_one_tap(sample):
    assert not sample.exception
    assert sample.title[0].value == "demo"
    assert "1 of 2 boards looked over" in words_of(sample)
    sent = sent_to(sample)
    assert sent["board"]["id"] == "B01"
    assert [face["number"] for face in sent["faces"]] == [1, 2]
    assert len(sent["flaws"]) == 5 and len(sent["parts"]) == 5


@pytest.mark.slow
def test_whoever_waits_for_the_sample_boards_is_not_asked_for_parts(home, monkeypatch):
    ended = Event()
    monkeypatch.setattr(apart, "work_apart", lambda *asked, progress: ended.wait(PATIENCE_S))
    page = button_of(page_at(home), "Open the sample lot").click().run()
    assert not page.exception
    assert road_of(page)["parts"] == ("done", "27 wanted")
    assert "Each board shows here as soon as it is scanned." in words_of(page)
    ended.set()


def test_a_sample_set_without_its_parts_list_is_said_to_lack_it(home, monkeypatch):
    monkeypatch.setattr(sample_lots, "find_samples", lambda: home)
    page = button_of(page_at(home), "Open the sample lot").click().run()
    assert not page.exception
    assert "there is no file" in errors_of(page)[0] and "parts.csv" in errors_of(page)[0]


@pytest.mark.parametrize("step", ["parts", "boards", "flaws", "layout", "cut"])
@pytest.mark.parametrize("lot", ["empty", "half", pytest.param("finished", marks=pytest.mark.slow)])
def test_every_step_opens_on_an_empty_a_half_done_and_a_finished_lot(home, step, lot):
    if lot == "empty":
        page = begun(home, "hall bench")
    else:
        write_results(home / "out" / "demo")
        page = button_of(page_at(home), "Open the sample lot").click().run()
    if lot == "finished":
        look_over_everything(page)
        desk = desks.desk_of(sample_lot()).lot
        desk.save_layout(desk.layout().layout, desk.revision)
    page = go_to(page, step)
    assert not page.exception and not page.error
    assert sent_to(page, "steps")["here"] == step
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
        page = begun(home, "hall bench")
    else:
        write_results(home / "out" / "demo")
        page = button_of(page_at(home), "Open the sample lot").click().run()
    page = go_to(page, side.beside)
    # A lot without boards has no use for most of them, but an old address still shows them.
    is_offered = lot != "empty" or side.needs == "nothing"
    assert is_offered == (side.title in [button.label for button in page.button])
    page = button_of(page, side.title).click().run() if is_offered else go_to(page, side.name)
    assert not page.exception and not page.error
    assert side.title in [header.value for header in page.header]
    assert sent_to(page, "steps")["here"] == side.beside
    assert sum(button.proto.type == "primary" for button in page.button) <= 1
    back = next(button for button in page.button if button.label.startswith("Back to "))
    assert is_offered == (side.title in [button.label for button in back.click().run().button])


def test_a_page_started_by_the_demo_shows_what_the_demo_made(home, monkeypatch):
    results = write_results(home / "elsewhere")
    monkeypatch.setenv(place.LOT_VARIABLE, str(results / "demo.lot"))
    page = page_at(home)
    assert not page.exception
    assert "1 of 2 boards looked over" in words_of(page)


def test_a_file_that_is_no_lot_is_said_in_one_sentence(home):
    (home / "broken.lot").write_bytes(b"these are not the bytes of a lot")
    page = page_at(home, lot="broken")
    assert not page.exception
    assert errors_of(page) == ["broken.lot is no lot file: choose a lot that was made here."]


def test_an_address_never_opens_a_file_outside_the_known_lots(home):
    page = page_at(home, lot="../../etc/passwd")
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert "lies in this folder" in errors_of(page)[0]


def test_a_lot_whose_file_was_taken_away_is_said_to_be_gone(home):
    page = begun(home, "hall bench")
    (home / "hall bench.lot").unlink()
    page.run()
    assert not page.exception
    assert page.title[0].value == "Both faces of every board"
    assert 'No lot "hall bench" lies in this folder' in errors_of(page)[0]
