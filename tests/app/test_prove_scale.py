"""``trust``: boards taped after the scan tell whether U holds with this phone."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.files.board_file import board_json
from scanner.files.camera_profiles import PhoneProfile, read_profiles, write_profiles
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from tests.command import run
from tests.common import ash_board


@pytest.fixture
def bench(tmp_path):
    phone = LensEvidence(Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4), np.zeros(4))
    write_profiles(tmp_path / "phones.json", [PhoneProfile(phone, ("B01", "B02", "B03"))])
    for name in ("B01", "B02", "B03", "B09"):
        board = replace(ash_board(), id=name, length=Measured(2440.0, 4.0))
        (tmp_path / f"{name}.json").write_text(board_json(board))
    return tmp_path


def test_three_boards_inside_u_are_said_to_hold_and_kept(bench, capsys, monkeypatch):
    taped = [f"{bench / name}.json=2441mm" for name in ("B01", "B02", "B03")]
    ran = run(capsys, monkeypatch, "trust", *taped, "--profile", bench / "phones.json")
    assert ran.status == 0
    assert "U held on all 3 boards taped so far with Maker Phone 7." in ran.out
    (phone,) = read_profiles(bench / "phones.json")
    assert [proof.held for proof in phone.proofs] == [True] * 3


def test_one_board_outside_u_is_named_and_told_what_to_do(bench, capsys, monkeypatch):
    ran = run(
        capsys, monkeypatch, "trust", f"{bench}/B01.json=2460mm", "--profile", bench / "phones.json"
    )
    assert ran.status == 0
    assert "DID NOT HOLD" in ran.out
    assert "tape the strip" in ran.out


def test_two_boards_ask_for_a_third_and_a_second_taping_replaces_the_first(
    bench, capsys, monkeypatch
):
    for length in ("2460mm", "2441mm"):
        ran = run(
            capsys,
            monkeypatch,
            "trust",
            f"{bench}/B01.json={length}",
            "--profile",
            bench / "phones.json",
        )
    assert "tape 2 more" in ran.out


@pytest.mark.parametrize(
    ("taped", "word"), [("B09.json=2440mm", "B09"), ("B01.json", "taped length")]
)
def test_a_board_of_no_known_phone_or_without_a_length_is_refused(
    bench, capsys, monkeypatch, taped, word
):
    before = (bench / "phones.json").read_bytes()
    ran = run(capsys, monkeypatch, "trust", f"{bench}/{taped}", "--profile", bench / "phones.json")
    assert ran.status == 2
    assert word in ran.sentence
    assert (bench / "phones.json").read_bytes() == before
