"""What makes the first page and a tap quick: files in one piece, modules loaded beforehand."""

import gc
import subprocess
import sys
from dataclasses import asdict, replace

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from scanner.app.lot.open_lot import fill_from_results, open_lot
from scanner.app.nodding.flaw_state import flaw_views
from scanner.app.nodding.seen_face import as_seen, ring_of, seen_ring
from scanner.app.showing.page_state import board_view
from scanner.board.flaw import FlawState
from tests.bench.page_speed import long_board
from tests.ui.asked import asked
from tests.ui.made_results import write_results
from ui.assets import Assets
from ui.board_view.component import face_data
from ui.plain_values import as_data
from ui.warm import begin_to_warm


@pytest.fixture
def app(tmp_path):
    scripts = tmp_path / "page" / "static" / "js"
    scripts.mkdir(parents=True)
    (scripts / "BidiComponent.abc.js").write_text("let a = 1;")
    (scripts / "letters.woff2").write_text("letters")
    (tmp_path / "outside.txt").write_text("not to be had")

    def own_page(request):
        if "lot" in request.url.path:
            return Response('<div id="root"></div>', media_type="application/zip")
        return HTMLResponse('<div id="root"></div>' if "empty" in request.url.path else "the page")

    return Starlette(
        routes=[Route("/{rest:path}", own_page)],
        middleware=[Middleware(Assets, folder=tmp_path / "page")],
    )


_SCRIPT, _FONT = "/static/js/BidiComponent.abc.js", "/static/js/letters.woff2"


def test_a_file_of_the_page_is_given_in_one_piece_and_kept_for_ever(app):
    status, head, body = asked(app, _SCRIPT)
    assert (status, body) == (200, "let a = 1;")
    assert "javascript" in head["content-type"]
    assert "immutable" in head["cache-control"]


def test_over_a_network_a_script_goes_packed_and_a_font_and_this_computers_files_as_they_are(app):
    packs, phone = [(b"accept-encoding", b"gzip, br")], ("192.0.2.7", 1)
    _, head, body = asked(app, _SCRIPT, headers=packs, client=phone)
    assert head["content-encoding"] == "gzip" and body == "let a = 1;"
    assert head["vary"] == "Accept-Encoding" and "immutable" in head["cache-control"]
    for path, headers, client in (
        (_SCRIPT, packs, ("127.0.0.1", 1)),
        (_SCRIPT, packs, ("::1", 1)),
        (_SCRIPT, [], phone),
        (_FONT, packs, phone),
    ):
        assert "content-encoding" not in asked(app, path, headers=headers, client=client)[1]


def test_only_the_pages_own_files_are_given(app):
    for path in ("/static/../../outside.txt", "/static/js/../../../outside.txt", "/static/js"):
        assert asked(app, path)[2] == "the page"
    assert asked(app, _SCRIPT, "POST")[0] == 405


def test_a_page_names_the_scripts_it_will_need(app):
    assert asked(app, "/flaws")[1]["link"] == f"<{_SCRIPT}>; rel=modulepreload"


def test_a_page_says_that_it_is_on_its_way_until_its_script_draws_it(app):
    wants_a_page = [(b"accept", b"text/html,*/*"), (b"accept-encoding", b"gzip")]
    _, head, body = asked(app, "/empty", headers=wants_a_page)
    assert body.startswith('<div id="root"><p') and "on its way" in body
    assert head["content-length"] == str(len(body)) and "link" in head
    assert asked(app, "/flaws", headers=wants_a_page)[2] == "the page"
    # What a script asks for passes as it is, and so does a large file that a link leads to.
    assert asked(app, "/lot", headers=wants_a_page)[2] == '<div id="root"></div>'
    assert asked(app, "/empty")[2] == '<div id="root"></div>'


def test_values_for_the_browser_are_those_of_asdict_without_copies(tmp_path):
    write_results(tmp_path / "results")
    lot = open_lot(tmp_path / "one.lot")
    fill_from_results(lot, tmp_path / "results")
    board = board_view(lot, lot.standings()[0].id)
    assert as_data(board) == asdict(board) | {
        name: [asdict(one) for one in getattr(board, name)] for name in ("faces", "flaws", "parts")
    }
    assert face_data(board.faces[0])["outline"] is board.faces[0].outline
    lot.close()


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
def test_a_seen_ring_is_the_ring_of_what_is_seen(turned):
    board = replace(long_board("B01"), turned=turned)
    knot = board.flaws[0].outlines[2]
    for number in (1, 2):
        rings = zip(
            seen_ring(board, number, knot), ring_of(as_seen(board, number, knot)), strict=True
        )
        for one, other in rings:
            assert one == pytest.approx(other, abs=0.011)


def test_only_the_flaw_that_was_said_something_of_is_drawn_anew():
    board = long_board("B01")
    before = flaw_views(board, "mm")
    struck = replace(board.flaws[3], state=FlawState.STRUCK)
    flaws = (*board.flaws[:3], struck, *board.flaws[4:])
    after = flaw_views(board.with_flaws(flaws), "mm")
    assert after[3].state == "struck"
    assert all(a.rings is b.rings for a, b in zip(after, before, strict=True) if a.id != struck.id)
    # Turned the other way it is another drawing, and in inches other words.
    turned = flaw_views(replace(board, turned="end_over_end"), "mm")
    assert turned[0].rings[2] != before[0].rings[2]
    assert flaw_views(board, "inch")[0].where != before[0].where


@pytest.mark.slow
def test_warming_loads_what_the_steps_need_and_spares_them_the_search_for_rubbish():
    begin_to_warm().join()
    assert gc.get_freeze_count() > 0
    gc.unfreeze()
    # A view is a script: what it imports of the page must be there already.
    assert {"ui.layout_view.component", "ui.cut_list.component", "ui.photo_pairs"} <= set(
        sys.modules
    )


@pytest.mark.slow
def test_the_steps_load_nothing_that_scans_or_places_or_prints():
    # In a process of its own: the other tests have loaded all of it.
    asked = "import sys, ui.launch, ui.warm; ui.warm.begin_to_warm().join(); print(*sys.modules)"
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    loaded = set(said.stdout.split())
    assert "ui.cut_list.component" in loaded
    assert not loaded & {"cv2", "scipy", "skimage", "numba", "reportlab", "pandas"}
