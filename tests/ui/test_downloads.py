"""Files to take along: what each link gives, and what it says instead."""

import asyncio
import io
import zipfile
from pathlib import Path

import pytest
from pypdf import PdfReader
from starlette.requests import Request

from scanner.app.lot.move_lot import bring_in
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.nodding.review_flaws import strike
from scanner.storage.lots import Action
from tests.ui.made_results import write_results
from ui import desks, place
from ui.desks import desk_of
from ui.downloads import download_routes, lot_url, maps_url, sticks_url, strip_url


def _get(lot, url=maps_url, query=b""):
    route = next(one for one in download_routes() if url(lot).startswith(one.path.split("{")[0]))
    scope = {"type": "http", "method": "GET", "path": url(lot), "headers": [],
             "path_params": {"lot": lot}, "query_string": query}  # fmt: skip
    return route.endpoint(Request(scope))


@pytest.fixture
def lot(tmp_path, monkeypatch):
    monkeypatch.setenv(place.HOME_VARIABLE, str(tmp_path))
    monkeypatch.delenv(place.LOT_VARIABLE, raising=False)
    path = tmp_path / "hall bench é.lot"
    lot = desk_of(path).lot
    fill_from_results(lot, write_results(tmp_path / "results"))
    yield lot
    lot.close()
    desks._desks.pop(path.resolve())


@pytest.mark.slow
def test_all_board_maps_come_as_one_file_to_print(lot):
    answer = _get("hall bench é")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf"
    assert "hall%20bench%20%C3%A9-board-maps.pdf" in answer.headers["content-disposition"]
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(answer.body)).pages]
    assert pages[0].startswith("Layout")
    assert {page.split()[0] for page in pages} == {"Layout", "B01", "B02"}


@pytest.mark.slow
def test_the_board_maps_come_as_one_zip_under_the_lots_own_name(lot):
    answer = _get("hall bench é", query=b"kind=zip")
    assert answer.status_code == 200
    assert "hall%20bench%20%C3%A9-board-maps.zip" in answer.headers["content-disposition"]
    names = zipfile.ZipFile(io.BytesIO(answer.body)).namelist()
    assert "layout.json" in names and any(name.endswith(".pdf") for name in names)


def test_the_story_sticks_come_as_one_pdf_and_make_up_for_a_measured_print(lot):
    answer = _get("hall bench é", sticks_url)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert "-story-sticks.pdf" in answer.headers["content-disposition"]
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(answer.body)).pages]
    boards = {line.board for line in lot.layout().layout.cuts}
    assert {
        one for one in boards if any(f"stick of board {one}" in text for text in pages)
    } == boards
    other = _get("hall bench é", sticks_url, b"measured=249")
    assert other.status_code == 200 and other.body != answer.body
    assert _get("hall bench é", sticks_url, b"measured=9").status_code == 409
    assert _get("hall bench é", sticks_url, b"measured=wide").status_code == 400


def test_the_strip_comes_to_be_printed_on_either_paper_and_a_length_that_is_none_is_refused():
    def asked(url):
        path, _, query = url.partition("?")
        return _get(path, lambda path: path, query.encode())

    for paper, size in (("a4", (842, 595)), ("letter", (792, 612))):
        answer = asked(strip_url("8 ft", paper))
        assert answer.status_code == 200
        pages = PdfReader(io.BytesIO(answer.body)).pages
        assert tuple(round(float(side)) for side in pages[0].mediabox[2:]) == size
    for url in (strip_url("long", "a4"), strip_url("9000 ft", "a4"), strip_url("8 ft", "a3")):
        answer = asked(url)
        assert answer.status_code == 400
        assert "content-disposition" not in answer.headers


def test_maps_of_an_outdated_layout_are_refused_in_a_sentence(lot):
    lot.record(Action(new_stamp(lot), "B01", "struck", lambda board: strike(board, "F5")))
    answer = _get("hall bench é")
    assert answer.status_code == 409
    assert answer.body.decode() == "The layout is not up to date: place the parts again first."
    assert "content-disposition" not in answer.headers


@pytest.mark.parametrize("name", ["other", "../hall bench é", "results/parts.csv", ""])
@pytest.mark.parametrize("url", [maps_url, sticks_url, lot_url])
def test_only_known_lots_are_packed(lot, name, url):
    answer = _get(name, url)
    assert answer.status_code == 404
    assert answer.body.decode().startswith("There is no such lot here")


def test_a_whole_lot_is_taken_along_and_brought_in_elsewhere(lot, tmp_path):
    answer = _get("hall bench é", lot_url)
    assert "hall%20bench%20%C3%A9.zip" in answer.headers["content-disposition"]
    (tmp_path / "other").mkdir()
    with Path(answer.path).open("rb") as packed:
        path = bring_in(tmp_path / "other", "hall bench é", packed)
    brought = open_lot(path)
    assert brought.boards() == lot.boards() and brought.parts_text() == lot.parts_text()
    brought.close()
    asyncio.run(answer.background())
    assert not Path(answer.path).exists()
