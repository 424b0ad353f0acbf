"""The pages beside the steps for what comes before and after the cut."""

import threading
from dataclasses import replace

import pytest

from scanner.app.buying import buy_wood, choose_boards
from scanner.app.buying.choose_boards import kept_choice
from scanner.app.lot.open_lot import new_stamp, set_parts
from tests.ui.made_results import PARTS
from tests.ui.page_runs import begun, button_of, go_to, words_of
from tests.ui.test_downloads import _get
from tests.ui.test_second_look import lot, text_in  # noqa: F401 (a fixture)
from ui import desks
from ui.downloads import boards_list_url, yard_card_url
from ui.place import sample_lot, stock_folder


def finished(lot):  # noqa: F811
    job = desks.desk_of(lot.path).job
    job.wait(240)
    assert job.problem is None


@pytest.mark.slow
def test_what_to_buy_is_worked_out_and_forgotten_with_the_list(sample, lot, monkeypatch):  # noqa: F811
    monkeypatch.setattr(buy_wood, "_TRIALS", 10)
    monkeypatch.setattr(buy_wood, "work_through", lambda task, jobs, **where: map(task, jobs))
    page = go_to(sample, "buying")
    assert not page.exception
    page = button_of(page, "Work it out").click().run()
    finished(lot)
    page = page.run()
    assert not page.exception
    assert "for a 90 % chance that all fits" in words_of(page)
    assert buy_wood.kept_buying(lot).picture.startswith(b"\x89PNG")
    # Rough sizes follow from the shop's settings: with others the answer is no answer any more.
    lot.set_shop(replace(lot.shop(), width_allowance_mm=30.0), new_stamp(lot))
    assert buy_wood.kept_buying(lot) is None
    assert lot.undo(new_stamp(lot))
    assert buy_wood.kept_buying(lot) is not None
    set_parts(lot, "name,quantity,length,width,thickness,faces\nslat,1,500,60,20,both\n", "p.csv")
    assert buy_wood.kept_buying(lot) is None


@pytest.mark.slow
def test_working_out_what_to_buy_is_stopped_by_a_tap_and_keeps_nothing(sample, lot, monkeypatch):  # noqa: F811
    go_on = threading.Event()

    def one_by_one(task, jobs, **where):
        for job in jobs:
            yield task(job)
            go_on.wait(60)

    monkeypatch.setattr(buy_wood, "_TRIALS", 10)
    monkeypatch.setattr(buy_wood, "work_through", one_by_one)
    page = button_of(go_to(sample, "buying"), "Work it out").click().run()
    page = button_of(page, "Stop").click().run()
    go_on.set()
    finished(lot)
    page = page.run()
    assert not page.exception and buy_wood.kept_buying(lot) is None
    assert not button_of(page, "Work it out").disabled


@pytest.mark.slow
def test_how_a_wide_part_moves_is_said_by_the_handbook(sample):
    page = go_to(sample, "buying")
    page = button_of(page, "How much?").click().run()
    assert not page.exception
    # Asked of the lot's own wood first.
    assert "white ash, 8 to 11 % moisture content" in words_of(page)
    assert "flatsawn: 300 mm grows by" in words_of(page)


def test_a_price_is_kept_and_a_word_for_a_price_is_refused(sample, lot):  # noqa: F811
    page = go_to(sample, "taking")
    assert any(one.value == "Thick enough?" for one in page.subheader)
    assert "4/4 where it is flat; " in words_of(page)
    page = text_in(page, "Price of B01").set_value("38,50").run()
    assert not page.exception and not page.error
    assert lot.board("B01").price == 38.5
    page = text_in(page, "Price of B01").set_value("dear").run()
    assert any("no amount of money" in one.value for one in page.error)
    assert lot.board("B01").price == 38.5


@pytest.mark.slow
def test_which_boards_to_take_is_found_for_the_lot_as_it_is(sample, lot):  # noqa: F811
    page = go_to(sample, "taking")
    page = button_of(page, "Which boards to take?").click().run()
    finished(lot)
    page = page.run()
    assert "take B0" in words_of(page)
    choose_boards.set_price(lot, "B01", "12")
    assert kept_choice(lot) == ()


def test_a_budget_without_prices_is_said(sample, lot):  # noqa: F811
    page = go_to(sample, "taking")
    page = text_in(page, "Spend no more than").set_value("100").run()
    button_of(page, "Which boards to take?").click().run()
    job = desks.desk_of(lot.path).job
    job.wait(240)
    assert "B01, B02 have no price" in job.problem


@pytest.mark.slow
def test_grades_are_estimated_with_their_picture(sample):
    page = go_to(sample, "taking")
    page = page.toggle[0].set_value(True).run()
    assert not page.exception
    assert "surface measure" in " ".join(one.label for one in page.expander)


