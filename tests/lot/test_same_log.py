"""What speaks for two boards coming out of one log."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.looks import Looks
from scanner.board.ring_series import STEP_MM, RingSeries
from scanner.lot.alike import rings_words, sorted_by_likeness
from scanner.lot.ring_match import RingMatch, rings_match
from scanner.lot.same_log import samenesses
from tests.common import ash_board


def rings(log, first_mm, last_mm, *, stretch=1.0, noise=0.35, seed=0):
    """Return a series of a made log between two radii."""
    ring_mm = 2.6 * np.exp(np.random.default_rng(log).normal(0, 0.3, 120))
    tone = np.random.default_rng((log, 1)).uniform(0.5, 1.5, 120)
    radii = 15 + np.cumsum(ring_mm)
    at = np.arange(first_mm, last_mm, STEP_MM)
    off = at[:, None] * stretch - radii
    light = 0.6 - (2.4 * tone * np.exp(-((off / 0.6) ** 2))).sum(axis=1)
    light = light + noise * np.random.default_rng((log, seed, 2)).standard_normal(len(at))
    return RingSeries(1, first_mm, tuple(np.clip(light, -2.5, 2.5).round(1).tolist()))


def looks(log, first_mm=40.0, last_mm=120.0, lab=(70.0, 4.0, 19.0), **how):
    return Looks(lab=lab, rings=(rings(log, first_mm, last_mm, **how),))


def test_without_rings_colour_alone_speaks():
    near, far, blank = samenesses(
        Looks(lab=(70, 4, 19)), [Looks(lab=(70.5, 4, 19)), Looks(lab=(76, 4, 19)), Looks()]
    )
    assert near.log_odds > 0 > far.log_odds and blank.log_odds is None
    assert near.match == RingMatch() and not near.by_rings


@pytest.mark.slow
def test_boards_of_one_log_match_by_their_rings_and_others_do_not():
    others = [looks(1, 50, 150, stretch=1.06, seed=1), *(looks(log) for log in range(2, 7))]
    own, *foreign = samenesses(looks(1), others)
    assert own.by_rings and own.log_odds > max(one.log_odds for one in foreign) + 0.5
    assert not any(one.by_rings for one in foreign)
    # 53 to 120 mm lie on both, in rings of about 2.7 mm.
    assert 45 < own.match.length_mm <= 72 and 12 <= own.match.rings <= 28


@pytest.mark.slow
def test_the_match_is_said_in_careful_words_and_puts_the_board_first():
    def board(name, seen):
        return replace(ash_board(), id=name, looks=seen)

    # A shade off in colour, of the same log; and of another log in the very colour.
    fellow = board("B02", looks(1, 45, 150, lab=(71.5, 4.0, 19.0), seed=1))
    foreign = [board(f"B{n:02d}", looks(n)) for n in range(3, 8)]
    first, *rest = sorted_by_likeness(board("B01", looks(1)), [*foreign, fellow])
    assert first.board.id == "B02"
    assert "perhaps of one log, no proof" in rings_words(first)
    assert [rings_words(one) for one in rest] == [""] * 5


@pytest.mark.slow
def test_a_match_is_as_good_the_other_way_round():
    one, other = (rings(1, 40, 120),), (rings(1, 60, 150, seed=1),)
    there, back = rings_match(one, other), rings_match(other, one)
    assert there.nats == pytest.approx(back.nats, rel=0.25) and there.nats > 15
    assert rings_match(one, ()) == RingMatch()
