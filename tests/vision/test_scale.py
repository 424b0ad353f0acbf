from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.errors import PhotoError, SettingsError
from scanner.geometry.strip_layout import corners_mm
from scanner.vision.evidence.seen import Seen, SeenMarkers
from scanner.vision.fit.least_squares import solve
from scanner.vision.fit.lengths import face_from_photo, smooth_lens_mm, u_of_length
from scanner.vision.fit.model import State
from scanner.vision.fit.refit import with_board_ends, with_taped_length
from scanner.vision.fit.scale_fit import EDGE_SD_PX, mirrored
from scanner.vision.fit.verdict import doubts_of
from scanner.vision.scale import fit_seen
from tests.bench.projected import KINDS, LEVELS, draw_scene, measure

STRIP = KINDS["strip"]
RULE = KINDS["rule + taped length"]
# What "fit to page" and an office copier make of a page (check values, printed scales K-1 to K-4).
PRINTED = (0.9412, 0.9407, 0.9727, 0.9844)


@pytest.fixture(scope="module")
def scene():
    return draw_scene(501, STRIP, LEVELS["typical"])


@pytest.fixture(scope="module")
def fit(scene):
    return fit_seen(scene.seen, scene.setup, "strip")


@pytest.mark.slow
def test_lengths_and_widths_lie_inside_their_u_but_are_not_too_good():
    # Bounds on both sides: with 0.7 px of noise at the ends an error of nothing means that the
    # truth leaked. Full figures: python -m tests.bench.scale.
    errors, us = [], []
    for seed in range(510, 514):
        for outcomes in measure(draw_scene(seed, STRIP, LEVELS["typical"])).values():
            errors += [abs(one.error) for one in outcomes]
            us += [one.u for one in outcomes]
    errors, us = np.array(errors), np.array(us)
    assert np.mean(errors <= us) > 0.85
    assert (errors < 3 * us).all()
    assert 0.1 < np.median(errors) < 4.0


@pytest.mark.slow
def test_a_taped_board_makes_a_plain_rule_good_between_its_ends():
    scenes = [measure(draw_scene(seed, RULE, LEVELS["good"])) for seed in (520, 521, 522)]
    found = [one for scene in scenes for one in scene["knots"]]
    # Knot to knot over up to 8 ft, where a lone rule would be off by 10 mm and more.
    assert np.median([abs(one.error) for one in found]) < 5.0
    assert all(abs(one.error) < 3 * one.u for one in found)
    # The length itself is as sure as its tape (U of 3 mm): its ends are not read a second time.
    assert all(3.0 < scene["length"][0].u < 3.5 for scene in scenes)


def test_a_fit_whose_steps_ran_out_is_told(fit):
    lost = replace(fit, solution=replace(fit.solution, is_good=False))
    assert set(doubts_of(lost)) - set(doubts_of(fit)) == {
        doubt for doubt in doubts_of(lost) if "may be too small" in doubt
    }
    assert len(doubts_of(lost)) == len(doubts_of(fit)) + 1


def test_one_photo_alone_is_fitted_to_the_end_at_once(scene):
    one = fit_seen(scene.seen[:1], scene.setup, "strip")
    model, state = one.solution.model, one.solution.state
    camera = model.camera(state, 0)
    again, _ = solve(model.observations, [[(camera.R, camera.t)]], values=state.values)
    ends = np.array([[0.0, 0.0], [2000.0, 0.0]])
    there = replace(one, solution=again).reference_px(0, 0, ends)
    assert there == pytest.approx(one.reference_px(0, 0, ends), abs=1e-3)


def test_photo_and_face_there_and_back(fit):
    face = np.array([[100.0, -150.0], [1200.0, -220.0], [2300.0, -90.0]])
    back = fit.face_from_photo(0, fit.photo_from_face(0, face))
    assert back == pytest.approx(face, abs=1e-6)


def test_y_runs_down_the_picture_where_x_runs_right(fit):
    pixels = fit.photo_from_face(0, np.array([[500.0, 0.0], [600.0, 0.0], [500.0, 100.0]]))
    along, down = pixels[1] - pixels[0], pixels[2] - pixels[0]
    # Turned from x towards y is clockwise for the eye, as in every picture with y down.
    assert along[0] * down[1] - along[1] * down[0] > 0


def test_u_grows_with_length_and_never_falls_below_half_a_millimetre(fit):
    here = np.array([300.0, -200.0])
    spans = [5.0, 200.0, 1000.0, 2000.0]
    us = [fit.u_between(here, here + np.array([span, 0.0])) for span in spans]
    assert us == sorted(us)
    assert fit.u_between(here, here + 1e-3, sd_p_px=0.0, sd_q_px=0.0) == 0.5


def test_a_strip_nobody_taped_has_a_larger_u_and_says_so(scene, fit):
    plain = fit_seen(scene.seen, replace(scene.setup, strip_taped=None), "strip")
    p, q = np.array([50.0, -200.0]), np.array([2400.0, -200.0])
    assert plain.u_between(p, q) > 1.4 * fit.u_between(p, q)
    assert any("tape the strip" in doubt for doubt in plain.doubts)
    assert "tape the strip" in plain.largest_share
    assert not any("tape the strip" in doubt for doubt in fit.doubts)


