"""Pairs of photos on the page: proposed, swapped, exchanged; first looks in the background."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import pytest

from scanner.app import propose_pairs
from scanner.app.propose_pairs import PhotoLook
from ui.looks import Looks
from ui.photo_pairs import exchanged

_PATIENCE_S = 20


def test_two_boards_exchange_their_faces_2():
    assert exchanged([("a", "b"), ("c", "d")], 0, "d") == [("a", "d"), ("c", "b")]


def test_a_face_1_taken_for_face_2_leaves_its_partner():
    assert exchanged([("a", "b"), ("c", "d")], 0, "c") == [("a", "c"), ("b", "d")]


def test_a_photo_taken_off_a_board_becomes_a_board():
    assert exchanged([("a", "b"), ("c", "d")], 0, None) == [("a", None), ("b", None), ("c", "d")]


def test_two_lone_photos_become_one_board():
    assert exchanged([("a", None), ("b", None)], 0, "b") == [("a", "b")]


@pytest.mark.parametrize("chosen", ["b", "c", "d", "e", None])
def test_no_photo_is_lost_or_doubled(chosen):
    pairs = exchanged([("a", "b"), ("c", "d"), ("e", None)], 0, chosen)
    named = [name for pair in pairs for name in pair if name is not None]
    assert sorted(named) == ["a", "b", "c", "d", "e"]
    assert pairs[0] == ("a", chosen)


@dataclass
class _Photo:
    file_id: str
    name: str

    def getvalue(self):
        return b"photo"


def _wait(looks):
    end = time.monotonic() + _PATIENCE_S
    while looks.is_looking and time.monotonic() < end:
        time.sleep(0.01)


def test_a_photo_is_looked_at_once_and_a_look_that_breaks_off_keeps_nobody(monkeypatch):
    asked = []

    def look(content, name, rule):
        asked.append((name, rule))
        if name == "bad.jpg":
            raise RuntimeError("broken pool")
        return PhotoLook((4, 1), (), "This photo will do.", True, ())

    monkeypatch.setattr(propose_pairs, "look_at_photo", look)
    with ThreadPoolExecutor(1) as pool:
        looks = Looks(lambda: pool)
        good, bad = _Photo("1", "good.jpg"), _Photo("2", "bad.jpg")
        assert looks.look_of(good, "") is None and looks.look_of(bad, "") is None
        _wait(looks)
        assert looks.look_of(good, "").card == (4, 1)
        assert looks.look_of(bad, "").will_do
        assert asked == [("good.jpg", ""), ("bad.jpg", "")] and looks.done == 2
        # Another rule is another question.
        assert looks.look_of(good, "36 in") is None
        _wait(looks)
        assert looks.look_of(good, "36 in") is not None
