"""Pieces of a group are flipped, turned, swapped and slid; the layout follows or says why not."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from scanner.app.cutting.tick_parts import tick
from scanner.app.fitting.fit_by_hand import flip, put_together, slide, swap, take_proposal, turn
from scanner.app.fitting.fit_in_lot import (
    fit_pdf,
    fit_view,
    group_titles,
    kept_price,
    look_for_price,
    notes_of,
)
from scanner.app.lot.open_lot import new_stamp, open_lot, set_parts
from scanner.app.take_outbox import take_outbox
from scanner.errors import ScannerError
from scanner.vision.looks.joint_look import MM_PER_PX
from tests.app.placed_lot import placed
from tests.common import plain_board
from tests.lot.laid import layout_of, streaky


@pytest.fixture
def lot(placed_lot):
    return placed_lot


def where(lot, part, copy):
    found = next(p for p in lot.layout().layout.placements if (p.part, p.copy) == (part, copy))
    return found.x_mm, found.y_mm, found.show_face


def lies(lot, title):
    return [piece.lies for piece in fit_view(lot, title).pieces]


def is_current(lot):
    return lot.layout().revision == lot.revision


def test_every_group_of_the_layout_is_there(lot):
    assert group_titles(lot) == ("front", "leg")
    view = fit_view(lot, "front")
    assert [piece.title for piece in view.pieces] == ["front 1", "front 2", "front 3"]
    assert view.drawn[0].place[:2] == (0.0, 0.0)
    # The drawn piece begins where it lies on its board.
    for piece in view.drawn:
        a, b, c, d, e, f = piece.piece_from_board
        x, y = piece.corner
        assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_a_piece_turned_end_for_end_is_noted_and_cut_as_before(lot):
    turn(lot, "leg", 2)
    assert lies(lot, "leg") == ["face 1 up, end A at the left", "face 1 up, end B at the left"]
    assert is_current(lot)
    turn(lot, "leg", 2)
    assert len(notes_of(lot).lies) == 1


def test_a_piece_clear_on_both_faces_is_flipped_without_a_new_layout(lot):
    flip(lot, "leg", 1)
    assert lies(lot, "leg")[0] == "face 2 up, end A at the left"
    assert is_current(lot)


def test_flipping_a_part_with_a_show_face_goes_into_the_layout(lot):
    flip(lot, "front", 1)
    assert where(lot, "front", 1)[2] == 2
    assert lies(lot, "front")[0].startswith("face 2 up")


def test_a_face_with_a_knot_in_it_is_refused_with_the_reason(lot):
    with pytest.raises(ScannerError, match="F1"):
        flip(lot, "front", 2)
    assert where(lot, "front", 2)[2] == 1


def test_swapped_pieces_are_cut_where_the_other_lay(lot):
    turn(lot, "front", 1)
    swap(lot, "front", 1, 3)
    assert where(lot, "front", 1)[0] == pytest.approx(940.0, abs=0.2)
    assert where(lot, "front", 3)[0] == pytest.approx(60.0, abs=0.2)
    # The turn was said of the wood, which is the third piece now.
    assert [line.split(", ")[1] for line in lies(lot, "front")] == [
        "end A at the left", "end A at the left", "end B at the left",
    ]  # fmt: skip


def test_a_cut_piece_is_not_swapped(lot):
    tick(lot, new_stamp(lot), ("front", 1), "P01", (60.0, 5.0), "cut")
    with pytest.raises(ScannerError, match="cut already"):
        swap(lot, "front", 1, 2)


def test_a_slid_piece_keeps_its_lie(lot):
    turn(lot, "front", 3)
    slide(lot, "front", 3, "35 mm")
    assert where(lot, "front", 3)[0] == pytest.approx(975.0, abs=1.1)
    assert lies(lot, "front")[2].endswith("end B at the left")
    slide(lot, "front", 3, "-20")
    assert where(lot, "front", 3)[0] == pytest.approx(955.0, abs=2.2)


def said_of_a_piece(lot, to, number, **more):
    corner = list(fit_view(lot, "leg").drawn[number - 1].corner)
    ring = [corner, more.pop("slid", corner)]
    op = {"id": f"operation-{to}", "client": "a-window", "base": lot.revision, "verb": "fit"}
    return {"ops": [op | {"to": to, "other": "leg", "copy": number, "ring": ring} | more]}


def test_a_piece_slid_under_a_finger_goes_into_the_layout_once(lot):
    before = where(lot, "leg", 2)
    outbox = said_of_a_piece(lot, "slide", 2, slid=[30.0, 0.0])
    answers = {}
    (answer,) = take_outbox(lot, outbox, answers)
    assert answer.status == "done"
    after = where(lot, "leg", 2)
    assert after[0] - before[0] == pytest.approx(30.0)
    take_outbox(lot, outbox, answers)
    # A server started anew knows no answers.
    assert take_outbox(lot, outbox, {})[0].status == "known"
    assert where(lot, "leg", 2) == after


def test_a_piece_is_turned_by_a_window_once(lot):
    outbox = said_of_a_piece(lot, "turn", 2)
    for _ in range(2):
        (answer,) = take_outbox(lot, outbox, {})
    assert answer.status == "known"
    assert lies(lot, "leg")[1] == "face 1 up, end B at the left"


def test_what_cannot_be_done_to_a_piece_is_refused(lot):
    (answer,) = take_outbox(lot, said_of_a_piece(lot, "paint", 1), {})
    assert answer.status == "refused"


def test_a_piece_is_not_slid_off_its_board(lot):
    with pytest.raises(ScannerError, match="may not lie there"):
        slide(lot, "front", 3, "2 m")
    with pytest.raises(ScannerError, match="how far"):
        slide(lot, "front", 3, "a bit")


def test_how_a_group_is_put_together_is_kept(lot):
    put_together(lot, "leg", "upright")
    assert fit_view(lot, "leg").way == "upright"
    with pytest.raises(ScannerError, match="no way"):
        put_together(lot, "leg", "in a heap")


def test_a_flip_that_another_window_overtook_leaves_no_note(lot):
    late = new_stamp(lot)
    flip(lot, "front", 1)
    after = lot.revision, lies(lot, "front")
    assert flip(lot, "front", 1, late).status == "stale"
    assert (lot.revision, lies(lot, "front")) == after


def test_one_undo_takes_a_slide_or_a_flip_back_with_what_was_noted_of_it(lot):
    turn(lot, "front", 3)
    before, lay = where(lot, "front", 3), lies(lot, "front")
    for change in (lambda: slide(lot, "front", 3, "40 mm"), lambda: flip(lot, "front", 3)):
        change()
        after, lies_after = where(lot, "front", 3), lies(lot, "front")
        assert after != before and lies_after[2].endswith("end B at the left")
        lot.undo(new_stamp(lot))
        assert (where(lot, "front", 3), lies(lot, "front")) == (before, lay)
        lot.redo(new_stamp(lot))
        assert (where(lot, "front", 3), lies(lot, "front")) == (after, lies_after)
        lot.undo(new_stamp(lot))


def test_undo_takes_a_turn_back(lot):
    turn(lot, "leg", 2)
    lot.undo(new_stamp(lot))
    assert lies(lot, "leg")[1].endswith("end A at the left")


def test_without_pictures_there_is_nothing_to_propose(lot):
    assert not fit_view(lot, "leg").has_proposal
    with pytest.raises(ScannerError, match="nothing matches better"):
        take_proposal(lot, "leg")


def test_what_a_better_match_costs_is_kept_until_the_layout_changes(lot):
    look_for_price(lot, "leg")
    assert kept_price(lot, "leg") == (
        "All pieces come from one board already: the best match there is for no wood.",
    )
    assert kept_price(lot, "front") == ()
    swap(lot, "leg", 1, 2)
    assert kept_price(lot, "leg") == ()


@pytest.fixture
def photographed(tmp_path):
    """Four fronts along one board whose photographed wood is four slices of one, out of order."""
    wood, order = streaky(4), (2, 0, 3, 1)
    size = (round(2438.4 / MM_PER_PX), round(203.2 / MM_PER_PX))
    flat = Image.new("RGB", size, (200, 180, 150))
    starts = (60.0, 500.0, 940.0, 1380.0)
    for x, k in zip(starts, order, strict=True):
        piece = Image.fromarray(wood[k * 80 + 6 : k * 80 + 86])
        flat.paste(piece, (round((x + 12.5) / MM_PER_PX), round(11.0 / MM_PER_PX)))
    packed = io.BytesIO()
    flat.save(packed, "PNG")
    lot = open_lot(tmp_path / "slices.lot")
    stored = lot.keep_picture(packed.getvalue(), "face.png")
    board = plain_board()
    # Both faces: which one is up must not matter.
    face = replace(
        board.faces[1], picture=stored.file, mm_per_px=MM_PER_PX, picture_origin=(0.0, 0.0)
    )
    lot.save_board(replace(board, faces={1: face, 2: board.faces[2]}), new_stamp(lot))
    set_parts(lot, "name,quantity,length,width,thickness,faces\nfront,4,400,60,19,show\n", "p.csv")
    fronts = [placed("front", n, x, 5.0, (425.0, 72.0), 1) for n, x in enumerate(starts, 1)]
    lot.save_layout(layout_of(*fronts), lot.revision)
    yield lot, dict(zip(starts, order, strict=True))
    lot.close()


@pytest.mark.slow
def test_the_order_proposed_is_taken_into_the_layout(photographed):
    lot, slice_at = photographed
    assert fit_view(lot, "front").has_proposal
    take_proposal(lot, "front")
    assert not fit_view(lot, "front").has_proposal
    found = [where(lot, "front", copy)[0] for copy in (1, 2, 3, 4)]
    # Each front is cut where the wood of its place in the row lies.
    slices = [slice_at[min(slice_at, key=lambda x, at=at: abs(x - at))] for at in found]
    assert slices in ([0, 1, 2, 3], [3, 2, 1, 0])


@pytest.mark.slow
def test_the_sheet_is_a_pdf_of_the_group(lot):
    assert fit_pdf(lot, "leg").startswith(b"%PDF")


def test_a_group_that_is_gone_is_said(lot):
    with pytest.raises(ScannerError, match="there is no group"):
        fit_view(lot, "door")