def test_a_thicker_board_at_the_same_place_reads_shorter(scene, fit):
    thick = replace(scene.setup, thickness=Measured(scene.setup.thickness.value_mm + 20, 1.0))
    ends = fit.photo_from_face(0, np.array([[100.0, -200.0], [2300.0, -200.0]]))
    there = fit_seen(scene.seen, thick, "strip").face_from_photo(0, ends)
    height = fit.solution.model.camera(fit.solution.state, 0).centre[2]
    shrunk = np.linalg.norm(there[1] - there[0]) / 2200.0
    assert shrunk == pytest.approx(1 - 20.0 / (height - 30), abs=2e-3)


@pytest.mark.slow
def test_a_few_wrong_markers_are_left_out(scene, fit):
    markers = scene.seen[0].markers
    corners = markers.corners.copy()
    corners[[3, 11, 20]] += np.array([6.0, -4.0])
    wrong = replace(scene.seen[0], markers=SeenMarkers(markers.ids, corners, markers.sd_px))
    spoiled = fit_seen((wrong,), scene.setup, "strip")
    assert spoiled.solution.dropped_share == pytest.approx(3 / len(corners), abs=0.02)
    face = np.array([[200.0, -200.0], [2200.0, -200.0]])
    assert spoiled.photo_from_face(0, face) == pytest.approx(fit.photo_from_face(0, face), abs=3.0)


def test_five_markers_are_too_few(scene):
    markers = scene.seen[0].markers
    few = SeenMarkers(markers.ids[:5], markers.corners[:5], markers.sd_px[:5])
    with pytest.raises(PhotoError, match="Only 5 markers"):
        fit_seen((replace(scene.seen[0], markers=few),), scene.setup, "strip")


@pytest.mark.parametrize("printed", PRINTED)
def test_a_strip_printed_fit_to_page_is_noticed_by_its_tape(scene, printed):
    taped = Measured(printed * 2500, 2.0)
    with pytest.raises(SettingsError, match=r"print it again at 100 %"):
        fit_seen(scene.seen, replace(scene.setup, strip_taped=taped), "strip")


def test_a_board_taped_much_longer_disproves_the_reference(scene, fit):
    ends = fit.face_from_photo(0, scene.cameras[0].project(scene.board.world(scene.board.ends)))
    with pytest.raises(PhotoError, match="taped as 2600 mm"):
        with_taped_length(fit, ends[0], ends[1], Measured(2600.0, 3.0))


def test_no_marks_are_no_scale(scene):
    with pytest.raises(PhotoError, match=r"No reference rule|Only 0 markers"):
        fit_seen((Seen("floor.jpg", scene.seen[0].lens),), scene.setup, "strip")


def test_the_strips_place_in_the_photo_covers_its_markers(scene, fit):
    from shapely.geometry import MultiPoint

    area = fit.rule_area(0)
    points = MultiPoint(scene.seen[0].markers.corners.reshape(-1, 2))
    assert area.buffer(2.0).contains(points)
    # The batten under it may stick out.
    assert fit.rule_area_mm().area == pytest.approx(2560 * 72, rel=0.06)


def test_knowing_the_boards_ends_moves_nothing_by_more_than_u(scene, fit):
    ends = fit.face_from_photo(0, scene.cameras[0].project(scene.board.world(scene.board.ends)))
    again = with_board_ends(fit, ends[0], ends[1])
    pixels = fit.photo_from_face(0, ends)
    moved = again.face_from_photo(0, pixels)
    change = abs(np.linalg.norm(moved[1] - moved[0]) - np.linalg.norm(ends[1] - ends[0]))
    assert change < fit.u_between(ends[0], ends[1])


@pytest.mark.parametrize("printed", PRINTED)
def test_a_board_taped_tells_that_the_strip_was_printed_to_fit_the_page(scene, printed):
    untaped = fit_seen(scene.seen, replace(scene.setup, strip_taped=None), "strip")
    ends = untaped.face_from_photo(0, scene.cameras[0].project(scene.board.world(scene.board.ends)))
    with pytest.raises(PhotoError, match="print it again at 100 %"):
        with_taped_length(untaped, ends[0], ends[1], Measured(printed * scene.length_mm, 3.0))


def test_a_tape_that_disagrees_by_more_than_u_is_shown_and_not_averaged_away(scene, fit):
    ends = fit.face_from_photo(0, scene.cameras[0].project(scene.board.world(scene.board.ends)))
    measured = float(np.linalg.norm(ends[1] - ends[0]))
    u = float(np.hypot(fit.u_between(ends[0], ends[1]), 3.0))
    off = with_taped_length(fit, ends[0], ends[1], Measured(measured - 1.2 * u, 3.0))
    assert any("tape the board again" in doubt for doubt in off.doubts)
    good = with_taped_length(fit, ends[0], ends[1], Measured(measured - 0.8 * u, 3.0))
    assert good.doubts == fit.doubts


