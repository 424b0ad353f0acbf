"""What scans teach of a lens: evidence adds up, and never makes a scan surer than it is right."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from scanner.vision.fit.profile import evidence_of, phone_of, taught
from scanner.vision.photos.picture import Photo
from scanner.vision.scale import fit_seen
from tests.bench.projected import KINDS, LEVELS, draw_scene, drawn


def photo(**changes):
    pixels = np.zeros((6, 8, 3), dtype=np.uint8)
    plain = Photo("one.jpg", pixels, "", 26 * 10 / 43.267, "Maker Phone 7", is_original=True)
    return replace(plain, **changes)


def with_truth(seed, level="good"):
    scene = draw_scene(seed, KINDS["strip + arm"], LEVELS[level])
    fit = fit_seen(scene.seen, scene.setup, "strip")
    true = scene.cameras[0].lens
    return scene, fit, np.array([np.log(true[0] / 4032), *true[3:6]])


def test_the_phone_is_known_by_make_lens_and_size_either_way_up():
    upright = photo(pixels=np.zeros((8, 6, 3), dtype=np.uint8))
    assert phone_of(photo()) == phone_of(upright) == Phone("Maker Phone 7", 26, (8, 6))


@pytest.mark.parametrize("changes", [{"camera": ""}, {"focal_px": None}, {"is_original": False}])
def test_a_changed_or_nameless_photo_is_of_no_known_phone(changes):
    assert phone_of(photo(**changes)) is None


@pytest.mark.slow
def test_a_scan_teaches_the_focal_length_within_what_it_claims():
    _, fit, true = with_truth(3001)
    evidence = evidence_of(fit, (photo(),))
    prior = fit.observations.lenses[0]
    after = taught(prior, evidence)
    off = np.log(after.focal_px / 4032) - true[0]
    assert abs(off) < 3 * after.sd_log_focal
    assert after.sd_log_focal < 0.8 * prior.sd_log_focal


@pytest.mark.slow
def test_a_worse_fit_teaches_less_of_the_same_lens():
    scene = draw_scene(3001, KINDS["strip"], LEVELS["typical"])
    fit = fit_seen(scene.seen, scene.setup, "strip")
    prior = fit.observations.lenses[0]
    learned = []
    for misfit in (1.0, 2.0, 4.0, 8.0):
        worse = replace(fit, solution=replace(fit.solution, chi2_per_dof=misfit))
        learned.append(taught(prior, evidence_of(worse, (photo(),))))
    moved = [float(np.log(lens.focal_px / prior.focal_px)) for lens in learned]
    assert moved == sorted(moved, reverse=True)
    assert 0 < moved[-1] < 0.5 * moved[0]
    sds = [lens.sd_terms[0] for lens in learned]
    assert sds == sorted(sds)
    assert 1.5 * sds[0] < sds[-1] < prior.sd_terms[0]


def test_evidence_adds_up_but_never_below_what_focusing_moves():
    prior = draw_scene(3001, KINDS["strip"], LEVELS["good"]).seen[0].lens
    one = LensEvidence(Phone("a", 26, (4, 3)), np.eye(4) * 1e4, np.zeros(4))
    two = one.and_(one)
    assert two.scans == 2
    assert taught(prior, two).sd_log_focal < taught(prior, one).sd_log_focal
    sure = LensEvidence(one.phone, np.eye(4) * 1e12, np.zeros(4))
    assert taught(prior, sure).sd_log_focal == pytest.approx(0.005, rel=0.01)


def test_terms_that_are_known_only_together_stay_tied_in_the_next_fit():
    scene = draw_scene(3001, KINDS["strip"], LEVELS["good"])
    prior = scene.seen[0].lens
    # Bending at one radius is known, k1 and k2 apart are not.
    row = np.array([0.0, 1.0, 0.36, 0.0])
    told = 1e8 * np.outer(row, row)
    true = scene.cameras[0].lens[3:5]
    known = LensEvidence(Phone("a", 26, (4, 3)), told, told @ np.array([0.0, *true, 0.0]))
    after = taught(prior, known)
    assert row[1:3] @ np.array(after.terms[:2]) == pytest.approx(row[1:3] @ true, rel=1e-2)
    spread = np.array(after.spread)
    together = np.sqrt(row @ spread @ spread.T @ row)
    apart = np.hypot(after.sd_terms[0], 0.36 * after.sd_terms[1])
    assert together < 0.5 * apart
    # The fit begins with the lens as taught, and its evidence is what the photo adds.
    seen = (replace(scene.seen[0], lens=after),)
    fit = fit_seen(seen, scene.setup, "strip")
    lens = fit.solution.model.lens(fit.solution.state, 0)
    assert abs(row[1:3] @ (lens[3:5] - np.array(after.terms[:2]))) < 4 * together
    added = evidence_of(fit, (photo(),))
    assert np.linalg.eigvalsh(added.precision).min() > -1e-6 * np.abs(added.precision).max()


def test_no_evidence_leaves_the_prior_alone():
    prior = draw_scene(3001, KINDS["strip"], LEVELS["good"]).seen[0].lens
    assert taught(prior, None) is prior


@pytest.mark.slow
def test_boards_scanned_before_make_the_next_one_of_the_lot_surer():
    alone = KINDS["strip + arm"]
    scenes = [drawn(6020, kind, LEVELS["typical"]) for kind in (alone, replace(alone, lot=5))]
    before, after = (scene.seen[0].lens for scene in scenes)
    assert after.sd_log_focal < 0.7 * before.sd_log_focal
    assert after.sd_terms[0] < 0.7 * before.sd_terms[0]
    # What five boards taught is true of the sixth's own lens.
    true = scenes[1].cameras[0].lens
    assert abs(np.log(after.focal_px / true[0])) < 3 * after.sd_log_focal
    assert abs(after.terms[0] - true[3]) < 3 * after.sd_terms[0]
