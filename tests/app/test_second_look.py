"""Ends are trimmed and ticked, milling is ticked, and the commands run from files into files."""

import json
from datetime import date

import pytest
from pypdf import PdfReader

from scanner.app.cutting.lasting_ends import (
    exchanges_of,
    survival_lines,
    take_exchange,
    tick_end,
    trim_steps,
)
from scanner.app.cutting.milling_in_lot import (
    batch_views,
    choose,
    late_words,
    measure,
    milling_pdf,
    notes_of,
    set_glue_up,
    tick_step,
)
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot, set_parts
from scanner.errors import ScannerError
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json, read_layout
from scanner.files.parts_list import read_parts
from scanner.placement.shop import Shop
from scanner.placement.validator.judge import validate_layout
from tests.app.placed_lot import PARTS, PLACED
from tests.command import run
from tests.common import plain_board
from tests.lot.laid import layout_of


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(plain_board(looked_over=False), new_stamp(lot))
    set_parts(lot, PARTS, "parts.csv")
    lot.save_layout(layout_of(*PLACED), lot.revision)
    yield lot
    lot.close()


@pytest.fixture
def files(tmp_path):
    (tmp_path / "P01").mkdir()
    (tmp_path / "P01/board.json").write_text(board_json(plain_board()))
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "layout.json").write_text(layout_json(layout_of(*PLACED)))
    return tmp_path


@pytest.fixture
def command(capsys, monkeypatch):
    return lambda *arguments: run(capsys, monkeypatch, *arguments)


def given(files):
    return [str(files / name) for name in ("layout.json", "parts.csv", "P01/board.json")]


def test_ends_nobody_looked_at_are_trimmed_first(lot):
    steps = trim_steps(lot)
    assert [(step.board, step.end, step.is_seen) for step in steps] == [
        ("P01", "A", False), ("P01", "B", False),
    ]  # fmt: skip
    assert steps[0].said.startswith("P01, end A: 50 mm come off; 9 mm more")
    tick_end(lot, "P01", "A", "30 mm")
    assert [step.end for step in trim_steps(lot)] == ["B", "A"]
    assert lot.board("P01").ends["A"].looked_over
    assert lot.board("P01").ends["A"].trim_mm == 30.0


def test_an_end_cannot_lose_half_the_board_or_no_length(lot):
    with pytest.raises(ScannerError, match="more than half"):
        tick_end(lot, "P01", "A", "2 m")
    with pytest.raises(ScannerError) as problem:
        tick_end(lot, "P01", "A", "a bit")
    # One example of how to write it, not two.
    said = 'what came off: "a bit" is no length: type it like 35 mm or 1 3/8 in'
    assert said in str(problem.value) and "23 1/2" not in str(problem.value)
    with pytest.raises(ScannerError, match="no end C"):
        tick_end(lot, "P01", "C", "20")


def test_a_lot_says_where_parts_go_that_an_end_takes(lot):
    said = survival_lines(lot, "P01")
    assert said[0].startswith("P01 end A (nobody looked at it)")
    assert any("12 mm more: " in line and "moves to P01" in line for line in said)


def test_a_part_that_shows_leaves_a_doubtful_end_when_asked(lot):
    (words, *_) = exchanges_of(lot)
    assert words.startswith("front 1 lies at end A of P01, which nobody looked at.")
    take_exchange(lot, words)
    moved = next(p for p in lot.layout().layout.placements if (p.part, p.copy) == ("front", 1))
    assert moved.x_mm >= 150.0 and moved.locked
    with pytest.raises(ScannerError, match="not offered"):
        take_exchange(lot, words)


def test_a_tick_of_the_milling_leaves_the_layout_up_to_date(lot):
    tick_step(lot, "19.0/first", date(2027, 3, 1))
    assert lot.layout().revision == lot.revision
    assert batch_views(lot)[0].steps[0].done == "2027-03-01"
    tick_step(lot, "19.0/first", None)
    assert batch_views(lot)[0].steps[0].done == ""
    with pytest.raises(ScannerError, match="not in the plan"):
        tick_step(lot, "7.0/first", date(2027, 3, 1))