@pytest.mark.slow
def test_u_by_the_covariance_is_what_random_draws_of_all_unknowns_give(fit):
    # Propagation of distributions (JCGM 101) against the law of propagation (JCGM 100, 5.1.2).
    p, q = np.array([60.0, -180.0]), np.array([2400.0, -220.0])
    pixels = fit.photo_from_face(0, np.array([p, q]))
    solution = fit.solution
    draws = np.random.default_rng(1).multivariate_normal(
        solution.state.values, max(1.0, solution.chi2_per_dof) * solution.covariance, 400
    )
    lengths = []
    for values in draws:
        other = replace(solution, state=State(values, solution.state.turns))
        there = face_from_photo(other, 0, pixels)
        lengths.append(np.linalg.norm(there[1] - there[0]))
    linear = u_of_length(solution, (), (0, 0), tuple(mirrored(np.array([p, q]))), (0.0, 0.0))
    by_lens = 2 * smooth_lens_mm(float(np.linalg.norm(q - p)), fit.mm_per_px(0, (p + q) / 2))
    # 400 draws know their own spread to 4 %; the lens part is no unknown of the fit.
    assert 2 * np.std(lengths) == pytest.approx(np.sqrt(linear**2 - by_lens**2), rel=0.15)


@pytest.mark.slow
def test_edges_lie_within_their_u_once_the_face_is_laid_as_well_as_it_goes(fit):
    # As parts are marked from the board's own edges: a face may be moved and turned, not stretched.
    x = np.linspace(200.0, 2300.0, 12)
    edges = [np.column_stack([x, np.full(len(x), y)]) for y in (-320.0, -120.0)]
    pixels = fit.photo_from_face(0, np.vstack(edges))
    solution, told = fit.solution, fit.u_of_edge(edges[0][6], edges[1][6])
    rng = np.random.default_rng(2)
    draws = rng.multivariate_normal(
        solution.state.values, max(1.0, solution.chi2_per_dof) * solution.covariance, 100
    )
    off = []
    for values in draws:
        other = replace(solution, state=State(values, solution.state.turns))
        read = pixels + rng.normal(0, EDGE_SD_PX, pixels.shape)
        moved = mirrored(face_from_photo(other, 0, read))[:, 1] - np.vstack(edges)[:, 1]
        line = np.polyfit(np.tile(x, 2), moved, 1)
        off.append(moved - np.polyval(line, np.tile(x, 2)))
    inside = np.mean(np.abs(off) <= told)
    assert 0.93 < inside < 0.98
    # A width errs by both of its edges.
    assert told < fit.u_between(edges[0][6], edges[1][6], sd_p_px=0.4, sd_q_px=0.4) / np.sqrt(2)


@pytest.mark.slow
def test_photos_that_leave_a_piece_of_the_board_out_are_refused(scene):
    kind = replace(KINDS["four photos from above"], photos=4)
    long = draw_scene(3005, kind, LEVELS["good"])
    fit_seen(long.seen, long.setup, "strip")
    with pytest.raises(PhotoError, match="do not overlap"):
        fit_seen((long.seen[0], long.seen[3]), long.setup, "strip")


@pytest.mark.slow
def test_photos_along_a_board_may_be_given_in_any_order():
    long = draw_scene(3006, replace(KINDS["four photos from above"], photos=3), LEVELS["good"])
    fits = [fit_seen(order, long.setup, "strip") for order in (long.seen, long.seen[::-1])]
    feet = [fits[0].foot_mm(index) for index in range(3)]
    back = [fits[1].foot_mm(2 - index) for index in range(3)]
    assert np.array(back) == pytest.approx(np.array(feet), abs=1.0)


@pytest.mark.slow
def test_two_photos_zoomed_without_a_word_in_exif_are_noticed():
    two = draw_scene(6002, KINDS["two photos"], LEVELS["typical"])

    def doubts(zoom):
        seen = tuple(
            replace(one, lens=replace(one.lens, focal_px=one.lens.focal_px / zoom))
            for one in two.seen
        )
        return fit_seen(seen, two.setup, "strip").doubts

    assert any("focal length" in doubt for doubt in doubts(1.25))
    assert not any("focal length" in doubt for doubt in doubts(1.0))


@pytest.mark.slow
def test_a_strip_with_one_end_off_the_floor_is_noticed(scene, fit):
    markers = scene.seen[0].markers
    camera = scene.cameras[0]
    flat = np.concatenate([corners_mm(int(k)) for k in markers.ids])
    on_floor = np.column_stack([flat, np.full(len(flat), fit.setup.batten_mm)])
    # From the middle on it rises 1 in 10, as over a block pushed under its end.
    rise = np.maximum(0.0, flat[:, 0] - 1250.0) / 10
    lifted = on_floor + np.column_stack([0 * rise, 0 * rise, rise])
    moved = (camera.project(lifted) - camera.project(on_floor)).reshape(-1, 4, 2)
    seen = SeenMarkers(markers.ids, markers.corners + moved, markers.sd_px)
    try:
        doubts = fit_seen((replace(scene.seen[0], markers=seen),), scene.setup, "strip").doubts
    except PhotoError as refusal:
        doubts = (str(refusal),)
    assert any("flat" in doubt for doubt in doubts)
