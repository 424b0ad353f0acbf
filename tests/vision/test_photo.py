import io
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.errors import PhotoError
from scanner.vision.fit.lens import EXIF_FOCAL_SD
from scanner.vision.photos.exif import Exif, history_of
from scanner.vision.photos.photo import blur_share, read_photo

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
EXIF = REAL / "photos" / "exif"
real = pytest.mark.skipif(not EXIF.is_dir(), reason=f"no real pictures in {EXIF}")


def _picture(width=800, height=600, seed=0):
    small = np.random.default_rng(seed).integers(0, 255, (height // 4, width // 4, 3), np.uint8)
    return Image.fromarray(small).resize((width, height), Image.NEAREST)


def _saved(path, picture, **exif):
    tags = Image.Exif()
    inner = tags.get_ifd(0x8769)
    if exif.get("focal"):
        inner[0xA405] = exif["focal"]
    if exif.get("size"):
        inner[0xA002], inner[0xA003] = exif["size"]
    if exif.get("zoom"):
        inner[0xA404] = exif["zoom"]
    if exif.get("orientation") is not None:
        tags[0x112] = exif["orientation"]
    picture.save(path, quality=90, exif=tags)
    return path


@pytest.mark.parametrize("orientation", range(9))
def test_every_orientation_comes_out_upright_and_once(tmp_path, orientation):
    upright = Image.new("RGB", (640, 480), "white")
    upright.paste((200, 0, 0), (0, 0, 200, 150))
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    stored = upright.transpose(turns[orientation]) if orientation in turns else upright
    photo = read_photo(_saved(tmp_path / "a.jpg", stored, orientation=orientation))
    assert photo.pixels.shape == (480, 640, 3)
    assert photo.pixels[20, 20, 1] < 60
    assert photo.pixels[400, 600].min() > 240


def test_the_focal_length_goes_by_the_diagonal_of_35_mm_film(tmp_path):
    photo = read_photo(_saved(tmp_path / "a.jpg", _picture(), focal=26, size=(800, 600)))
    assert photo.focal_px == pytest.approx(26 * 1000 / 43.267)
    assert photo.is_original
    assert not photo.is_cropped


def test_26_mm_on_12_megapixels_is_4_percent_more_by_the_diagonal_than_by_the_width():
    # By hand, 24 x 36 mm film: 26 x 5000 / 43.267 by the diagonal, 26 x 4000 / 36 by the width.
    # Which of both a maker means is not settled: the fit's own interval holds both.
    exif = Exif(26.0, (4000, 3000), 1.0, "a phone", is_empty=False)
    focal_px = history_of(exif, 4000, 3000).focal_px
    assert focal_px == pytest.approx(3004.6, abs=0.05)
    assert focal_px / 2888.9 == pytest.approx(1.040, abs=0.0005)
    assert np.log(focal_px / 2888.9) < 2 * EXIF_FOCAL_SD


def test_a_focal_length_of_nonsense_is_unknown(tmp_path):
    for focal in (1, 4000):
        photo = read_photo(_saved(tmp_path / "a.jpg", _picture(), focal=focal, size=(800, 600)))
        assert photo.focal_px is None


def test_a_cropped_or_resized_copy_is_an_unknown_camera(tmp_path):
    crop = read_photo(_saved(tmp_path / "a.jpg", _picture(), focal=26, size=(1600, 900)))
    assert (crop.focal_px, crop.is_original, crop.is_cropped) == (None, False, True)
    assert "cropped" in crop.doubts[0]
    small = read_photo(_saved(tmp_path / "a.jpg", _picture(), focal=26, size=(4000, 3000)))
    assert (small.focal_px, small.is_original, small.is_cropped) == (None, False, False)


def test_digital_zoom_is_said_and_zero_means_none(tmp_path):
    zoomed = _saved(tmp_path / "a.jpg", _picture(), focal=48, size=(800, 600), zoom=1.54)
    assert not read_photo(zoomed).is_original
    plain = _saved(tmp_path / "a.jpg", _picture(), focal=26, size=(800, 600), zoom=0.0)
    assert read_photo(plain).is_original


def test_half_a_picture_is_refused_not_filled_up_with_grey(tmp_path):
    whole = io.BytesIO()
    _picture(1600, 1200).save(whole, "JPEG", quality=90)
    path = tmp_path / "half.jpg"
    for share in (0.4, 0.9, 0.99):
        path.write_bytes(whole.getvalue()[: int(share * len(whole.getvalue()))])
        with pytest.raises(PhotoError, match=r"half\.jpg"):
            read_photo(path)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("note.jpg", b"this is no picture", "not a picture"),
        ("empty.jpg", b"", "not a picture"),
    ],
)
def test_what_is_no_picture_is_said_in_one_sentence(tmp_path, name, content, says):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(PhotoError, match=says) as caught:
        read_photo(path)
    assert str(caught.value).count(".") <= 2
    with pytest.raises(PhotoError, match="cannot be read"):
        read_photo(tmp_path / "missing.jpg")


