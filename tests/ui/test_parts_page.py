"""The page "Parts" without a browser: rows, drawings, units, the shop's sizes."""

import json

import pytest

from scanner.app.lot.open_lot import parts_of
from scanner.app.lot.parts_table import keep_table
from scanner.app.lot.take_parts_files import take_parts_files
from tests.ui.page_runs import begun, button_of, errors_of, go_to, sent_to, words_of
from ui import desks, limits
from ui.place import sample_lot


def _write(page, what, rows, number="1"):
    page.session_state["parts-table"] = {what: {"n": number, "rows": rows}}
    return page.run()


_RAIL = {"name": "rail", "quantity": "2", "length": "24 in", "width": "70", "thickness": "19",
         "faces": "both"}  # fmt: skip


def test_a_row_being_written_shows_its_rough_size_and_is_not_kept(home):
    page = _write(begun(home, "hall bench"), "table", [_RAIL])
    reading = sent_to(page, "reading")["reading"]
    assert reading["rough"] == ["635 \u00d7 82 mm"]
    assert desks.desk_of(home / "hall bench.lot").lot.parts_text() is None


def test_a_mistake_is_said_for_its_cell(home):
    page = _write(begun(home, "hall bench"), "table", [_RAIL | {"length": "24 im"}])
    (mistake,) = sent_to(page, "reading")["reading"]["mistakes"]
    assert (mistake["row"], mistake["column"]) == (0, "length")
    assert "24 im" in mistake["what"]


@pytest.mark.slow
def test_a_drawing_is_shown_with_its_size_and_may_be_taken_out(sample):
    lot = desks.desk_of(sample_lot()).lot
    shape = {"outline": [[0, 0], [400, 0], [0, 100]], "grain": [[0, 0], [1, 0]]}
    take_parts_files(lot, {"wedge.json": json.dumps(shape)})
    page = go_to(sample, "parts")
    assert "shape" in sent_to(page, "columns")["columns"]
    assert "wedge.json**, 400 × 100 mm: no part has it yet" in words_of(page)
    page = button_of(page, "Take wedge.json out").click().run()
    assert "wedge.json" not in words_of(page) and lot.drawings() == {}


def test_how_to_write_a_list_is_said_until_one_is_kept(home):
    page = go_to(begun(home, "hall bench"), "parts")
    assert "paste rows" in words_of(page)
    keep_table(desks.desk_of(home / "hall bench.lot").lot, [_RAIL])
    assert "paste rows" not in words_of(page.run())


def test_units_change_what_a_bare_figure_means_and_not_what_was_said(home):
    page = begun(home, "hall bench")
    lot = desks.desk_of(home / "hall bench.lot").lot
    keep_table(lot, [_RAIL])
    page = go_to(page, "parts")
    page.radio[0].set_value("inches").run()
    assert lot.shop().units == "inch" and lot.shop().length_allowance_mm == 25.4
    assert [(round(part.length_mm, 6), part.width_mm) for part in parts_of(lot)] == [(609.6, 70)]


def test_the_shops_own_allowance_changes_the_rough_size_of_every_part(home):
    page = begun(home, "hall bench")
    keep_table(desks.desk_of(home / "hall bench.lot").lot, [_RAIL])
    page = _keep_size(page.run(), "On the length", "40")
    assert not page.exception and not page.error
    assert sent_to(page, "reading")["reading"]["rough"] == ["650 \u00d7 82 mm"]
    # A slip keeps nothing, and the field is named.
    page = _keep_size(page, "Saw kerf", "30")
    assert errors_of(page) == ["Saw kerf: 30 is too much: write 20 mm or less."]


def _keep_size(page, label, typed):
    next(field for field in page.text_input if field.label == label).set_value(typed)
    return button_of(page, "Keep these sizes").click().run()


def test_a_parts_list_over_the_limit_is_refused_in_a_sentence(home, monkeypatch):
    page = go_to(begun(home, "hall bench"), "parts")
    huge = b"name,quantity\n" + b" " * (limits.PARTS_MB * 1_000_000)
    page.file_uploader[0].set_value(("huge.csv", huge, "text/csv"))
    page = page.run()
    assert errors_of(page) == ["huge.csv is more than a parts list takes: choose one under 5 MB."]
    assert desks.desk_of(home / "hall bench.lot").lot.parts_text() is None
