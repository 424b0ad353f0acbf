import hashlib
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.board.flaw import FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws import learned, learned_maps
from scanner.vision.flaws.learned import find_learned, find_on_flat
from scanner.vision.flaws.learned_maps import (
    CHANNELS,
    PHOTO_WEIGHTS,
    WEIGHTS,
    ShareMaps,
    share_maps,
    tiles,
)
from scanner.vision.flaws.learned_odds import SPOT_MEASURES, spot_odds
from scanner.vision.flaws.learned_regions import line_regions, spot_regions
from scanner.vision.flaws.surface import prepare
from tests.vision.faces import BROWN, PALE, PaintedFace
from tests.vision.flaws.surfaces import Wood

CARD = WEIGHTS.with_suffix(".md")


def maps_of(shape=(120, 240), **painted):
    values = np.zeros((len(CHANNELS), *shape), np.float32)
    for name, where in painted.items():
        values[CHANNELS.index(name)] = where
    return ShareMaps(values)


def discs(*middles, shape=(120, 240)):
    """Return share and core of discs (x, y, radius)."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    share, core = np.zeros(shape), np.zeros(shape)
    for cx, cy, r in middles:
        depth = 1 - np.hypot(x - cx, y - cy) / r
        share = np.maximum(share, np.where(depth > 0, 0.95, 0.02))
        core = np.maximum(core, np.clip(depth, 0, 1))
    return {"spot": share, "core": core}


@pytest.mark.parametrize("weights", [WEIGHTS, PHOTO_WEIGHTS], ids=lambda path: path.stem)
def test_the_weights_are_those_of_the_card_and_small(weights):
    content = weights.read_bytes()
    card = weights.with_suffix(".md").read_text()
    said = re.search(r"SHA-256[^0-9a-f]*([0-9a-f]{64})", card)
    assert "not proven" in card
    assert said is not None
    assert hashlib.sha256(content).hexdigest() == said.group(1)
    assert len(content) <= 6_000_000


def test_the_card_says_what_is_not_proven():
    card = CARD.read_text()
    assert "softwood" in card
    assert "not proven" in card


def test_two_knots_that_touch_are_two():
    found = spot_regions(maps_of(**discs((80, 60, 20), (116, 60, 18))))
    assert len(found) == 2
    assert abs(found[0].area_px - np.pi * 400) < 0.15 * np.pi * 400


def test_a_large_knot_with_a_ragged_middle_is_one():
    painted = discs((110, 60, 45))
    rng = np.random.default_rng(0)
    painted["core"] = np.clip(painted["core"] + 0.15 * rng.standard_normal((120, 240)), 0, 1)
    assert len(spot_regions(maps_of(**painted))) == 1


def test_a_spot_of_a_few_pixels_is_none():
    tiny = maps_of(**discs((80, 60, 2)))
    assert spot_regions(tiny) == []
    # A worm hole of 2 mm, where small spots are judged again.
    assert len(spot_regions(tiny, 8)) == 1


def test_an_empty_map_has_no_region():
    assert spot_regions(maps_of()) == []
    assert all(line_regions(maps_of(), kind) == [] for kind in ("check", "resin", "pith"))


def test_pieces_of_one_check_in_a_row_are_one():
    share = np.zeros((120, 240))
    share[60:62, 40:100] = share[60:62, 108:170] = 1.0
    (line,) = line_regions(maps_of(check=share), "check")
    assert line.pixels.shape[1] == 130


def test_a_short_dark_dash_is_no_check():
    share = np.zeros((120, 240))
    share[60:62, 40:70] = 1.0
    assert line_regions(maps_of(check=share), "check") == []


@pytest.mark.parametrize("columns", [1, 500, 1024, 1025, 4900])
def test_tiles_cover_each_column_once(columns):
    spans = tiles(columns)
    assert spans[0][0] == 0
    assert spans[-1][1] == columns
    assert all(a[1] == b[0] for a, b in pairwise(spans))


def test_a_surer_region_has_the_higher_score():
    middle = np.array([2.25, 0.62, 5.4, 0.0, 0.4, 0.7])
    weak = middle - np.array([4.0, 0.5, 0, 0, 0, 0])
    strong, faint = spot_odds(np.stack([middle, weak]))
    assert len(SPOT_MEASURES) == len(middle)
    assert 0 < faint < 0.2 < 0.9 < strong < 1


def painted_board(wood, **more):
    face = PaintedFace(length_mm=420, width_mm=140, margin_mm=20, wood=wood, **more)
    face.knot(150, 60, 22)
    face.knot(300, 95, 14)
    return face


@pytest.mark.parametrize(
    "wood",
    [pytest.param(PALE, id="light"), pytest.param(BROWN, id="dark", marks=pytest.mark.slow)],
)
def test_painted_knots_are_found_where_they_lie(wood):
    face = painted_board(wood)
    found = find_on_flat(face.picture(), face.outline)
    spots = [f for f in found if f.kind in (FlawKind.KNOT, FlawKind.HOLE)]
    assert len(spots) == 2
    for flaw, (x, y) in zip(spots, [(150, 60), (300, 95)], strict=True):
        centre = flaw.outlines[1].centroid
        assert abs(centre.x - face.margin_mm - x) < 3
        assert abs(centre.y - face.margin_mm - y) < 3
        assert 0.35 <= flaw.score <= 1
        assert "mm" in flaw.reason


@pytest.mark.slow
def test_a_finder_of_the_scan_sees_the_same_knots_and_no_pitch():
    face = painted_board(PALE)
    flat = find_on_flat(face.picture(), face.outline)
    found = find_learned(prepare(face.picture(), face.outline))
    assert {f.kind for f in found} <= {FlawKind.KNOT, FlawKind.HOLE, FlawKind.CHECK}
    for flaw in found:
        assert max(iou(flaw.outlines[1], other.outlines[1]) for other in flat) > 0.6


@pytest.mark.slow
def test_a_knot_that_a_scan_does_not_call_loose_is_told_as_a_knot_and_no_more(monkeypatch):
    monkeypatch.setattr(learned, "sound_on_photo", lambda measures: None)
    face = painted_board(PALE)
    found = find_learned(prepare(face.picture(), face.outline))
    knots = [flaw for flaw in found if flaw.kind is FlawKind.KNOT]
    assert {flaw.sound for flaw in knots} == {None}
    assert {flaw.reason.split(", ")[0] for flaw in knots} == {"looks like a knot"}


def test_a_face_outside_the_picture_has_no_flaw():
    face = painted_board(PALE)
    away = Polygon([(900, 900), (950, 900), (950, 950), (900, 950)])
    assert find_on_flat(face.picture(), away) == ()


@pytest.mark.slow
def test_tiles_join_without_a_seam(monkeypatch):
    face = painted_board(PALE)
    pixels = face.picture().pixels
    wood = np.zeros(pixels.shape[:2], bool)
    wood[45:-45, 45:-45] = True
    whole = share_maps(pixels, wood).values
    monkeypatch.setattr(learned_maps, "_TILE_PX", 320)
    assert np.abs(share_maps(pixels, wood).values - whole).max() < 0.05


def test_what_the_picture_alone_says_does_not_wait_for_the_network(monkeypatch):
    said = []
    wood = Wood(length_mm=120, width_mm=30)

    def answer():
        said.append("the network's answer")
        return maps_of(wood.shape)

    def formed(surface, form=learned.see_dark):
        said.append("dark lines")
        return form(surface)

    monkeypatch.setattr(learned, "see_dark", formed)
    assert find_learned(replace(wood.surface(), shares=answer)) == ()
    assert said == ["dark lines", "the network's answer"]
