import numpy as np
import pytest

from scanner.vision.flaws.learned_maps import CHANNELS, PHOTO_WEIGHTS
from scanner.vision.outline.face_map import WEIGHTS
from scanner.vision.training.blend import blended, stretched
from scanner.vision.training.halve import halved
from scanner.vision.training.onnx_weights import (
    initialisers,
    put_back,
    with_tensors,
    with_values,
)
from scanner.vision.training.snap import snapped


def test_half_precision_weights_are_the_same_to_three_digits():
    before = PHOTO_WEIGHTS.read_bytes()
    after = halved(before)
    assert len(after) <= len(before)
    told, kept = initialisers(after), initialisers(before)
    assert told.keys() == kept.keys()
    assert max(np.abs(told[name] - kept[name]).max() for name in kept) < 2e-3
    assert halved(after) == after


def test_what_did_not_learn_is_put_back_to_the_last_byte_and_what_did_is_kept():
    before = WEIGHTS.read_bytes()
    old = initialisers(before)
    held, _, learned, *_ = old

    def moved(tensor):
        changed = tensor
        for name, times in ((held, 1 + 1e-7), (learned, 1.01)):
            raw = old[name].astype("<f4").tobytes()
            changed = changed.replace(raw, (old[name] * np.float32(times)).tobytes())
        return changed

    made = put_back(with_tensors(before, moved), before)
    told = initialisers(made)
    assert np.array_equal(told[held], old[held])
    assert np.allclose(told[learned], old[learned] * 1.01)
    assert put_back(before, before) == before


def test_a_blend_lies_between_both_networks_weight_by_weight():
    before = PHOTO_WEIGHTS.read_bytes()
    old = initialisers(before)
    doubled = with_values(before, {name: 2 * values for name, values in old.items()})
    told = initialisers(blended(before, doubled, 0.25))
    for name, values in old.items():
        assert np.allclose(told[name], 1.25 * values, rtol=2e-3, atol=1e-6)


def test_one_claim_is_stretched_and_the_others_stay():
    before = PHOTO_WEIGHTS.read_bytes()
    old, told = initialisers(before), initialisers(stretched(before, "loose", 1.5, -0.1))
    changed = {name for name in old if not np.array_equal(old[name], told[name])}
    row = CHANNELS.index("loose")
    assert len(changed) == 2
    for name in changed:
        others = np.arange(len(CHANNELS)) != row
        assert np.array_equal(old[name][others], told[name][others])
        more = -0.1 if old[name].ndim == 1 else 0.0
        assert np.allclose(told[name][row], 1.5 * old[name][row] + more, rtol=2e-3)


def test_a_cracks_mark_is_laid_onto_the_dark_line_beside_it():
    pixels = np.full((80, 300, 3), 170, np.uint8)
    pixels += np.random.default_rng(0).integers(0, 9, pixels.shape, dtype=np.uint8)
    pixels[42:44, 20:200] = 60
    ring = np.array([[20.0, 38.5], [200, 38.5], [200, 40.5], [20, 40.5]])
    moved = snapped(ring, pixels)
    middle = 0.5 * (moved[: len(moved) // 2, 1] + moved[: len(moved) // 2 - 1 : -1, 1])
    assert np.median(middle) == pytest.approx(42.5, abs=1.0)
    assert np.ptp(moved[:, 0]) > 170


def test_a_crack_that_shows_nowhere_keeps_its_place():
    pixels = np.full((80, 300, 3), 170, np.uint8)
    ring = np.array([[20.0, 38.5], [200, 38.5], [200, 40.5], [20, 40.5]])
    assert np.abs(snapped(ring, pixels)[:, 1] - 39.5).max() < 2.6
