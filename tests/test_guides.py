"""The guides and the reference under docs/: what they show can be typed, run, and is so."""

import functools
import re
import shlex
import shutil
from functools import partial
from pathlib import Path

import pytest
from typer.main import get_command

from scanner.app.demo import sample_folder, sample_request
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.nodding.review_flaws import look_over
from scanner.app.scanning import scan_board
from scanner.cli import app
from scanner.files.boards_list import boards_of_text
from scanner.files.layout_file import read_layout
from scanner.files.sample_set import read_sample_set
from scanner.storage.lots import Action
from tests import reference
from tests.app.test_scan_board import scan_of
from tests.board.two_faces import FACE, as_turned, reading
from tests.command import run

ROOT = Path(__file__).parents[1]
GUIDES = sorted((ROOT / "docs").glob("*.md"))
_FENCED = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
_LINK = re.compile(r"\]\(([^)#\s]+)(?:#([\w-]+))?\)")


def fenced(path, language):
    """Return the fenced blocks of a page that are of a language."""
    return [body for name, body in _FENCED.findall(path.read_text("utf-8")) if name == language]


@functools.cache
def _program():
    """Return the whole command; typer takes 50 ms to build it."""
    return get_command(app)


def command_lines(path):
    """Return the bothfaces commands of a page's plain blocks, without their remarks."""
    lines = [line for body in fenced(path, "") for line in body.splitlines()]
    return [line.split("  #")[0].strip() for line in lines if line.startswith("bothfaces ")]


def _lines():
    for path in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *GUIDES):
        for line in command_lines(path):
            yield path.name, line
    for name, command in reference._commands().items():
        for shown in command.epilog.split("bothfaces ")[1:]:
            yield name, "bothfaces " + shown.split(" > ")[0].split(" \u00b7 ")[0]


@pytest.mark.parametrize(("where", "line"), list(dict.fromkeys(_lines())), ids=str)
def test_every_command_that_is_shown_can_be_typed(where, line):
    words = shlex.split(line)
    assert words[0] == "bothfaces", where
    words, command, name = words[1:], _program(), "bothfaces"
    while getattr(command, "commands", None):
        name, words = words[0], words[1:]
        command = command.commands[name]
    # Reads all options and arguments, and runs nothing.
    command.make_context(name, list(words))


def test_the_reference_is_what_the_code_says():
    assert reference.PAGE.read_text("utf-8") == reference.page(), "run python -m tests.reference"


@pytest.mark.parametrize("path", GUIDES, ids=lambda path: path.name)
def test_every_link_of_a_guide_leads_somewhere(path):
    for target, place in _LINK.findall(path.read_text("utf-8")):
        file = path.parent / target
        assert file.is_file(), target
        if place:
            heads = re.findall(r"^#+ (.+)$", file.read_text("utf-8"), re.MULTILINE)
            assert place in {head.lower().replace(" ", "-") for head in heads}, place


@pytest.mark.parametrize(
    ("path", "code"),
    [(path, code) for path in GUIDES for code in fenced(path, "python")],
    ids=lambda value: getattr(value, "name", ""),
)
def test_every_python_example_of_a_guide_holds(path, code):
    assert "assert" in code
    exec(compile(code, str(path), "exec"), {})


@pytest.mark.parametrize(
    ("path", "text"),
    [(path, text) for path in GUIDES for text in fenced(path, "csv")],
    ids=lambda value: getattr(value, "name", ""),
)
def test_every_list_of_boards_in_a_guide_is_read(path, text):
    assert len(boards_of_text(text, path.name)) == text.count("\n") - 1


@pytest.fixture
def scanned_by_the_demo(monkeypatch):
    """Stand in for the scan of the demo's first board, which the demo's own test waits for.

    It must be that very scan: the same photos, and the same said of them.
    """
    first = sample_request(read_sample_set(sample_folder())[0])
    seen = {1: reading(FACE), 2: as_turned(FACE, (), "end_over_end")}
    photos_of = {1: first.photos_1, 2: first.photos_2}
    faces = {
        photos_of[number][0].name: (scan_board.setup_of(first, number, ()), face)
        for number, face in seen.items()
    }

    def scan(photos, setup, progress, raking):
        (photo,) = photos
        wanted, face = faces[photo.name]
        assert (setup, raking) == (wanted, None)
        return scan_of(face, photo.name)

    monkeypatch.setattr(scan_board, "scan_photos", scan)


def _made_on_the_page(path):
    """Leave a lot as the page does: the board that lies scanned beside it taken in, looked over."""
    lot = open_lot(path)
    fill_from_results(lot, path.parent)
    (board,) = lot.boards()
    for face in board.faces:
        stamp = new_stamp(lot)
        lot.record(Action(stamp, board.id, "looked over", partial(look_over, face=face)))
    lot.close()


@pytest.mark.slow
@pytest.mark.usefixtures("scanned_by_the_demo")
def test_the_first_hour_runs_as_it_is_written(tmp_path, capsys, monkeypatch):
    """All but the page, which stays up until it is stopped and has tests of its own."""
    shutil.copytree(ROOT / "sample_images", tmp_path / "sample_images")
    monkeypatch.chdir(tmp_path)
    done = []
    for line in command_lines(ROOT / "docs" / "first-hour.md"):
        words = shlex.split(line)[1:]
        if words[0] == "page":
            _made_on_the_page(Path(words[-1]))
        else:
            ran = run(capsys, monkeypatch, *words)
            assert ran.status == 0, (line, ran.err)
        done.append(words[0])
    assert done == ["strip", "try", "scan", "page", "place", "stick"]
    layout = read_layout(tmp_path / "layout" / "layout.json")
    assert layout.placements and layout.not_looked_over == ()
    for name in ("strip.pdf", "B01/board.json", "layout/B01-map.pdf", "B01-stick.pdf"):
        assert (tmp_path / name).stat().st_size > 1000, name
