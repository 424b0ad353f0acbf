"""Pairs of photos on the page: proposed, swapped, exchanged; first looks in the background."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import pytest

from scanner.app.lot import propose_pairs
from scanner.app.lot.propose_pairs import PhotoLook
from ui.looks import Looks
from ui.photo_pairs import put

_PATIENCE_S = 240


_BOARDS = [(("a",), ("b",)), (("c",), ("d",))]


def test_a_photo_put_to_a_face_that_has_one_is_a_further_photo_of_it():
    assert put(_BOARDS, "d", (0, 2)) == [(("a",), ("b", "d")), (("c",), ())]


def test_a_board_that_loses_its_face_1_begins_with_its_other_face():
    assert put(_BOARDS, "c", (0, 1)) == [(("a", "c"), ("b",)), (("d",), ())]


def test_a_photo_taken_off_a_board_becomes_a_board():
    assert put(_BOARDS, "b", None) == [(("a",), ()), (("b",), ()), (("c",), ("d",))]


def test_the_last_photo_of_a_board_takes_the_board_along():
    assert put([(("a",), ()), (("b",), ())], "b", (0, 2)) == [(("a",), ("b",))]
    # It is a board of its own already.
    assert put([(("a",), ())], "a", None) == [(("a",), ())]


@pytest.mark.parametrize("spot", [(0, 1), (0, 2), (1, 1), (1, 2), (2, 1), (2, 2), None])
@pytest.mark.parametrize("name", "abcde")
def test_no_photo_is_lost_or_doubled(name, spot):
    boards = put([*_BOARDS, (("e",), ())], name, spot)
    named = [one for board in boards for face in board for one in face]
    assert sorted(named) == ["a", "b", "c", "d", "e"]
    assert all(first for first, _ in boards)


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
        looks = Looks(pool.submit)
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
