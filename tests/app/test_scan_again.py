"""More photos of a board of a lot: what was said of it stays, and nothing half-done is left."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from scanner.app.lot import scan_again as errand
from scanner.app.lot.add_board import add_board
from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.scan_again import MorePhotos, scan_again
from scanner.app.nodding.review_flaws import confirm
from scanner.app.scanning.scan_request import TypedOptions
from scanner.board.carry_over import Moves
from scanner.board.flaw import FlawState
from scanner.errors import BoardError, PhotoError
from scanner.storage.lots import Action
from scanner.storage.ticks import Ticks
from tests import common
from tests.app.uploads import photo
from tests.vision.drawn_grain import grain


@pytest.fixture
def lot(empty_lot):
    return empty_lot


def _confirm_first(lot):
    name = lot.board("B01").flaws[0].id
    lot.record(Action(new_stamp(lot), "B01", "kept", lambda board: confirm(board, name)))
    return name


@pytest.fixture
def board(lot, scanned, monkeypatch):
    """B01 of one photo a face, its first flaw confirmed; the wood lies as it lay."""
    monkeypatch.setattr(errand, "_moves", lambda *given: Moves({1: lambda at: at}))
    add_board(lot, photo("front.jpg"), photo("back.jpg"), TypedOptions(species="white ash"))
    _confirm_first(lot)
    return lot.board("B01")


def test_a_further_photo_is_scanned_with_the_earlier_and_what_was_said_stays(
    lot,
    board,
    scanned,
):
    more = {1: MorePhotos((photo("left.jpg"),)), 2: MorePhotos(raking=photo("low.jpg"))}
    scan_again(lot, "B01", more, TypedOptions())
    request = scanned[-1]
    assert [len(request.photos_1), len(request.photos_2)] == [2, 1]
    assert list(request.raking) == [2]
    assert request.thickness == board.thickness and request.species == board.species
    assert [p.name for p in lot.photos("B01")[1]] == ["front.jpg", "left.jpg"]
    states = [flaw.state for flaw in lot.board("B01").flaws]
    assert states.count(FlawState.CONFIRMED) == 1 and len(states) == len(board.flaws)
    lot.undo(new_stamp(lot))
    assert lot.board("B01") == board


def test_what_is_tapped_while_the_scan_goes_on_is_kept_too(lot, board, scanned, monkeypatch):
    def slowly(*given):
        open_one = next(f for f in lot.board("B01").flaws if f.state is FlawState.POSSIBLE)
        lot.record(Action(new_stamp(lot), "B01", "kept", lambda b: confirm(b, open_one.id)))
        return Moves({1: lambda at: at})

    monkeypatch.setattr(errand, "_moves", slowly)
    scan_again(lot, "B01", {1: MorePhotos((photo("left.jpg"),))}, TypedOptions())
    states = [flaw.state for flaw in lot.board("B01").flaws]
    assert states.count(FlawState.CONFIRMED) == 2


def test_a_bad_photo_is_replaced(lot, board, scanned):
    more = {1: MorePhotos((photo("better.jpg"),), instead=True)}
    scan_again(lot, "B01", more, TypedOptions())
    assert [p.name for p in lot.photos("B01")[1]] == ["better.jpg"]
    assert [p.name for p in lot.photos("B01")[2]] == ["back.jpg"]


def test_photos_of_another_board_change_nothing(lot, board, scanned, monkeypatch):
    monkeypatch.undo()
    # The pictures of drawn boards have no grain to go by.
    monkeypatch.setattr(errand, "scan_kept", lambda *given: common.ash_board())
    with pytest.raises(PhotoError, match="too little grain"):
        scan_again(lot, "B01", {1: MorePhotos((photo("other.jpg"),))}, TypedOptions())
    assert lot.board("B01") == board
    assert [p.name for p in lot.photos("B01")[1]] == ["front.jpg"]


def test_a_board_with_cut_parts_is_left_as_it_is(lot, board, scanned):
    placed = replace(common.small_layout().placements[0], board="B01", state="cut")
    lot.tick(new_stamp(lot), "cut", lambda ticks, layouts: Ticks((placed,)))
    with pytest.raises(BoardError, match="cut or locked"):
        scan_again(lot, "B01", {1: MorePhotos((photo("left.jpg"),))}, TypedOptions())


@pytest.mark.slow
def test_the_grain_says_where_the_wood_went(tmp_path, lot):
    board = common.plain_board("B01")
    light = np.clip(grain(5), 0, 255).astype(np.uint8)
    light = np.asarray(Image.fromarray(light).resize((2500, 220)))
    outline = board.faces[1].outline
    named = {}
    for name, pixels in (("old.jpg", light), ("new.jpg", np.roll(light, (2, 3), (0, 1)))):
        Image.fromarray(pixels).convert("RGB").save(tmp_path / name, quality=95)
        face = replace(board.faces[1], picture=name, mm_per_px=1.0, picture_origin=(-20.0, -15.0))
        named[name] = replace(board, faces={**board.faces, 1: face})
    kept = lot.keep_picture((tmp_path / "old.jpg").read_bytes(), "old.jpg")
    old = named["old.jpg"]
    old = replace(old, faces={**old.faces, 1: replace(old.faces[1], picture=kept.file)})
    moves = errand._moves(lot, old, named["new.jpg"], tmp_path)
    x, y = outline.centroid.coords[0]
    assert moves.of(1)(np.array([[x, y]]))[0] == pytest.approx((x + 3, y + 2), abs=1.0)
    assert not moves.turns(old)
