"""Boards typed in as a list."""

from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.errors import BoardError, PartsListError
from scanner.files.boards_list import boards_csv, boards_of_text
from scanner.files.parts_list import read_parts_text
from scanner.placement.rules.flaws import weakens
from tests.common import ash_board, walnut_board

HEADER = "id,thickness,length,width,species,flaws\n"
IN = 25.4


def one(row, units="inch"):
    (board,) = boards_of_text(HEADER + row, "boards.csv", units)
    return board


def test_a_typed_board_is_as_good_as_a_scanned_one():
    flaws = "knot both 12 to 14 by 2 to 3 1/2 sound | check 1 0 to 5 by 3 to 3 1/4"
    board = one(f"B07,5/4,8',7 1/4,walnut,{flaws}")
    assert (board.id, board.species) == ("B07", "walnut")
    assert board.length.value_mm == pytest.approx(96 * IN)
    assert board.faces[1].outline.equals(box(0, 0, 96 * IN, 7.25 * IN))
    # 5/4 as sold: 1 1/4 in and 1.6 mm, U 2 mm.
    assert (board.thickness.value_mm, board.thickness.u_mm) == pytest.approx((1.25 * IN + 1.6, 2.0))
    knot, check = board.flaws
    assert (knot.kind, knot.sound, knot.is_through) == (FlawKind.KNOT, True, True)
    assert knot.outlines[2].bounds == pytest.approx((12 * IN, 2 * IN, 14 * IN, 3.5 * IN))
    assert (check.kind, set(check.outlines), check.state) == (FlawKind.CHECK, {1}, FlawState.ADDED)
    assert not board.is_looked_over


@pytest.mark.parametrize(("word", "sound"), [("", None), (" sound", True), (" unsound", False)])
def test_a_knot_is_as_sound_as_the_list_says_there_and_back(word, sound):
    board = one(f"B1,4/4,96,8,ash,knot 2 10 to 12 by 1 to 3{word}")
    assert board.flaws[0].sound is sound
    (back,) = boards_of_text(boards_csv([board]), "boards.csv")
    assert back.flaws[0].sound is sound


def test_a_knot_that_nobody_calls_sound_counts_as_not_sound():
    assert weakens(one("B1,4/4,96,8,ash,knot 2 10 to 12 by 1 to 3").flaws[0])


def test_numbers_may_carry_their_own_unit_and_tables_semicolons():
    text = "id;thickness;length;width;looked_over\nB1;27 mm;2,44 m;18,5 cm;yes\n"
    (board,) = boards_of_text(text, "boards.csv", "inch")
    assert board.length.value_mm == pytest.approx(2440)
    assert board.widths[0].width.value_mm == pytest.approx(185)
    assert board.is_looked_over and board.ends["A"].looked_over


def test_what_is_written_reads_back_to_the_tenth():
    scanned = (ash_board(), walnut_board())
    back = boards_of_text(boards_csv(scanned), "boards.csv")
    for before, after in zip(scanned, back, strict=True):
        assert after.id == before.id
        assert after.length.value_mm == pytest.approx(before.length.value_mm, abs=0.06)
        counting = [flaw for flaw in before.flaws if flaw.counts]
        assert [flaw.kind for flaw in after.flaws] == [flaw.kind for flaw in counting]
        left = before.faces[1].outline.bounds[0]
        for old, new in zip(counting, after.flaws, strict=True):
            assert set(new.outlines) == set(old.outlines)
            x0, _, x1, _ = new.outlines[min(new.outlines)].bounds
            every = [shape.bounds for shape in old.outlines.values()]
            assert x0 == pytest.approx(max(min(b[0] for b in every) - left, 0), abs=0.06)
            assert x1 == pytest.approx(
                min(max(b[2] for b in every) - left, after.length.value_mm), abs=0.06
            )


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("B1,4/4,96,,ash,", "row 2, column width is empty"),
        ("B1,4/4,wide,8,ash,", "column length"),
        ("B1,4/4,-96,8,ash,", "must be more than 0"),
        ("B1,4/4,96,8,ash,big knot", "is no flaw: write it like knot both"),
        ("B1,4/4,96,8,ash,dent 1 2 to 3 by 1 to 2", "is no kind of flaw"),
        ("B1,4/4,96,8,ash,knot 1 5 to 3 by 1 to 2", "ends before it starts"),
        ("B1,4/4,96,8,ash,knot 1 98 to 99 by 1 to 2", "beyond the board"),
        ("B1,4/4,96,8,ash,check 1 2 to 3 by 1 to 2 sound", "only a knot"),
        ("B1,4/4,96,8,ash,\nB1,4/4,96,8,ash,", "also the id of a row above"),
        ("B1,4/4,96,8,ash,\nb1,4/4,96,8,ash,", '"b1" is also the id of a row above (B1)'),
        ("B1,4/4,96,200,ash,", '"200" is over 118 1/8 in, wider than any board'),
        ("B1,4/4,1000,8,ash,", "over 20 m"),
        ("B1,4/4,3,8,ash,", '"3" is under 3 15/16 in, shorter than any board'),
        ("../B1,4/4,96,8,ash,", "column id"),
        ("", "has no boards"),
    ],
)
def test_bad_input_is_one_sentence_that_names_the_place(row, words):
    with pytest.raises(BoardError, match=r"boards\.csv") as problem:
        one(row)
    assert words in str(problem.value)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("B1,4/4,96,8,ash,", '"96" is under 100 mm, shorter than any board (is the unit missing'),
        ("B1,4/4,2.438,180,ash,", '"2.438" is under 100 mm, shorter than any board (is 2438 mm'),
        ("B1,4/4,120,8,ash,", '"8" is under 15 mm, narrower than any board (is the unit missing'),
        ("B1,4/4,2400,3001,ash,", '"3001" is over 3000 mm, wider'),
    ],
)
def test_a_list_in_inches_is_not_read_as_boards_of_millimetres(row, words):
    with pytest.raises(BoardError) as problem:
        one(row, "mm")
    assert words in str(problem.value)


