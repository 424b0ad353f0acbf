"""How surely a rule's graduations were read, and what they tell of the camera's tilt."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.errors import PhotoError
from scanner.vision import scale
from scanner.vision.cv import grey_of
from scanner.vision.evidence.seen import SeenRule
from scanner.vision.fit.assemble import rule_marks
from scanner.vision.fit.graduations import LEAST_SD_PX, read_evenly
from scanner.vision.fit.verdict import odd_width_mm
from scanner.vision.rule.taps import REACH_PX
from scanner.vision.scale import fit_seen
from tests.bench.levels import KINDS, LEVELS
from tests.bench.scenes import draw_scene
from tests.vision.drawn import photo_of

WIDTH_MM = 28.0


def rule_read(noise_px=0.05, count=35, seed=3):
    """Return a rule whose one edge's inches were read in perspective, with this noise."""
    random = np.random.default_rng(seed)
    x = np.arange(1, count + 1) * 25.4
    along = 300 + 1400 * x / 914.4 / (1 + 0.3 * x / 914.4) + 4 * np.sin(x / 300)
    pixels = np.column_stack([along + random.normal(0, noise_px, count), np.full(count, 900.0)])
    return SeenRule(
        points_mm=np.column_stack([x, np.full(count, -9.3)]),
        signs=np.zeros((count, 2)),
        pixels=pixels,
        directions=np.tile([1.0, 0.0], (count, 1)),
        sd_px=np.full(count, 0.4),
        corners=np.zeros((4, 2)),
        length_mm=914.4,
        width_mm=WIDTH_MM,
        ticks=count,
    )


def test_a_figure_taken_for_a_line_is_left_out_and_no_line_beside_it():
    seen = rule_read()
    moved = seen.pixels.copy()
    moved[[4, 20], 0] += 1.1
    keep, sd_px = read_evenly(replace(seen, pixels=moved))
    assert np.flatnonzero(~keep).tolist() == [4, 20]
    assert sd_px == pytest.approx(LEAST_SD_PX)


def test_lines_that_were_read_badly_count_for_as_little_as_they_scatter():
    told = [read_evenly(rule_read(0.6, seed=seed))[1].mean() for seed in range(20)]
    assert 0.5 < np.mean(told) < 0.7


def test_a_few_lines_are_left_as_they_were_read():
    seen = rule_read(count=8)
    keep, sd_px = read_evenly(seen)
    assert keep.all()
    assert (sd_px == seen.sd_px).all()


def test_where_half_of_an_edge_strays_no_line_is_called_the_stray_one():
    seen = rule_read()
    moved = seen.pixels.copy()
    moved[::2, 0] += 4.0
    keep, sd_px = read_evenly(replace(seen, pixels=moved))
    assert keep.all()
    assert sd_px.min() > 1.0


def test_edges_seen_too_wide_carry_the_lines_between_them_outwards():
    # 9.3 of 14 mm from the middle: so much of what each edge is seen too far out.
    signs = rule_marks(0, 0, rule_read()).signs
    assert signs == pytest.approx(np.tile([0.0, -9.3 / 14], (35, 1)))


def scene_of_rule():
    scene = draw_scene(530, KINDS["rule"], LEVELS["good"])
    return scene, scene.seen[0].rules[0]


def with_joint_for_an_edge(seen):
    """Return a rule of which a joint as far off again as it is wide passed for one edge."""
    far = seen.signs[:, 1] > 0
    across = seen.pixels[far].mean(axis=0) - seen.pixels[seen.signs[:, 1] < 0].mean(axis=0)
    pixels = seen.pixels.copy()
    pixels[far] += across
    return replace(seen, pixels=pixels)


@pytest.mark.slow
def test_a_joint_taken_for_a_rules_edge_shows_as_a_width_that_was_not_told():
    scene, seen = scene_of_rule()
    right = fit_seen(scene.seen, scene.setup, "plain")
    assert odd_width_mm(right) == 0.0
    joint = replace(scene.seen[0], rules=(with_joint_for_an_edge(seen),))
    assert odd_width_mm(fit_seen((joint,), scene.setup, "plain")) > 0.8 * seen.width_mm


@pytest.mark.slow
def test_a_bar_twice_as_wide_as_told_is_read_anew_along_its_edges_or_refused(monkeypatch):
    scene, seen = scene_of_rule()
    wide = with_joint_for_an_edge(seen)

    def found(name, grey, setup, corners=None, focal_px=None, **_):
        if corners is None:
            return ((wide,),)
        apart = np.linalg.norm(np.array(corners)[:, None] - seen.corners, axis=2)
        # A rule is found where it lies, as far as taps may be off.
        if is_there and apart.min(axis=1).max() < REACH_PX:
            return ((replace(seen, was_tapped=True),),)
        raise PhotoError("No rule edges are seen between the tapped corners", "tap again")

    monkeypatch.setattr(scale, "find_rules", found)
    monkeypatch.setattr(scale, "bleed_of_edges", lambda grey, rule: None)
    photo = photo_of(np.zeros((60, 80, 3), dtype=np.uint8))
    ask = (photo, scene.seen[0].lens, grey_of(photo.pixels), scene.setup, None)
    is_there = True
    _, fit = scale._rule_or_refuse(*ask, at_a_glance=False)
    assert odd_width_mm(fit) == 0.0
    # Nobody tapped it.
    assert fit.observations.references[0].sd_along == 0.0002
    is_there = False
    with pytest.raises(PhotoError, match=r"mm wide, not \d+ mm as told"):
        scale._rule_or_refuse(*ask, at_a_glance=False)
