"""What was typed beside photos stands there again after another page was looked at."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from scanner.app.cutting.marks_in_lot import KeptMarks, mark_of_parts
from scanner.app.lot.later_photo import keep_made, note
from scanner.storage.values import to_document
from tests.common import ash_board, flat_picture
from tests.ui.page_runs import begun, button_of, choose_photos, go_to, page_at, words_of
from tests.ui.test_buying_pages import text_in
from tests.ui.test_second_look import lot  # noqa: F401 (a fixture)
from ui import apart, desks
from ui.place import sample_lot
from ui.uploads import BATTEN, STRIP_TAPED

INSTEAD = "instead of the earlier ones"


@pytest.mark.slow
def test_the_strips_length_is_typed_once_for_every_page_that_asks_for_it(sample, home):
    asked = go_to(page_at(home, lot="demo"), "boards")
    page = go_to(sample, "boards")
    page = text_in(page, STRIP_TAPED).set_value("2501 mm").run()
    page = text_in(page, BATTEN).set_value("18 mm").run()
    page = text_in(page, "Thickness (4/4, 1 1/16").set_value("5/4").run()
    page = go_to(go_to(page, "help"), "boards")
    assert not page.exception
    assert text_in(page, STRIP_TAPED).value == "2501 mm"
    assert text_in(page, "Thickness (4/4, 1 1/16").value == "5/4"
    for name in ("again", "marks", "piece"):
        page = go_to(page, name)
        assert (text_in(page, STRIP_TAPED).value, text_in(page, BATTEN).value) == (
            "2501 mm",
            "18 mm",
        )
    # It is the shop's: another window, or the same one loaded anew, is not asked for it again.
    other = go_to(page_at(home, lot="demo"), "boards")
    assert text_in(other, STRIP_TAPED).value == "2501 mm"
    # Nor one that asked for it before.
    assert text_in(go_to(asked, "marks"), STRIP_TAPED).value == "2501 mm"
    # What is emptied stays empty.
    page = text_in(page, BATTEN).set_value("").run()
    assert text_in(go_to(page, "boards"), BATTEN).value == ""


def form_of(page, label):
    return next(one for one in page.expander if one.label.startswith(label))


@pytest.mark.slow
def test_a_half_typed_board_is_still_there_after_a_look_at_another_page(home):
    page = go_to(begun(home, "typed"), "boards")
    assert not form_of(page, "Type boards in").proto.expanded
    for label, typed in (("Length", "8 ft"), ("Price", "38.50"), ("Flaws: kind", "knot 1")):
        form = form_of(page, "Type boards in")
        next(one for one in form.text_input if one.label.startswith(label)).set_value(typed)
        page = page.run()
    form = form_of(page, "Type boards in")
    form.checkbox[0].check().run()
    page = go_to(go_to(page, "help"), "boards")
    form = form_of(page, "Type boards in")
    assert form.proto.expanded and form.checkbox[0].value
    stands = [one.value for one in form.text_input if one.value]
    assert stands == ["8 ft", "4/4", "38.50", "knot 1"]


@pytest.mark.slow
def test_photos_let_go_for_lack_of_memory_are_said_to_be_where_they_stood(home):
    page = go_to(begun(home, "photos"), "boards")
    said = "let go for lack of memory"
    assert said not in words_of(page)
    page.session_state["given"].let_go["photos/photos"] = {"front", "back"}
    page = page.run()
    assert not page.exception and said in words_of(page)
    # What became a board since is not missed.
    desks.desk_of(home / "photos.lot").scanned.update({"front", "back"})
    assert said not in words_of(page.run())


@pytest.mark.slow
def test_chosen_photos_are_still_there_after_a_look_at_another_page(home):
    page = go_to(begun(home, "photos"), "boards")
    page = (
        text_in(choose_photos(page, "front.jpg", "back.jpg"), "Length of the board as taped")
        .set_value("2440 mm")
        .run()
    )
    assert "Still here" not in words_of(page)
    for _ in range(2):
        page = go_to(go_to(page, "help"), "boards")
        assert "Still here: front.jpg, back.jpg." in words_of(page)
        assert "Board 1: face 1 front.jpg, face 2 back.jpg" in words_of(page)
        assert text_in(page, "Length of the board as taped").value == "2440 mm"
    # Those in the field come after them, and what is taken out is gone for good.
    page = choose_photos(page, "other.jpg")
    assert "Board 2: face 1 other.jpg" in words_of(page)
    page = button_of(page, "Take them out").click().run()
    assert "front.jpg" not in words_of(page) and "Board 1: face 1 other.jpg" in words_of(page)
    page = go_to(go_to(page, "help"), "boards")
    assert "Still here: other.jpg." in words_of(page)


def _photo(name):
    file = io.BytesIO()
    Image.new("RGB", (64, 48), "tan").save(file, "JPEG")
    return (name, file.getvalue(), "image/jpeg")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "rule", "own"),
    [
        ("piece", "Length of the rule", ("Thickness of the piece now", "24 mm")),
        ("end_grain", "Length x width of the rule", ("Width of a leg", "42 mm")),
        ("edge", "Length x width of the rule", None),
        ("marks", "Length of the rule", None),
    ],
)
def test_a_later_photo_and_what_was_said_beside_it_outlast_another_page(sample, name, rule, own):
    page = go_to(sample, name)
    if name in ("end_grain", "edge"):
        page = page.selectbox[0].set_value("B02").run()
    page.file_uploader[0].set_value(_photo("later.jpg")).run()
    beside = next(one for one in page.radio if one.label == "What lies beside it?")
    page = beside.set_value("a plain rule").run()
    page = text_in(page, rule).set_value("600 x 30 mm").run()
    if own:
        page = text_in(page, own[0]).set_value(own[1]).run()
    page = go_to(go_to(page, "help"), name)
    assert not page.exception
    assert "Still here: later.jpg." in words_of(page)
    assert text_in(page, rule).value == "600 x 30 mm"
    if own:
        assert text_in(page, own[0]).value == own[1]
    if name in ("end_grain", "edge"):
        assert page.selectbox[0].value == "B02"
        # It is of that board: nothing is chosen for another one.
        assert "Still here" not in words_of(page.selectbox[0].set_value("B01").run())
        page = page.selectbox[0].set_value("B02").run()
        assert "Still here: later.jpg." in words_of(page)
    # Another one takes its place, and what is taken out is gone for good.
    page.file_uploader[0].set_value(_photo("other.jpg")).run()
    assert "later.jpg" not in words_of(page)
    page = go_to(go_to(page, "help"), name)
    page = button_of(page, "Take it out").click().run()
    assert "other.jpg" not in words_of(go_to(go_to(page, "help"), name))


@pytest.mark.slow
def test_more_photos_stay_with_their_board_and_its_address_is_followed(sample, monkeypatch):
    asked = []

    def scan_apart(errand, path, board, more, typed, progress):
        asked.append((board, {face: len(one.photos) for face, one in more.items()}))

    monkeypatch.setattr(apart, "work_apart", scan_apart)
    page = go_to(sample, "again")
    page = page.selectbox[0].set_value("B02").run()
    page.file_uploader[0].set_value([_photo("a.jpg"), _photo("b.jpg")]).run()
    page = next(one for one in page.radio if one.label == "They count").set_value(INSTEAD).run()
    page = go_to(go_to(page, "help"), "again")
    assert page.selectbox[0].value == "B02" and "Still here: a.jpg, b.jpg." in words_of(page)
    assert next(one for one in page.radio if one.label == "They count").value == INSTEAD
    page = button_of(page, "Scan B02 again").click().run()
    # It may be done already.
    if (job := desks.desk_of(sample_lot()).job) is not None:
        job.wait(60)
    assert asked == [("B02", {1: 2, 2: 0})]
    # What was scanned is asked for no more; a board that an address names is shown.
    page = page.run()
    assert "Still here" not in words_of(page)
    # The next photos replace nothing unasked.
    page.file_uploader[0].set_value([_photo("c.jpg")]).run()
    assert next(one for one in page.radio if one.label == "They count").value != INSTEAD
    page = button_of(go_to(page, "boards"), "More photos of B01").click().run()
    assert page.selectbox[0].value == "B01"


@pytest.mark.slow
def test_what_is_typed_of_a_piece_outlasts_a_look_of_another_window(sample, monkeypatch):
    monkeypatch.setattr(apart, "work_apart", lambda *asked, progress: None)
    field = "Thickness of the piece now"
    desk = desks.desk_of(sample_lot())
    page = text_in(go_to(sample, "piece"), field).set_value("24 mm").run()
    desk.looked_at.add("a photo of another window")
    page = go_to(go_to(page, "help"), "piece")
    assert text_in(page, field).value == "24 mm"
    # It is of one piece: empty for the next.
    page.file_uploader[0].set_value(_photo("piece.jpg")).run()
    page = button_of(page, "Find it again").click().run()
    if desk.job is not None:
        desk.job.wait(60)
    assert text_in(page.run(), field).value == ""


@pytest.mark.slow
def test_a_photo_of_lines_is_held_against_its_own_board_only(sample, lot):  # noqa: F811
    """Back from another page the first board stood there, with the second one's photo."""
    page = go_to(sample, "marks")
    page = page.selectbox[0].set_value("B02").run()
    page.file_uploader[0].set_value(_photo("lines.jpg")).run()
    page = go_to(go_to(page, "help"), "marks")
    assert page.selectbox[0].value == "B02" and "Still here: lines.jpg." in words_of(page)
    # With mistakes on it the board is still the one shown, and its photo no other board's.
    picture = keep_made(lot, flat_picture(ash_board(), 1), "marks")
    seen = KeptMarks("B02", 1, picture, "", picture, ("off",), 4, True, mark_of_parts(lot, "B02"))
    note(lot, "marks-B02", to_document(seen), "looked at the marks")
    page = page.run()
    assert "B02, face 1: mend this before you saw." in page.error[0].value
    page = page.selectbox[0].set_value("B01").run()
    assert "Still here" not in words_of(page)
    # One whose lines are right gives way to the next.
    page = page.selectbox[0].set_value("B02").run()
    note(lot, "marks-B02", to_document(replace(seen, said=())), "looked at the marks")
    assert page.run().selectbox[0].value == "B01"
