"""What is drawn on a board is held against its layout, line by line."""

import pytest
from shapely.geometry import box

from scanner.lot.drawn_marks import (
    MOST_OFF_MM,
    JudgedLine,
    MarksVerdict,
    WantedLine,
    judge_marks,
    lines_on_wood,
    mistakes_by_part,
    wanted_lines,
)
from scanner.placement.layout import Placement

SIZE = (2000.0, 200.0)
PARTS = (
    Placement("slat", 1, "B01", 100.0, 10.0, 600.0, 80.0),
    Placement("slat", 2, "B01", 100.0, 94.0, 600.0, 80.0),
    Placement("rail", 1, "B01", 900.0, 20.0, 500.0, 120.0),
)


def label(place):
    return f"{place.part} {place.copy}"


def wanted(is_back=False):
    return wanted_lines(PARTS, label, SIZE[1], is_back=is_back)


def judge(drawn, lines=None):
    """Judge against drawn lines: (is across the board, place, from, to)."""

    def offsets(begin, end, reach_mm):
        across = begin[0] == end[0]
        at, low, high = (begin[0], begin[1], end[1]) if across else (begin[1], begin[0], end[0])
        found = []
        for is_across, place, a, b in drawn:
            if is_across == across and min(high, b) - max(low, a) > 0.5 * (high - low):
                off = place - at
                # Left of a line along +y is +x, of one along +x it is -y.
                found.append(off if across else -off)
        return sorted((off for off in found if abs(off) <= reach_mm), key=abs)

    return judge_marks(wanted() if lines is None else lines, offsets, SIZE)


def drawn_right():
    """Return what a careful person draws, one line for two sides a kerf apart."""
    return [
        (True, 100.0, 10.0, 174.0), (True, 700.0, 10.0, 174.0), (False, 10.0, 100.0, 700.0),
        (False, 92.0, 100.0, 700.0), (False, 174.0, 100.0, 700.0), (True, 900.0, 20.0, 140.0),
        (True, 1400.0, 20.0, 140.0), (False, 20.0, 900.0, 1400.0), (False, 140.0, 900.0, 1400.0),
    ]  # fmt: skip


def test_a_careful_drawing_has_no_mistake():
    verdict = judge(drawn_right())
    assert verdict.mistakes == () and verdict.pattern == "planned"


@pytest.mark.parametrize(
    ("off", "says"), [(14.0, "14 mm too near end B"), (-9.0, "9 mm too near end A")]
)
def test_an_end_drawn_off_is_said_with_its_way(off, says):
    drawn = drawn_right()
    drawn[6] = (True, 1400.0 + off, 20.0, 140.0)
    assert judge(drawn).mistakes == (f"rail 1: the line for the end toward B is {says}",)


def test_an_edge_drawn_too_low_is_said_so():
    drawn = drawn_right()
    drawn[7] = (False, 28.0, 900.0, 1400.0)
    (said,) = judge(drawn).mistakes
    assert said == "rail 1: the line for the upper edge is 8 mm too near the lower edge"


def test_what_is_off_by_less_than_chalk_is_wide_is_right():
    drawn = drawn_right()
    drawn[6] = (True, 1400.0 + MOST_OFF_MM - 0.5, 20.0, 140.0)
    assert judge(drawn).mistakes == ()


def test_a_missing_line_is_said_for_both_parts_that_need_it():
    drawn = [line for line in drawn_right() if line[:2] != (False, 92.0)]
    assert judge(drawn).mistakes == (
        "slat 1: no line is seen for the lower edge",
        "slat 2: no line is seen for the upper edge",
    )


def test_a_neighbour_s_line_is_not_taken_for_a_missing_one():
    drawn = [line for line in drawn_right() if line[:2] != (True, 700.0)]
    drawn.append((True, 740.0, 10.0, 174.0))
    assert "slat 1: the line for the end toward B is 40 mm too near end B" in judge(drawn).mistakes


@pytest.mark.parametrize(
    ("turn", "says"),
    [
        (lambda line: (line[0], 2000 - line[1], *line[2:]) if line[0]
         else (line[0], line[1], 2000 - line[3], 2000 - line[2]), "from the wrong end"),
        (lambda line: (line[0], line[1], 200 - line[3], 200 - line[2]) if line[0]
         else (line[0], 200 - line[1], *line[2:]), "as for the other face"),
    ],
)  # fmt: skip
def test_a_drawing_turned_round_is_told_as_one_mistake(turn, says):
    verdict = judge([turn(line) for line in drawn_right()])
    assert verdict.pattern == says
    assert verdict.mistakes == (f"the parts seem drawn {says}: look before you saw",)


def test_on_the_back_the_upper_edge_is_the_front_s_lower_one():
    upper = next(
        line for line in wanted(is_back=True) if (line.part, line.side) == ("rail 1", "upper")
    )
    assert upper.begin == (900.0, 60.0)


def test_a_line_off_the_wood_is_not_asked_for_and_one_half_off_only_where_it_lies_on_it():
    """A curved part's blank of 600 x 120 that reaches 40 mm over the board's lower edge."""
    place = Placement("wedge", 1, "B01", 100.0, 120.0, 600.0, 120.0)
    lines = lines_on_wood(wanted_lines((place,), label, SIZE[1], is_back=False), box(0, 0, *SIZE))
    assert {line.side: line.end for line in lines} == {
        "A": (100.0, 201.0), "B": (700.0, 201.0), "upper": (700.0, 120.0),
    }  # fmt: skip
    assert lines_on_wood(wanted(), box(0, 0, *SIZE)) == wanted()


@pytest.mark.parametrize(("at", "is_right"), [(98.5, True), (106.5, False)])
def test_one_line_in_a_wide_kerf_serves_the_parts_on_both_its_sides(at, is_right):
    """Strips 8 mm apart: nearer to one than to the other, but within neither."""
    parts = (
        Placement("slat", 1, "B01", 100.0, 10.0, 600.0, 82.0),
        Placement("slat", 2, "B01", 100.0, 100.0, 600.0, 80.0),
    )
    drawn = [(True, x, 10.0, 180.0) for x in (100.0, 700.0)]
    drawn += [(False, y, 100.0, 700.0) for y in (10.0, at, 180.0)]
    verdict = judge(drawn, wanted_lines(parts, label, SIZE[1], is_back=False))
    assert (verdict.mistakes == ()) == is_right


def seen(**offs_by_part):
    """Return what is said where the four sides of parts are seen so far off; None: not seen."""
    return mistakes_by_part(
        MarksVerdict(
            tuple(
                JudgedLine(WantedLine(part, side, (0, 0), (1, 0)), off)
                for part, offs in offs_by_part.items()
                for side, off in zip(("A", "B", "upper", "lower"), offs, strict=True)
            ),
            "planned",
        )
    )


def test_a_streak_here_and_there_on_bare_wood_is_no_drawing_and_one_drawn_part_is():
    nothing, streak = (None,) * 4, (None, None, -21.0, None)
    (said,) = seen(rail=streak, leg=nothing, slat=(None, None, None, 17.0))
    assert said.startswith("hardly a line is seen: was this photo taken before the parts were")
    # Of five parts one is drawn, one side of it 9 mm off.
    said = seen(rail=(0.0, 9.0, -1.0, None), leg=nothing, slat=nothing, cleat=nothing, top=nothing)
    assert "rail: the line for the end toward B is 9 mm too near end B" in said
    assert "leg: none of its lines is seen" in said and len(said) == 6
    # Half of what is wanted is no streak any more.
    assert "rail: no line is seen for the upper edge" in seen(rail=(0.0, 0.0, None, None))
