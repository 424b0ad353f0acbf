"""The demo's road with its scans stood in for, and what it keeps of an earlier one."""

from contextlib import contextmanager
from dataclasses import replace

import pytest

from scanner.app import demo, scan_sample
from scanner.app.demo import run_demo, sample_folder, sample_request, set_aside
from scanner.app.scanning.scan_board import ScanResult
from scanner.errors import BoardError, FileError, PhotoError
from scanner.files.board_file import board_json
from scanner.files.sample_set import read_sample_set
from tests.common import plain_board


def test_an_earlier_lot_is_kept_under_another_name_with_its_photos(tmp_path):
    (tmp_path / "demo.lot").write_text("what the user said")
    (tmp_path / "demo.lot-photos").mkdir()
    (tmp_path / "demo.lot-photos" / "a.jpg").write_text("photo")
    aside = set_aside(tmp_path / "demo.lot")
    assert aside is not None
    assert aside.read_text() == "what the user said"
    assert (tmp_path / f"{aside.name}-photos" / "a.jpg").read_text() == "photo"
    assert not (tmp_path / "demo.lot").exists()


def test_a_first_demo_has_nothing_to_keep(tmp_path):
    assert set_aside(tmp_path / "demo.lot") is None


@contextmanager
def quiet_bar(name):
    yield lambda step, share: None


def scans_all_but(*refused):
    """Return what stands in for a scan: a plain board, or the refusal of a photo."""

    def scan(request, folder, progress, pool=None):
        progress("looking", 0.5)
        if request.id in refused:
            raise PhotoError("B01-front.jpg is not a picture", "give another photo")
        folder.mkdir(parents=True, exist_ok=True)
        board = replace(plain_board(looked_over=False), id=request.id, species=request.species)
        (folder / "board.json").write_text(board_json(board))
        return ScanResult(board, folder, ("the light is flat",))

    return scan


@pytest.mark.slow
def test_one_bad_photo_stops_no_demo(tmp_path, monkeypatch, no_sheets):
    first, *others = (sample.id for sample in read_sample_set(sample_folder()))
    monkeypatch.setattr(demo, "scan_board", scans_all_but(first))
    monkeypatch.setattr(demo, "warm_up", lambda: None)
    monkeypatch.setattr(demo, "_SEARCH_SECONDS", 0.01)
    said = []
    boards, layout = run_demo(tmp_path, say=said.append, bar=quiet_bar)
    assert [board.id for board in boards] == others
    assert set(layout.not_looked_over) <= set(others) and layout.placements
    assert any(line.startswith(f"{first} could not be scanned. B01-front.jpg") for line in said)
    assert said[-1] == f"Not scanned: {first}; the layout does without."
    assert "  note: the light is flat" in said
    assert {"layout.json", "parts.csv"} <= {path.name for path in tmp_path.iterdir()}


def test_a_demo_without_any_board_is_refused(tmp_path, monkeypatch):
    every = [sample.id for sample in read_sample_set(sample_folder())]
    monkeypatch.setattr(demo, "scan_board", scans_all_but(*every))
    with pytest.raises(BoardError, match="no sample board could be scanned"):
        run_demo(tmp_path, say=lambda line: None, bar=quiet_bar)


def test_without_samples_the_sentence_says_where_they_are(monkeypatch):
    monkeypatch.setattr(demo, "find_samples", lambda: None)
    with pytest.raises(FileError, match="no sample_images folder here"):
        sample_folder()


def test_a_sample_opened_twice_scans_only_what_is_missing(empty_lot, monkeypatch):
    asked = []
    scan = scans_all_but()

    def counted(request, folder, progress):
        asked.append(request.id)
        return scan(request, folder, progress)

    monkeypatch.setattr(scan_sample, "scan_board", counted)
    steps = []
    for _ in range(2):
        scan_sample.scan_sample(empty_lot, lambda step, share: steps.append((step, share)))
    every = [sample.id for sample in read_sample_set(sample_folder())]
    assert asked == every == [board.id for board in empty_lot.boards()]
    assert steps[0][0] == f"{every[0]}, looking" and steps[-1] == ("done", 1.0)
    assert empty_lot.parts_text().name == "parts.csv"


def test_a_sample_s_request_holds_what_a_person_would_type():
    for sample in read_sample_set(sample_folder()):
        request = sample_request(sample)
        assert request.species == sample.species
        assert len(request.photos_1) == len(sample.photos_1)
        assert len(request.photos_2) == len(sample.photos_2)