@pytest.mark.parametrize(
    ("size", "says"), [(12_000, "12000 x 12000 pixels"), (20_000, "more pixels than can")]
)
def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_unopened(tmp_path, size, says):
    """A PNG of so many pixels, its data cut off: whoever unpacked it would say damaged."""
    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    blocks = [b"IHDR" + head, b"IDAT" + zlib.compress(bytes(1000))]
    packed = b"".join(
        struct.pack(">I", len(block) - 4) + block + struct.pack(">I", zlib.crc32(block))
        for block in blocks
    )
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + packed)
    with pytest.raises(PhotoError, match=rf"{says}.*at most 120 megapixels"):
        read_photo(tmp_path / "a.png")


def test_panoramas_and_thumbnails_are_refused(tmp_path):
    with pytest.raises(PhotoError, match="panorama"):
        read_photo(_saved(tmp_path / "a.jpg", _picture(2000, 800)))
    with pytest.raises(PhotoError, match="too few"):
        read_photo(_saved(tmp_path / "a.jpg", _picture(320, 240)))


def test_a_blurred_photo_is_doubted_and_a_sharp_one_is_not(tmp_path):
    sharp = _picture(1200, 900)
    from PIL import ImageFilter

    blurred = sharp.filter(ImageFilter.GaussianBlur(5))
    assert blur_share(np.asarray(sharp)) < 0.5
    photo = read_photo(_saved(tmp_path / "b.jpg", blurred, focal=26, size=(1200, 900)))
    assert any("not sharp" in doubt for doubt in photo.doubts)


@real
@pytest.mark.real
@pytest.mark.parametrize(
    ("name", "shape", "focal_35", "original"),
    [
        pytest.param("iphone11pro.heic", (4032, 3024), 26, True, marks=pytest.mark.slow),
        pytest.param("iphone8plus_ori6.heic", (4032, 3024), 28, True, marks=pytest.mark.slow),
        ("iphonexs_cropped.heic", (900, 1025), None, False),
        ("xiaomi_zoom.heic", (1944, 2592), 48, False),
        ("samsung_j327.jpg", (2576, 1932), 30, True),
        ("pixel_resized.jpg", (759, 1012), None, False),
        ("resized_with_exif.jpg", (360, 480), None, False),
        ("resized_no_exif.jpg", (360, 480), None, False),
    ],
)
def test_real_phone_files_tell_what_their_exif_is_worth(name, shape, focal_35, original):
    # What the files say was read with Pillow and listed beside them.
    photo = read_photo(EXIF / name)
    assert photo.pixels.shape[:2] == shape
    assert photo.is_original == original
    if focal_35 is None:
        assert photo.focal_px is None
    else:
        assert photo.focal_px == pytest.approx(focal_35 * np.hypot(*shape) / 43.267)


@pytest.mark.slow
@real
@pytest.mark.real
def test_eight_stored_orientations_of_one_real_picture_come_out_alike():
    first = read_photo(EXIF / "Landscape_1.jpg").pixels.astype(float)
    for turn in (0, 2, 3, 4, 5, 6, 7, 8):
        other = read_photo(EXIF / f"Landscape_{turn}.jpg").pixels.astype(float)
        assert other.shape == first.shape
        if turn == 0:
            continue
        # The digit in the middle differs; all else agrees only the right way up.
        straight = np.corrcoef(first[::8, ::8].ravel(), other[::8, ::8].ravel())[0, 1]
        turned = np.corrcoef(first[::8, ::8].ravel(), other[::-8, ::-8].ravel())[0, 1]
        assert straight > 0.9 > turned
