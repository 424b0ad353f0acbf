"""A badly told arris goes by the saw's line; a surely told one, wane and a natural edge stay."""

import numpy as np
import pytest

from scanner.vision.outline.saws_line import by_the_saws_line

S_MM = 4.0 * np.arange(300)
# Crook over the board, and a saw's slow wander on it.
LINE_MM = 60.0 + 5.0 * (S_MM / S_MM[-1]) ** 2
WANDER_MM = 0.4 * np.sin(S_MM / 110.0)
FREE = np.ones(len(S_MM), dtype=bool)
SURE_MM, UNSURE_MM = np.full(len(S_MM), 0.3), np.full(len(S_MM), 1.5)


@pytest.fixture
def traced():
    """Return what a map tells that errs by a millimetre and a half along half of the board."""
    return LINE_MM + WANDER_MM + 1.5 * np.sin(S_MM / 25.0) * (S_MM > 600.0)


def test_an_unsure_arris_comes_nearer_to_where_the_saw_cut(traced):
    held, _ = by_the_saws_line(S_MM, traced, LINE_MM, UNSURE_MM, FREE)
    before, after = (np.abs(t - LINE_MM - WANDER_MM) for t in (traced, held))
    assert before.max() > 1.4
    assert after.max() < 0.8


def test_a_surely_told_wander_stays():
    wander = LINE_MM + WANDER_MM
    held, sd_mm = by_the_saws_line(S_MM, wander, LINE_MM, SURE_MM, FREE)
    assert np.abs(held - wander).max() < 0.15
    assert (sd_mm == SURE_MM).all()


def test_only_the_unsure_stretch_is_moved(traced):
    unsure = S_MM > 600.0
    held, _ = by_the_saws_line(S_MM, traced, LINE_MM, np.where(unsure, UNSURE_MM, SURE_MM), FREE)
    assert np.abs(held - traced)[~unsure].max() < 0.3
    assert np.abs(held - LINE_MM)[unsure].max() < 0.9


def test_wane_deeper_than_a_saws_wander_stays_to_where_it_runs_out():
    bite = 4.0 * np.maximum(np.cos((S_MM - 600.0) / 80.0), 0.0) * (np.abs(S_MM - 600.0) < 126.0)
    held, _ = by_the_saws_line(S_MM, LINE_MM - bite, LINE_MM, UNSURE_MM, FREE)
    stays = bite > 0.6
    assert np.abs(held - LINE_MM + bite)[stays].max() < 0.01


def test_what_is_not_free_stays(traced):
    free = S_MM > 300.0
    held, _ = by_the_saws_line(S_MM, traced, LINE_MM, UNSURE_MM, free)
    assert (held[~free] == traced[~free]).all()
    assert np.abs(held - traced)[free].max() > 0.5


def test_a_natural_edge_is_left_alone():
    natural = LINE_MM + 6.0 * np.sin(S_MM / 60.0)
    held, sd_mm = by_the_saws_line(S_MM, natural, LINE_MM, UNSURE_MM, FREE)
    assert held is natural
    assert sd_mm is UNSURE_MM


def test_where_an_arris_is_lost_for_a_stretch_it_is_known_as_well_as_a_saw_keeps_its_line():
    lost = np.abs(S_MM - 600.0) < 100.0
    _, sd_mm = by_the_saws_line(S_MM, LINE_MM, LINE_MM, np.where(lost, 9.0, 0.3), FREE)
    assert (sd_mm[lost] > 0.3).all()
    assert (sd_mm[lost] < 1.1).all()
    assert sd_mm[lost].argmax() == pytest.approx(lost.sum() / 2, abs=1)
    assert (sd_mm[~lost] == 0.3).all()


def test_doubt_along_most_of_a_side_is_the_lines_own_too():
    lost = np.abs(S_MM - 600.0) < 100.0
    _, sd_mm = by_the_saws_line(S_MM, LINE_MM, LINE_MM, np.where(lost, 9.0, 3.0), FREE)
    assert (sd_mm[lost] > 3.0).all()


def test_what_stays_off_the_saws_line_stays_as_unsure_as_it_was_told():
    bite = 8.0 * (np.abs(S_MM - 600.0) < 100.0)
    sd_told = np.where(bite > 0, 4.0, 0.3)
    _, sd_mm = by_the_saws_line(S_MM, LINE_MM - bite, LINE_MM, sd_told, FREE)
    assert (sd_mm[bite > 0] == 4.0).all()