def test_the_plan_follows_what_was_chosen_and_prompts_to_measure(lot):
    choose(lot, over="2 mm", rest_days=7, stickers=False, begin=None)
    set_glue_up(lot, "leg", date(2027, 3, 8))
    (batch,) = batch_views(lot, date(2027, 3, 9))
    assert [step.due for step in batch.steps] == ["2027-03-01", "2027-03-08"]
    assert batch.steps[0].words == "First pass to 21 mm"
    assert len(late_words(lot, date(2027, 3, 9))) == 2
    tick_step(lot, "19.0/first", date(2027, 3, 1))
    assert not batch_views(lot, date(2027, 3, 7))[0].must_measure
    assert batch_views(lot, date(2027, 3, 8))[0].must_measure
    measure(lot, "leg/1/0", "18.2")
    assert any("too thin" in line for line in batch_views(lot)[0].said)
    measure(lot, "leg/1/0", "")
    assert notes_of(lot).measured == {}
    assert milling_pdf(lot).startswith(b"%PDF")


def test_a_choice_that_makes_no_sense_is_refused(lot):
    with pytest.raises(ScannerError, match="more than wood gives"):
        choose(lot, over="40 mm", rest_days=1, stickers=True, begin=None)
    with pytest.raises(ScannerError, match="no rest"):
        choose(lot, over="2 mm", rest_days=-1, stickers=True, begin=None)
    with pytest.raises(ScannerError, match="type it like"):
        measure(lot, "leg/1/0", "thick")


@pytest.mark.slow
def test_assemble_writes_sheets_and_what_was_asked_by_hand(files, command):
    asked = ("--way", "upright", "--order", "2,1", "--flip", "1", "--paper", "letter", "--cost")
    done = command("assemble", *given(files), "--group", "leg", *asked, "-o", str(files / "out"))
    assert done.status == 0, done.err
    assert "All pieces come from one board already" in done.out
    assembled = json.loads((files / "out/assembled.json").read_text())
    assert assembled["not_looked_over"] == []
    (group,) = assembled["groups"]
    assert group["way"] == "upright"
    assert [(p["copy"], p["face"]) for p in group["pieces"]] == [(2, 1), (1, 2)]
    page = PdfReader(files / "out/leg.pdf").pages[0]
    assert [float(page.mediabox.width), float(page.mediabox.height)] == [792.0, 612.0]


def laid(file):
    return {(p.part, p.copy): (p.x_mm, p.show_face) for p in read_layout(file).placements}


@pytest.mark.slow
def test_what_is_asked_of_a_dry_fit_goes_into_the_layout_from_the_command_line(files, command):
    asked = ("assemble", *given(files), "--group", "front")
    before = laid(files / "layout.json")
    done = command(*asked, "--order", "3,2,1", "--flip", "1", "--into-layout", "--slide", "2=-3mm",
                   "--turn", "3", "-o", str(files / "out"))  # fmt: skip
    assert done.status == 0, done.err
    after = laid(files / "out/layout.json")
    # The wood of piece 3 is cut as the first front now, and piece 1, flipped, as the third.
    assert after["front", 1][0] == pytest.approx(before["front", 3][0], abs=0.2)
    assert after["front", 3] == (pytest.approx(before["front", 1][0], abs=0.2), 2)
    assert after["front", 2][0] == pytest.approx(before["front", 2][0] - 3.0, abs=1.1)
    assert validate_layout(read_layout(files / "out/layout.json"), (plain_board(),),
                           read_parts(files / "parts.csv"), Shop()) == ()  # fmt: skip
    (group,) = json.loads((files / "out/assembled.json").read_text())["groups"]
    shown = [(p["copy"], p["face"], p["turned"]) for p in group["pieces"]]
    assert shown == [(1, 1, True), (2, 1, False), (3, 2, False)]
    assert laid(files / "layout.json") == before


