"""Board cards found in photos: which board, which face, which end."""

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from scanner.geometry.card_codes import card_id
from scanner.vision.photos.picture import Photo
from scanner.vision.rule.cards import SeenCard, end_with_card, find_cards

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"


def photo_of(pixels):
    return Photo("floor.jpg", pixels, sha256="", focal_px=None, camera="", is_original=True)


@lru_cache(maxsize=8)
def worn_floor(seed):
    """Return a grey floor of 1400 x 900 mm, half a millimetre a pixel."""
    random = np.random.default_rng(seed)
    white = random.standard_normal((900, 1400), np.float32)
    grain = cv2.GaussianBlur(40 * white, (0, 0), 2)
    scene = np.clip(140 + grain, 0, 255).astype(np.uint8)
    return cv2.resize(scene, None, fx=2, fy=2)


def floor_with(cards, mm_per_px=1.0, tilt_deg=0.0, blur_px=0.7, seed=0):
    """Return a photo of a worn floor with cards (board, face, x mm, y mm, turn deg) on it."""
    big = worn_floor(seed).copy()
    random = np.random.default_rng((seed, 1))
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    for board, face, x, y, turn in cards:
        paper = np.full((120, 248), 245, np.uint8)
        paper[18:102, 12:96] = cv2.aruco.generateImageMarker(codes, card_id(board, face), 84)
        move = cv2.getRotationMatrix2D((124, 60), turn, 1.0)
        move[:, 2] += [2 * x - 124, 2 * y - 60]
        warped = cv2.warpAffine(paper, move, big.shape[::-1])
        there = cv2.warpAffine(np.full_like(paper, 255), move, big.shape[::-1]) > 127
        big[there] = warped[there]
    squeeze = np.diag([0.5 / mm_per_px, 0.5 / mm_per_px * np.cos(np.radians(tilt_deg)), 1.0])
    size = (int(2800 * squeeze[0, 0]), int(1800 * squeeze[1, 1]))
    seen = cv2.warpPerspective(big, squeeze, size, flags=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen, (0, 0), blur_px)
    grit = 4 * random.standard_normal(seen.shape, np.float32)
    noisy = np.clip(seen + grit, 0, 255).astype(np.uint8)
    return photo_of(np.dstack([noisy] * 3))


@pytest.mark.parametrize(
    ("mm_per_px", "tilt"),
    [
        pytest.param(0.5, 0, marks=pytest.mark.slow),
        pytest.param(0.5, 50, marks=pytest.mark.slow),
        (1.0, 0),
        pytest.param(1.0, 40, marks=pytest.mark.slow),
        pytest.param(1.5, 0, marks=pytest.mark.slow),
        (1.5, 25),
    ],
)
def test_a_card_is_read_as_far_and_as_steeply_as_the_strip(mm_per_px, tilt):
    found = 0
    for seed in range(3):
        photo = floor_with([(7, 2, 700, 450, 70 * seed)], mm_per_px, tilt, seed=seed)
        cards = find_cards(photo)
        assert all((card.board, card.face) == (7, 2) for card in cards)
        found += len(cards)
    assert found == 3


def test_two_cards_are_both_read_where_they_lie():
    cards = find_cards(floor_with([(1, 1, 300, 200, 0), (2, 1, 1100, 600, 90)]))
    assert {(card.board, card.face) for card in cards} == {(1, 1), (2, 1)}
    (first,) = (card for card in cards if card.board == 1)
    # The marker's middle lies 35 mm left of the card's.
    assert first.middle_px == pytest.approx([265, 200], abs=2)


@pytest.mark.slow
def test_sample_boards_do_not_read_as_cards():
    paths = sorted(SAMPLES.glob("*.jpg"))[::3]
    assert len(paths) > 2
    for path in paths:
        with Image.open(path) as picture:
            assert not find_cards(photo_of(np.asarray(picture.convert("RGB"))))


@pytest.mark.slow
def test_bare_floors_do_not_read_as_cards():
    for seed in range(4):
        assert not find_cards(floor_with([], mm_per_px=1.2, seed=100 + seed))


def card_at(x, y, board=3, face=1):
    square = np.array([[-5, -5], [5, -5], [5, 5], [-5, 5]], float)
    return SeenCard(board, face, square + np.array([x, y]))


ENDS = np.array([[100.0, 500.0], [1100.0, 520.0]])


def test_the_end_beside_the_card_is_told():
    assert end_with_card((card_at(1150, 560),), ENDS)[1] == 1
    assert end_with_card((card_at(60, 450),), ENDS)[1] == 0


def test_a_card_by_the_middle_or_far_off_settles_nothing():
    assert end_with_card((card_at(600, 540),), ENDS) is None
    assert end_with_card((card_at(100, 900),), ENDS) is None


def test_the_nearest_of_two_cards_counts():
    card, end = end_with_card((card_at(280, 500, 4), card_at(1130, 500, 5)), ENDS)
    assert (card.board, end) == (5, 1)
