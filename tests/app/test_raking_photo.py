"""A photo under a low lamp in a request: whose face it is, and where it has no effect."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from scanner.app.scanning import scan_board as errand
from scanner.app.scanning.scan_request import TypedOptions, scan_request
from scanner.errors import SettingsError
from tests.command import run

LOW = TypedOptions(raking_1="low-front.jpg", raking_2="low-back.jpg")


def test_each_low_lamp_photo_goes_with_its_face():
    request = scan_request("B01", Path("front.jpg"), Path("back.jpg"), LOW)
    assert request.raking == {1: Path("low-front.jpg"), 2: Path("low-back.jpg")}
    assert scan_request("B01", Path("front.jpg"), None, TypedOptions()).raking == {}


def test_one_of_a_face_that_was_not_photographed_is_refused():
    with pytest.raises(SettingsError, match="--raking2 has no effect"):
        scan_request("B01", Path("front.jpg"), None, replace(LOW, raking_1=None))


def test_low_lamp_photos_follow_their_faces_when_the_cards_exchange_them(monkeypatch, tmp_path):
    asked = []

    def scan_photos(paths, setup, progress=None, raking=None):
        asked.append((paths[0].name, raking and raking.name))
        card = (1, 2 if paths[0].name == "front.jpg" else 1)
        return SimpleNamespace(card=card, lens=None)

    monkeypatch.setattr(errand, "scan_photos", scan_photos)
    monkeypatch.setattr(errand, "save_board", lambda *_: SimpleNamespace(id="B01", notes=()))
    request = scan_request("B01", Path("front.jpg"), Path("back.jpg"), LOW)
    errand.scan_board(request, tmp_path)
    assert set(asked[:2]) == {("front.jpg", "low-front.jpg"), ("back.jpg", "low-back.jpg")}
    assert set(asked) == set(asked[:2])


def test_a_whole_folder_takes_no_low_lamp_photo(capsys, monkeypatch, tmp_path):
    ran = run(capsys, monkeypatch, "scan", "--all", tmp_path, "--raking1", "low.jpg")
    assert ran.status == 2
    assert "--raking1 belongs to one board" in ran.err