@pytest.mark.slow
def test_a_list_in_mm_stays_one_where_the_shop_counts_in_inches(files, command):
    """Its bare figures were taken for inches here, and no part fitted any more."""
    (files / "parts.csv").write_bytes(PARTS.replace("front", "fr\u00f6nt").encode("cp1252"))
    layout = (files / "layout.json").read_text(encoding="utf-8").replace("front", "fr\u00f6nt")
    (files / "layout.json").write_text(layout, encoding="utf-8")
    (files / "shop.toml").write_text(
        'units = "inch"\nlength_allowance_mm = 25\nwidth_allowance_mm = 12\n', encoding="utf-8"
    )
    done = command("assemble", *given(files), "--group", "fr\u00f6nt", "--order", "3,2,1",
                   "--into-layout", "--shop", str(files / "shop.toml"), "-o",
                   str(files / "out"))  # fmt: skip
    assert done.status == 0, done.err
    before, after = laid(files / "layout.json"), laid(files / "out/layout.json")
    assert after["fr\u00f6nt", 1][0] == pytest.approx(before["fr\u00f6nt", 3][0], abs=0.2)


@pytest.mark.slow
def test_what_cannot_be_cut_is_refused_from_the_command_line_too(files, command):
    asked = ("assemble", *given(files), "--group", "front", "-o", str(files / "out"))
    done = command(*asked, "--slide", "3=2m")
    assert done.status == 2 and "may not lie there" in done.err
    done = command(*asked, "--slide", "3")
    assert done.status == 2 and "how far" in done.err
    done = command(*asked, "--slide", "4=10mm")
    assert done.status == 2 and "no piece of front" in done.err
    assert not (files / "out").exists()
    alone = command("assemble", *given(files), "--into-layout", "-o", str(files / "out"))
    assert alone.status == 2 and "--group" in alone.err


def test_a_piece_that_is_not_there_is_refused_in_one_sentence(files, command):
    done = command(
        "assemble", *given(files), "--group", "leg", "--flip", "3", "-o", str(files / "out")
    )
    assert done.status == 2
    assert "no piece of leg" in done.err
    assert not (files / "out").exists()
    lone = command("assemble", *given(files), "--flip", "1", "-o", str(files / "out"))
    assert lone.status == 2 and "--group" in lone.err


@pytest.mark.slow
def test_ends_and_milling_write_what_they_say(files, command):
    done = command("ends", *given(files), "-o", str(files / "ends.json"))
    assert done.status == 0 and "P01 end A (looked at)" in done.out
    assert len(json.loads((files / "ends.json").read_text())["ends"]) == 6
    done = command("milling", *given(files), "--rest", "7", "--glue-up", "leg=2027-03-08", "-o",
               str(files / "mill"))  # fmt: skip
    assert done.status == 0 and "first pass 2027-03-01" in done.out
    milling = json.loads((files / "mill/milling.json").read_text())
    assert milling["not_looked_over"] == []
    (batch,) = milling["batches"]
    assert (batch["first"], batch["final"], batch["glue_up"]) == (22.0, 19.0, "2027-03-08")
    wrong = command(
        "milling", *given(files), "--glue-up", "door=2027-03-08", "-o", str(files / "m")
    )
    assert wrong.status == 2 and "names no part" in wrong.err


def test_savings_offers_and_changes_nothing(files, command):
    before = (files / "parts.csv").read_text(), (files / "layout.json").read_text()
    done = command("savings", *given(files), "--trials", "3", "-o", str(files / "sav"))
    assert done.status == 0, done.err
    assert "Nothing is changed" in done.out
    assert json.loads((files / "sav/savings.json").read_text())["tried"] <= 3
    assert before == ((files / "parts.csv").read_text(), (files / "layout.json").read_text())


def test_results_of_a_folder_can_be_fitted(tmp_path, files):
    lot = open_lot(tmp_path / "other.lot")
    assert fill_from_results(lot, files) == 1
    assert trim_steps(lot)[0].is_seen
    lot.close()
