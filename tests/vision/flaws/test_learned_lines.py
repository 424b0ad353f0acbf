import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.board.crack_run import PAST_TIP_MM
from scanner.board.flaw import FlawKind
from scanner.vision.flaws.crack_reach import Reach
from scanner.vision.flaws.learned_lines import checks_of_scan, lines_on_flat
from scanner.vision.flaws.learned_maps import CHANNELS, ShareMaps
from scanner.vision.flaws.learned_odds import LINE_MEASURES, line_odds
from tests.vision.flaws.surfaces import Wood

SHAPE = (120, 600)
WOOD = np.ones(SHAPE, bool)
AT = (0.0, 0.0)


def maps_of(*lines):
    """Return shares with lines (claim, first column, last column, share) four pixels wide."""
    values = np.zeros((len(CHANNELS), *SHAPE), np.float32)
    for row, (name, first, last, share) in enumerate(lines):
        values[CHANNELS.index(name), 29 + 20 * row : 33 + 20 * row, first:last] = share
    return ShareMaps(values)


def test_a_check_from_an_end_has_its_reach_and_says_so():
    (flaw,) = checks_of_scan(maps_of(("check", 0, 160, 0.99)), WOOD, AT, 0.5, [])
    assert flaw.kind is FlawKind.CHECK
    assert flaw.reach_mm == pytest.approx(80, abs=1.5)
    assert "starts at an end" in flaw.reason
    assert flaw.score > 0.8


def test_a_check_inside_the_board_has_no_reach():
    (flaw,) = checks_of_scan(maps_of(("check", 200, 400, 0.99)), WOOD, AT, 0.5, [])
    assert flaw.reach_mm is None
    assert "mm" in flaw.reason


@pytest.mark.parametrize("apart_px", [4, 9])
def test_two_checks_side_by_side_are_both_told(apart_px):
    values = maps_of(("check", 0, 300, 0.99)).values
    values[CHANNELS.index("check"), 33 + apart_px : 37 + apart_px, 0:200] = 0.99
    found = checks_of_scan(ShareMaps(values), WOOD, AT, 0.5, [])
    assert sorted(flaw.reach_mm for flaw in found) == pytest.approx([100, 150], abs=2.0)
    # Most of the shorter one lies in a knot, less than half of the longer.
    knot = Polygon([(-5, 5), (62, 5), (62, 40), (-5, 40)])
    (other,) = checks_of_scan(ShareMaps(values), WOOD, AT, 0.5, [knot])
    assert other.reach_mm == pytest.approx(150, abs=2.0)


def test_a_faint_line_is_no_check():
    values = maps_of(("check", 200, 400, 0.6)).values
    values[CHANNELS.index("check"), 30, 300] = 0.9
    assert checks_of_scan(ShareMaps(values), WOOD, AT, 0.5, []) == []


def test_a_crack_inside_a_knot_belongs_to_the_knot():
    knot = Polygon([(95, 5), (205, 5), (205, 35), (95, 35)])
    maps = maps_of(("check", 200, 400, 0.99))
    assert checks_of_scan(maps, WOOD, AT, 0.5, [knot]) == []


def test_a_surer_line_scores_more_and_one_at_an_end_is_believed_sooner():
    faint, sure, at_end = [1.0, 3.0, 0.0, 1.0], [5.0, 6.5, 0.0, 1.0], [1.0, 3.0, 1.0, 1.0]
    odds = line_odds(np.array([faint, sure, at_end]))
    assert len(LINE_MEASURES) == 4
    assert odds[0] < odds[2] < odds[1]


def test_of_two_kinds_on_the_same_wood_the_surer_is_told():
    values = maps_of(("resin", 200, 300, 0.9)).values
    values[CHANNELS.index("pith"), 29:33, 200:300] = 0.95
    (flaw,) = lines_on_flat(ShareMaps(values), WOOD, AT, 0.5)
    assert flaw.kind is FlawKind.PITH


def test_of_many_lines_alike_none_is_believed_as_soon_as_a_single_one():
    one = maps_of(("check", 200, 300, 0.97))
    many = maps_of(*[("check", 200, 300, 0.97)] * 4)
    values = np.repeat(many.values, 3, axis=1)
    # Twelve lines on a face three times as wide: ring lines come in such crowds.
    for block in range(3):
        values[:, block * 120 : (block + 1) * 120] = many.values
    crowd = ShareMaps(values)
    wide = np.ones(values.shape[1:], bool)
    alone = [f.score for f in checks_of_scan(one, WOOD, AT, 0.5, [])]
    among = [f.score for f in checks_of_scan(crowd, wide, AT, 0.5, [])]
    assert len(alone) == 1
    assert max(among, default=0.0) < alone[0]


def test_a_check_that_starts_at_an_end_is_followed_and_says_how_sure_its_reach_is():
    wood = Wood(length_mm=300)
    wood.crack(30, 150, 1.0)
    values = np.zeros((len(CHANNELS), *wood.shape), np.float32)
    values[CHANNELS.index("check"), 59:62, 0:295] = 0.99
    surface = wood.surface()
    (flaw,) = checks_of_scan(ShareMaps(values), surface.wood, AT, 0.5, [], surface)
    assert flaw.reach_mm == pytest.approx(150, abs=10)
    # The share is smeared a little past the tip, and what is drawn shows all of it.
    assert flaw.outlines[1].bounds[2] == pytest.approx(flaw.reach_mm, abs=8)
    assert "give or take" in flaw.reason


@pytest.mark.parametrize("at_end", ["left", "right"])
def test_a_check_reaches_as_far_as_it_is_drawn(at_end, monkeypatch):
    # A faint line whose tip is told 3 mm from the end, while its outline shows 121 mm of it.
    wood = Wood(length_mm=300)
    values = np.zeros((len(CHANNELS), *wood.shape), np.float32)
    there = slice(0, 242) if at_end == "left" else slice(-242, None)
    values[CHANNELS.index("check"), 59:62, there] = 0.99
    surface = wood.surface()
    x = wood.shape[1] - 1 if at_end == "right" else 0
    short = Reach(3.0, 0.0, 333.0, np.array([(x, 60.0), (x + (6 if x == 0 else -6), 60.0)]))
    monkeypatch.setattr("scanner.vision.flaws.learned_lines.reach_of", lambda *_: short)
    (flaw,) = checks_of_scan(ShareMaps(values), surface.wood, AT, 0.5, [], surface)
    x0, _, x1, _ = flaw.outlines[1].bounds
    assert flaw.reach_mm == pytest.approx(x1 - x0 - PAST_TIP_MM, abs=1.5)
    assert flaw.reach_mm == pytest.approx(114, abs=2)
    assert flaw.reason.endswith("how far it runs is not known")


def test_a_piece_further_along_a_followed_check_is_not_told_again():
    wood = Wood(length_mm=300)
    wood.crack(30, 150, 1.0)
    values = np.zeros((len(CHANNELS), *wood.shape), np.float32)
    values[CHANNELS.index("check"), 59:62, 0:120] = 0.99
    values[CHANNELS.index("check"), 59:62, 140:200] = 0.99
    surface = wood.surface()
    assert len(checks_of_scan(ShareMaps(values), surface.wood, AT, 0.5, [], surface)) == 1
