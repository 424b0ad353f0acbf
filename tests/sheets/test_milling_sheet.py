"""The milling sheet: targets, days and boxes for each batch, and nothing over anything."""

from dataclasses import replace

import pytest

from scanner.lot.groups import groups_of
from scanner.lot.lasting_marks import EndMark, LastingMarks, SetMark, lasting_marks
from scanner.lot.milling_plan import MillingChoice, MillingNotes, milling_plan
from scanner.placement.shop import Shop
from scanner.sheets.lasting_marks import face_words
from scanner.sheets.milling_sheet import milling_sheet
from tests.lot.milled import BOARD, PARTS, PLACED, layout_of
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on

NOTES = MillingNotes(
    MillingChoice(rest_days=7), glue_up={"rail": "2027-03-08"}, done={"20.0/first": "2027-03-01"},
    measured={"rail/1/0": 22.4, "rail/2/0": 19.0},
)  # fmt: skip


def sheet(notes=NOTES, units="mm", paper="a4", placements=PLACED):
    plan = milling_plan(layout_of(placements), (BOARD,), PARTS, Shop(), notes)
    return milling_sheet(plan, notes, units, paper)


@pytest.mark.parametrize("is_seen", [False, True])
def test_pieces_of_boards_that_nobody_looked_over_are_milled_with_that_said(is_seen):
    faces = {n: replace(face, looked_over=is_seen) for n, face in BOARD.faces.items()}
    board = replace(BOARD, faces=faces)
    plan = milling_plan(layout_of(), (board,), PARTS, Shop(), NOTES)
    said = " ".join(words_on(milling_sheet(plan, NOTES, "mm", "a4")[0]).split())
    assert (f"NOT LOOKED OVER: {BOARD.id}." in said) is not is_seen


@pytest.mark.parametrize(("units", "paper"), [("mm", "a4"), ("inch", "letter")])
def test_nothing_lies_over_anything_or_off_the_paper(units, paper):
    for page in sheet(units=units, paper=paper):
        assert overlapping_texts(page) == []
        assert texts_off_the_page(page) == []


def test_each_batch_has_its_targets_days_and_setup_piece():
    said = words_on(sheet()[0])
    for words in (
        "1. 20 mm: 3 pieces", "First pass to 23 mm, due 2027-03-01, done 2027-03-01",
        "Final pass to 20 mm, due 2027-03-08, done on", "Glue-up: 2027-03-08",
        "the left-over 400 × 60 mm of P01", "a week", "on stickers", "22.4",
        "Too thin after the rest: rail 2.", "their manuals come first",
    ):  # fmt: skip
        assert words in said, words


def test_a_piece_too_short_for_the_machines_is_named_beside_its_batch():
    least = Shop().shortest_piece_mm
    for length, is_named in ((least, False), (least - 0.1, True)):
        shorter = (replace(PLACED[0], length_mm=length), *PLACED[1:])
        said = words_on(sheet(placements=shorter)[0]).replace("\n", " ")
        words = "Shorter than your jointer and planer take: rail 1. Leave such a part joined"
        assert (words in said) is is_named, length


def test_who_stacks_without_stickers_is_told_to_turn_the_pieces():
    notes = replace(NOTES, choice=MillingChoice(stickers=False))
    assert "turn the pieces over each day" in words_on(sheet(notes)[0])


def test_many_pieces_run_on_over_pages():
    many = tuple(replace(PLACED[0], copy=copy, x_mm=60.0 + copy) for copy in range(1, 70))
    pages = sheet(placements=many)
    assert len(pages) > 1
    assert all(texts_off_the_page(page) == [] for page in pages)
    said = "".join(words_on(page) for page in pages)
    assert "rail 69" in said and said.count("rail 35\n") == 1


def test_with_nothing_to_mill_it_says_so():
    assert "Nothing is left to mill." in words_on(sheet(placements=())[0])


# The rails are a set, to be laid in order; the panel shows face 1, the rest may show either.
MATCHED = tuple(
    replace(part, match="rails:in_order" if part.name == "rail" else "") for part in PARTS
)


def marks(placements=PLACED):
    plan = milling_plan(layout_of(placements), (BOARD,), MATCHED, Shop(), NOTES)
    pieces = [piece for batch in plan.batches for piece in batch.pieces]
    groups = groups_of(layout_of(placements), (BOARD,), MATCHED, Shop())
    return lasting_marks(pieces, placements, groups, MATCHED)


def test_every_end_gets_its_name_and_every_set_its_triangle():
    assert marks() == LastingMarks(
        (
            EndMark("rail 1", "P01", None),
            EndMark("rail 2", "P01", None),
            EndMark("stile", "P01", None),
            EndMark("panel", "P01", 1),
        ),
        (SetMark("rails", ("rail 1", "rail 2")),),
    )


def test_what_is_done_is_marked_no_more():
    done = tuple(replace(p, state="done") if p.part == "rail" else p for p in PLACED)
    assert [end.title for end in marks(done).ends] == ["stile", "panel"]
    assert marks(done).sets == ()


@pytest.mark.parametrize(("units", "paper"), [("mm", "a4"), ("inch", "letter")])
def test_the_sheet_says_how_marks_survive_the_planer(units, paper):
    plan = milling_plan(layout_of(), (BOARD,), MATCHED, Shop(), NOTES)
    pages = milling_sheet(plan, NOTES, units, paper, marks())
    for page in pages:
        assert overlapping_texts(page) == []
        assert texts_off_the_page(page) == []
    said = "".join(words_on(page) for page in pages)
    for words in (
        "marks that survive the planer", "Tick at face 1: panel (P01).",
        "tick the one you choose: rail 1, rail 2, stile.",
        "One triangle across rails: 1 = rail 1, 2 = rail 2.",
    ):  # fmt: skip
        assert words in said, words


def test_a_thick_setup_piece_of_a_batch_of_slices_is_resawn_too():
    sliced = tuple(replace(PLACED[2], copy=copy, layer=copy) for copy in (1, 2))
    thin = tuple(replace(part, thickness_mm=6.0, quantity=2) for part in PARTS)
    plan = milling_plan(layout_of(sliced), (BOARD,), thin, Shop())
    said = " ".join(words_on(milling_sheet(plan, NOTES, "mm", "a4")[0]).split())
    assert "far thicker than this batch: resaw it first, to a little over 8.7 mm" in said
    assert "far thicker" not in " ".join(words_on(sheet()[0]).split())


def test_a_blank_is_resawn_before_the_first_pass_and_shows_its_sawn_faces():
    sliced = tuple(replace(PLACED[2], copy=copy, layer=copy) for copy in (1, 2))
    thin = tuple(replace(part, thickness_mm=8.0, quantity=2) for part in PARTS)
    plan = milling_plan(layout_of(sliced), (BOARD,), thin, Shop())
    said = " ".join(words_on(milling_sheet(plan, NOTES, "mm", "a4")[0]).split())
    assert "Resaw before the first pass: panel 1, slice 1 and panel 2, slice 2, from one" in said
    assert "each should give 8.7 mm" in said
    pieces = plan.batches[0].pieces
    found = lasting_marks(pieces, sliced, (), thin)
    words = ("Tick at the face that the resaw opens: panel 1 (P01), panel 2 (P01).",)
    assert face_words(found) == words
