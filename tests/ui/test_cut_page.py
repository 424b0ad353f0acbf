"""What the page says of cutting before and after all boards are looked over; no browser."""

import pytest

from tests.ui.page_runs import button_of, go_to, look_over_everything, road_of, sent_to, words_of
from ui import desks
from ui.place import sample_lot


def test_a_finished_lot_is_done_up_to_the_cutting(sample):
    look_over_everything(sample)
    lot = desks.desk_of(sample_lot()).lot
    lot.save_layout(lot.layout().layout, lot.revision)
    page = go_to(sample, "cut")
    states = {name: state for name, (state, _) in road_of(page).items()}
    assert states == {
        "parts": "done", "boards": "done", "flaws": "done", "layout": "done", "cut": "next",
    }  # fmt: skip
    links = [link.proto.url for link in page.get("link_button")]
    assert links == ["/board-maps/demo?kind=pdf", "/board-maps/demo?kind=zip", "/story-sticks/demo"]


@pytest.mark.slow
def test_a_story_stick_may_be_used_only_once_its_line_was_measured(sample):
    look_over_everything(sample)
    lot = desks.desk_of(sample_lot()).lot
    lot.save_layout(lot.layout().layout, lot.revision)
    page = go_to(sample, "cut")
    assert any("Not to be used yet" in text.value for text in page.markdown)
    page = page.text_input[0].set_value("250 mm").run()
    assert [said.value for said in page.success] == ["The print is true: the stick may be used."]
    page = page.text_input[0].set_value("248.5 mm").run()
    assert "0.6 % too short" in page.error[0].value
    links = [link.proto.url for link in page.get("link_button")]
    assert "/story-sticks/demo?measured=248.5" in links
    page = page.text_input[0].set_value("9 in").run()
    assert "the page was scaled" in page.error[0].value


def test_a_finished_lot_says_so(sample):
    look_over_everything(sample)
    assert "2 of 2 boards looked over" in words_of(sample)
    assert "Every board is looked over" in words_of(sample)


def test_a_board_not_looked_over_is_named_beside_the_layout(sample):
    assert "Not looked over: B01." in words_of(go_to(sample, "layout"))


def test_wood_that_nobody_looked_over_is_not_what_to_cut_next(sample):
    page = go_to(sample, "layout")
    main = next(button for button in page.button if button.proto.type == "primary")
    assert main.label == "Look over B01 first"
    assert not button_of(page, "Go on to cutting").disabled
    page = main.click().run()
    assert sent_to(page, "steps")["here"] == "flaws" and sent_to(page)["board"]["id"] == "B01"