@pytest.mark.slow
def test_left_overs_go_into_stock_and_come_back(sample, lot):  # noqa: F811
    page = go_to(sample, "stock")
    assert not page.exception
    before = {board.id for board in lot.boards()}
    # All are to be kept at first; with none of them there is nothing to keep.
    rests = page.checkbox
    assert rests and all(box.value and box.label.startswith("B0") for box in rests)
    for box in rests:
        page = page.checkbox(key=box.key).set_value(False).run()
    assert button_of(page, "Keep these").disabled
    for box in rests:
        page = page.checkbox(key=box.key).set_value(True).run()
    page = button_of(page, "Keep these").click().run()
    assert "in stock" in " ".join(one.value for one in page.success)
    (kept, *_) = there = sorted(path.name for path in stock_folder().iterdir())
    # Nothing asked for yet: all that was kept is seen.
    assert {f"take-{name}" for name in there} <= {button.key for button in page.button}
    page = text_in(page, "At least this long").set_value("100 mm").run()
    page = text_in(page, "At least this wide").set_value("50 mm").run()
    page = next(b for b in page.button if b.key == f"take-{kept}").click().run()
    assert not page.exception
    (new,) = {board.id for board in lot.boards()} - before
    assert not (stock_folder() / kept).exists()
    assert lot.board(new).faces[1].outline.area < lot.board("B01").faces[1].outline.area
    for name in there[1:]:
        page = next(b for b in page.button if b.key == f"take-{name}").click().run()
    assert not page.error
    assert "Nothing is in stock yet" in " ".join(one.value for one in page.markdown)


@pytest.mark.parametrize(("kind", "begins"), [("pdf", b"%PDF"), ("html", b"<!doctype html>")])
def test_the_yard_card_of_what_has_no_place_lies_behind_a_plain_link(sample, lot, kind, begins):  # noqa: F811
    assert [one.part for one in lot.layout().layout.unplaced] == ["seat slat"]
    answer = _yard_card(kind)
    assert answer.status_code == 200
    assert answer.body.lower().startswith(begins.lower())


@pytest.mark.parametrize("kind", ["pdf", "html"])
def test_where_all_parts_have_their_place_the_link_says_that_no_yard_card_is_needed(
    sample,
    lot,  # noqa: F811
    kind,
):
    # The sample's second slat has no place.
    set_parts(lot, PARTS.replace("seat slat,2", "seat slat,1"), "parts.csv")
    answer = _yard_card(kind)
    assert answer.status_code == 409 and b"no yard card is needed" in answer.body


def _yard_card(kind):
    def url(name):
        return yard_card_url(name, kind)

    return _get(sample_lot().stem, url, query=f"kind={kind}".encode())


@pytest.mark.slow
def test_a_board_typed_on_the_page_goes_through_the_steps_without_photos(home):
    page = go_to(begun(home, "typed"), "boards")
    of = "typed/typed/typed"
    page.text_input(key=f"{of}-length-0").set_value("8 ft")
    page.text_input(key=f"{of}-width-0").set_value("wide")
    page = button_of(page, "Add this board").click().run()
    assert any("the board's width" in one.value for one in page.error)
    page.text_input(key=f"{of}-width-0").set_value("7 1/4 in")
    page.text_input(key=f"{of}-species").set_value("white ash")
    page.text_input(key=f"{of}-flaws-0").set_value("knot both 40 in to 42 in by 2 in to 4 in")
    page = button_of(page, "Add this board").click().run()
    assert not page.exception and not page.error
    assert "B01 lies in the lot" in " ".join(one.value for one in page.success)
    assert page.text_input(key=f"{of}-length-1").value == ""
    # The next board is typed without opening the form anew, and the words stand in it.
    form = next(one for one in page.expander if one.label.startswith("Type boards in"))
    assert form.proto.expanded and form.success
    for step in ("flaws", "layout", "taking"):
        assert not go_to(page, step).exception
    answer = _get("typed", boards_list_url)
    assert answer.body.decode().splitlines()[1].startswith("B01,4/4,2438.4 mm,184.1 mm")


@pytest.mark.slow
def test_the_price_of_a_board_foot_is_asked_once_for_all_boards(sample, lot):  # noqa: F811
    page = go_to(sample, "taking")
    area = next(one for one in page.text_area if one.label.startswith("One wood a line"))
    area.set_value("white ash = 6.5\nwalnut = 14")
    text_in(page, "Currency").set_value("EUR")
    page = button_of(page, "Keep these prices").click().run()
    assert not page.exception and not page.error
    assert "with its share of the waste" in words_of(page)
    assert lot.shop().currency == "EUR"


@pytest.mark.slow
def test_a_budget_gives_the_card_its_highest_price(sample, lot):  # noqa: F811
    set_parts(lot, "name,quantity,length,width,thickness,faces\nslat,9,500,60,20,both\n", "p.csv")
    page = go_to(sample, "buying")
    page = text_in(page, "Money for it all").set_value("120").run()
    assert not page.exception

    def url(name, money="120"):
        return yard_card_url(name, "html", money)

    answer = _get(sample_lot().stem, url, query=b"kind=html&budget=120")
    assert b"A board foot may cost at most" in answer.body
    refused = _get(sample_lot().stem, url, query=b"kind=html&budget=much")
    assert refused.status_code == 409 and b"no amount of money" in refused.body
    page = text_in(page, "Money for it all").set_value("much").run()
    assert [error.value.replace("\\", "") for error in page.error] == [
        'money for it all: "much" is no amount of money: write it like 38.50.'
    ]
