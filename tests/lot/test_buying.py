"""How much to buy: drawn boards follow what is published, trials end where everything fits.

Published means: Wiedenbeck, Gatchell and Walker 1995 (surface measure, flaw area, pith, crook);
Wiedenbeck, Brown and Bennett 2003 (odd lengths).
"""

import numpy as np
import pytest

from scanner.board.flaw import FlawKind
from scanner.lot.buying import MOST_BOARDS, OWN, ChanceCurve, Trial, everything_fits, run_trial
from scanner.lot.buying_words import buying_lines
from scanner.lot.need import needs_of
from scanner.lot.yard import GRADES, draw_board
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.units import inches_from_mm
from tests.common import plain_board

_BOARDS = 400


# Two grades far apart at once; the others in the whole suite.
_AT_ONCE = ("2A", "FAS")


@pytest.fixture(
    scope="module",
    params=[
        name if name in _AT_ONCE else pytest.param(name, marks=pytest.mark.slow)
        for name in sorted(GRADES)
    ],
)
def yard(request):
    rng = np.random.default_rng(11)
    return GRADES[request.param], [
        draw_board(request.param, "red oak", 4, rng) for _ in range(_BOARDS)
    ]


def _mean(values):
    values = np.array(values, dtype=float)
    return values.mean(), 4 * values.std() / np.sqrt(len(values))


@pytest.mark.slow
def test_drawn_boards_have_the_published_surface_measure(yard):
    facts, boards = yard
    mean, room = _mean(
        [
            inches_from_mm(b.widths[0].width.value_mm) * b.length.value_mm / 304.8 / 12
            for b in boards
        ]
    )
    assert mean == pytest.approx(facts.mean_measure, abs=room)


@pytest.mark.slow
def test_drawn_boards_have_the_published_flaw_area(yard):
    facts, boards = yard
    shares = []
    for board in boards:
        area = board.faces[1].outline.area
        shares += [
            sum(f.outlines[face].area for f in board.flaws_on(face) if f.kind is not FlawKind.PITH)
            / area
            for face in (1, 2)
        ]
    mean, room = _mean(shares)
    # Scraps under 60 mm2 are not drawn, and long wane is cut short.
    assert 0.8 * facts.flaw_share - room < mean < facts.flaw_share + room


def test_drawn_boards_have_pith_and_crook_as_often_as_published(yard):
    facts, boards = yard
    pith, room = _mean([any(f.kind is FlawKind.PITH for f in b.flaws) for b in boards])
    assert pith == pytest.approx(facts.pith_share, abs=room + 1e-9)
    crook, room = _mean([b.warp.crook_mm >= 12.7 for b in boards])
    assert crook == pytest.approx(facts.crook_share, abs=room + 1e-9)


def _need(quantity=3, width_mm=90.0):
    rail = Part("rail", quantity, 600.0, width_mm, 19.0, Faces.BOTH, species="white ash")
    (need,) = needs_of((rail,), Shop())
    return need


@pytest.mark.parametrize("needed", [1, 2, 3, 6, 11])
def test_a_trial_ends_at_the_first_number_of_boards_that_is_enough(needed):
    asked = []

    def fits(boards, need, shop):
        asked.append(len(boards))
        return len(boards) >= needed

    trial = run_trial(_need(), "1C", Shop(), (1, 2), fits)
    assert trial.boards == needed
    assert trial.feet > 0
    assert len(asked) <= 9


def test_a_list_that_no_board_holds_ends_too():
    trial = run_trial(_need(), "1C", Shop(), (1, 2), lambda boards, need, shop: False)
    assert trial == Trial(None, None)
    curve = ChanceCurve(_need(), "1C", (trial,) * 10)
    assert curve.feet_for(0.9) is None
    assert f"lots of {MOST_BOARDS} boards" in buying_lines([curve])[0]


def test_the_same_seed_draws_the_same_lot():
    def never(boards, need, shop):
        return len(boards) >= 5

    first, again = (run_trial(_need(), "2A", Shop(), (3, 4), never) for _ in range(2))
    assert first == again
    assert run_trial(_need(), "2A", Shop(), (3, 5), never) != first


