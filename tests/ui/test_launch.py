"""The launcher: ports, addresses, pictures by hash."""

import asyncio
import io
import runpy
import socket
import sys
from pathlib import Path

import pytest
from PIL import Image
from starlette.applications import Starlette
from starlette.requests import Request

import ui
from tests.ui.made_results import write_results
from ui import desks
from ui.desks import Job, desk_of
from ui.launch import free_port, server_settings
from ui.look import theme
from ui.pictures import picture_route, picture_url, small_picture


def test_a_taken_port_gives_the_next_free_one():
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        taken = holder.getsockname()[1]
        assert free_port(taken, "127.0.0.1") > taken


def test_only_this_computer_reaches_the_page_unless_asked():
    alone = server_settings("127.0.0.1", 8501, ["localhost", "127.0.0.1"], lan=False)
    assert alone["server.address"] == "127.0.0.1"
    assert alone["browser.gatherUsageStats"] is False
    assert server_settings("10.0.0.7", 8501, [], lan=True)["server.address"] == "0.0.0.0"


def test_every_setting_is_one_that_the_server_knows():
    from streamlit import config

    for name in server_settings("127.0.0.1", 8501, [], lan=False) | theme():
        config.get_option(name)


def test_a_worker_that_takes_the_pages_script_for_its_parents_draws_no_page(monkeypatch):
    drawn = []
    monkeypatch.setattr("streamlit.set_page_config", lambda **how: drawn.append(how))
    monkeypatch.setattr("streamlit.html", lambda style: sys.exit())
    script = str(Path(ui.__file__).with_name("main.py"))
    runpy.run_path(script, run_name="__mp_main__")
    assert drawn == []
    with pytest.raises(SystemExit):
        runpy.run_path(script, run_name="__main__")
    assert len(drawn) == 1


def _get(file, query=b""):
    route = picture_route()
    scope = {
        "type": "http", "method": "GET", "path": picture_url(file), "headers": [],
        "path_params": {"file": file}, "query_string": query, "app": Starlette(),
    }  # fmt: skip
    return asyncio.run(route.endpoint(Request(scope)))


def test_a_board_in_the_list_is_seen_in_a_small_picture_of_its_own_shape(stored):
    path = desks.find_picture(stored)
    with Image.open(path) as whole:
        wide, high = whole.size
    shown = small_picture(stored, 'Face 1 of "B01"')
    assert f'width="{wide}" height="{high}"' in shown
    assert 'alt="Face 1 of &quot;B01&quot;"' in shown
    answer = _get(stored, b"small")
    assert answer.media_type == "image/jpeg" and "immutable" in answer.headers["cache-control"]
    with Image.open(io.BytesIO(answer.body)) as small:
        assert small.width <= 720
        assert small.width / small.height == pytest.approx(wide / high, rel=0.03)
    assert small_picture("0" * 64 + ".jpg", "Face 1 of B01") == ""


@pytest.fixture
def stored(tmp_path):
    lot = desk_of(tmp_path / "bench.lot").lot
    results = write_results(tmp_path / "out")
    picture = (results / "B01" / "B01-face1.jpg").read_bytes()
    yield lot.keep_picture(picture, "face.jpg").file
    lot.close()
    desks._desks.pop((tmp_path / "bench.lot").resolve())


def test_a_stored_picture_is_served_once_and_for_all(stored):
    answer = _get(stored)
    assert answer.status_code == 200
    assert answer.media_type == "image/jpeg"
    assert "immutable" in answer.headers["cache-control"]
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize("file", ["bench.lot", "../bench.lot", "0" * 64 + ".jpg", ""])
def test_nothing_else_is_served(stored, file):
    assert _get(file).status_code == 404


def test_a_job_tells_its_problem_in_a_sentence():
    from scanner.errors import PhotoError

    def work(progress):
        progress("looking", 0.5)
        raise PhotoError("a.jpg shows no rule", "lay one beside the board")

    job = Job("Scanning", work)
    job.wait(240)
    assert (job.step, job.share) == ("looking", 0.5)
    assert job.problem == "a.jpg shows no rule: lay one beside the board."