def test_an_unknown_column_is_refused_with_the_one_that_was_meant():
    with pytest.raises(BoardError, match="write width"):
        boards_of_text("id,thickness,length,with\nB1,4/4,96,8\n", "boards.csv")


def test_a_board_may_be_kept_whole_or_for_some_parts():
    head = "id,thickness,length,width,only_parts,keep_whole\n"
    text = head + "B1,27,900,90,shelf | bench leg,\nB2,27,900,90,,yes\n"
    first, second = boards_of_text(text, "boards.csv")
    assert (first.only_parts, first.keep_whole) == (("shelf", "bench leg"), False)
    assert (second.only_parts, second.keep_whole) == (None, True)
    again = boards_of_text(boards_csv((first, second)), "boards.csv")
    assert [(b.only_parts, b.keep_whole) for b in again] == [
        (("shelf", "bench leg"), False),
        (None, True),
    ]


@pytest.mark.parametrize("id", ["B01.2", "\u00c41", "x" * 40, "7"])
def test_what_is_written_of_any_board_can_be_read(id):
    """A list of boards with such ids, of a given board that cost nothing, was refused again."""
    board = replace(ash_board(), id=id, species="white ash of " + "a long name " * 9, price=0.0)
    (back,) = boards_of_text(boards_csv([board]), "boards.csv")
    assert (back.id, back.species, back.price) == (id, board.species.strip(), 0.0)


@pytest.mark.parametrize("price", [8.12, 1200.0, 12345.67, 1_000_000.0])
def test_a_price_is_written_to_the_cent_and_read_as_the_same(price):
    """12345.67 was written as 12345.7, and a million as 1e+06."""
    (back,) = boards_of_text(boards_csv([replace(ash_board(), price=price)]), "boards.csv")
    assert back.price == price


def test_a_flaw_at_the_wide_end_of_a_tapering_board_is_written_so_that_it_can_be_read():
    """A list knows one width; what lies beyond it was said to lie beyond the board."""
    shape = Polygon([(0, 0), (1000, 60), (1000, 140), (0, 200)])
    wane = Flaw("F1", FlawKind.WANE, {1: box(0, 185, 200, 200)}, state=FlawState.CONFIRMED)
    far = Flaw("F2", FlawKind.WANE, {1: box(-5, 203, 40, 206)}, state=FlawState.CONFIRMED)
    faces = {n: replace(face, outline=shape) for n, face in ash_board().faces.items()}
    widths = tuple(Station(x, Measured(200 - 0.12 * x, 1.0)) for x in (40, 270, 500, 730, 960))
    board = replace(ash_board(), length=Measured(1000.0, 2.0), faces=faces, widths=widths,
                    flaws=(wane, far))  # fmt: skip
    (back,) = boards_of_text(boards_csv([board]), "boards.csv")
    assert len(back.flaws) == 2
    for flaw in back.flaws:
        assert flaw.outlines[1].area > 0
        assert back.faces[1].outline.covers(flaw.outlines[1])


def test_a_hair_crack_is_written_so_that_it_can_be_read():
    shape = box(100.02, 50.01, 300, 50.04)
    crack = Flaw("F1", FlawKind.CHECK, {1: shape}, state=FlawState.CONFIRMED)
    (back,) = boards_of_text(boards_csv([replace(ash_board(), flaws=(crack,))]), "boards.csv")
    assert back.flaws[0].outlines[1].bounds == pytest.approx((100, 50, 300, 50.1), abs=0.01)


def test_a_board_sold_as_a_class_is_not_written_out_as_measured():
    text = HEADER + "B1,5/4,2440 mm,200 mm,white ash,\nB2,27 mm,2440 mm,200 mm,white ash,\n"
    boards = boards_of_text(text, "boards.csv")
    again = boards_of_text(boards_csv(boards), "boards.csv")
    assert [(b.thickness.value_mm, b.thickness.u_mm) for b in again] == [
        (b.thickness.value_mm, b.thickness.u_mm) for b in boards
    ]
    assert again[0].thickness.u_mm == 2.0 and again[1].thickness.u_mm == 1.0


def test_the_other_list_is_called_by_its_name():
    parts = "name,quantity,length,width,thickness,faces\nrail,2,600,80,20,both\n"
    with pytest.raises(BoardError, match="is a parts list: give a list of boards here"):
        boards_of_text(parts, "parts.csv")
    with pytest.raises(PartsListError, match="is a list of boards: give a parts list here"):
        read_parts_text(HEADER + "B1,4/4,96,8,white ash,\n", "boards.csv")
    # A list that merely has one column too many is still its own.
    with pytest.raises(BoardError, match='unknown column "quantity"'):
        boards_of_text("id,thickness,length,width,quantity,name\nB1,4/4,96,8,1,x\n", "boards.csv")