def test_the_real_solver_answers_whether_all_fits():
    # Three rails of 625 x 102 mm rough come out of a clear 8 ft board 203 mm wide; of one 90 mm
    # wide none does.
    assert everything_fits((plain_board(),), _need(), Shop())
    assert not everything_fits((plain_board(width_mm=90.0),), _need(), Shop())


def test_lots_are_drawn_from_the_user_s_own_boards_of_that_wood_only():
    own = (
        plain_board("B01"), plain_board("B02", length_mm=3000.0),
        plain_board("B03", species="walnut"), plain_board("B04", thickness_mm=52.0),
    )  # fmt: skip
    seen = []

    def fits(boards, need, shop):
        seen.extend(board.length.value_mm for board in boards)
        return len(boards) >= 12

    trial = run_trial(_need(), OWN, Shop(), (1, 2), fits, own=own)
    assert trial.boards == 12
    assert set(seen) == {2438.4, 3000.0}
    none = run_trial(_need(), OWN, Shop(), (1, 2), fits, own=own[2:])
    assert none == Trial(None, None)
    words = "\n".join(buying_lines([ChanceCurve(_need(), OWN, (trial,) * 10, own=2)]))
    assert f"buy {trial.feet:g} board feet of boards like your own" in words
    assert "drawn from 2 of your own boards" in words and "from your own boards: a few" in words
    assert "none of your own boards" in "\n".join(buying_lines([ChanceCurve(_need(), OWN, ())]))


def test_the_chance_rises_with_the_wood_and_reads_back():
    trials = tuple(Trial(n, 5.0 * n) for n in range(1, 11))
    curve = ChanceCurve(_need(), "1C", trials)
    assert [curve.chance(feet) for feet in (4, 5, 27, 50)] == [0, 0.1, 0.5, 1]
    assert curve.feet_for(0.9) == 45
    assert curve.feet_for(0.5) == 25
    lines = "\n".join(buying_lines([curve]))
    assert "buy 45 board feet of 1C for a 90 % chance" in lines
    extra = 45 / curve.need.rough_feet - 1
    assert f"{round(100 * extra)} % extra" in lines
    assert f"{round(100 * extra / (1 + extra))} % of it waste or left over" in lines


@pytest.mark.slow
@pytest.mark.parametrize(("grade", "reported"), [("FAS", 0.70), ("1C", 0.59)])
def test_clear_strips_of_drawn_boards_yield_about_what_mills_report(grade, reported):
    # Rough-mill yield of clear two-face strips (an extension specialist): real mills lose
    # edgings and end trim besides, so some twelve points either way are as near as this can be.
    strips = tuple(
        Part(f"{length} x {width}", 12, length * 25.4, width * 25.4, 19.0, Faces.BOTH,
             length_allowance_mm=0.0, width_allowance_mm=0.0)
        for length in (15, 25, 38, 55, 75) for width in (1.75, 2.25, 3.0)
    )  # fmt: skip
    rng = np.random.default_rng(5)
    boards = tuple(draw_board(grade, "red oak", 4, rng, f"Y{n}") for n in range(10))
    layout = solve(boards, strips, Shop(), Work(60))
    used = sum(p.length_mm * p.width_mm for p in layout.placements)
    area = sum(board.faces[1].outline.area for board in boards)
    assert used / area == pytest.approx(reported, abs=0.12)


@pytest.mark.slow
def test_spares_do_not_stand_in_for_a_seat_that_no_board_holds():
    rail = Part("rail", 2, 600.0, 90.0, 19.0, Faces.BOTH, spares=2)
    seat = Part("seat", 1, 1500.0, 150.0, 19.0, Faces.BOTH)
    (need,) = needs_of((rail, seat), Shop())
    # Four rails, which are as many as three parts and one spare, but the seat is too wide.
    assert not everything_fits((plain_board("Y1", 2800.0, 120.0),), need, Shop())
    wide = plain_board("Y2", 1700.0, 180.0)
    assert everything_fits((plain_board("Y1", 2800.0, 120.0), wide), need, Shop())
