import io
import math

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw
from pypdf import PdfReader

from scanner.errors import SettingsError
from scanner.geometry.strip_layout import MARKER_MM
from scanner.sheets.strip import FONT, shapes_pdf
from scanner.sheets.strip_pages import StripOrder, strip_pages
from scanner.sheets.strip_shapes import Area, Stroke, Words

PX_PER_MM = 300 / 25.4


def _rasterised(page, px_per_mm=PX_PER_MM):
    width, height = (round(side * px_per_mm) for side in page.size_mm)
    picture = Image.new("L", (width, height), 255)
    pen = ImageDraw.Draw(picture)

    def px(point):
        return point[0] * px_per_mm - 0.5, height - point[1] * px_per_mm - 0.5

    for shape in page.shapes:
        match shape:
            case Area(points, grey):
                pen.polygon([px(point) for point in points], fill=round(255 * grey))
            case Stroke(start, stop, stroke, grey):
                wide = max(1, round(stroke * px_per_mm))
                pen.line([px(start), px(stop)], fill=round(255 * grey), width=wide)
    return np.asarray(picture)


def _markers(picture, dictionary=cv2.aruco.DICT_4X4_250):
    codes = cv2.aruco.getPredefinedDictionary(dictionary)
    corners, ids, _ = cv2.aruco.ArucoDetector(codes).detectMarkers(picture)
    return {int(i): np.asarray(c).reshape(4, 2) for i, c in zip(ids.ravel(), corners, strict=True)}


@pytest.mark.parametrize(("paper", "margins"), [("a4", (19.5, 11.0)), ("letter", (10.7, 13.95))])
def test_the_same_block_stands_in_the_middle_of_both_papers(paper, margins):
    page = strip_pages(StripOrder(2500.0, paper))[0]
    inked = [shape for shape in page.shapes if isinstance(shape, Area) and shape.grey < 1.0]
    points = [p for shape in inked for p in shape.points]
    xs, ys = zip(*points, strict=True)
    assert min(xs) == pytest.approx(margins[0])
    assert max(xs) == pytest.approx(margins[0] + 250.0)
    # The markers of the top and bottom piece stand 12 mm inside the block.
    assert min(y for y in ys) >= margins[1]
    # ISO 216 and ANSI Y14.1 landscape sizes.
    assert page.size_mm == {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}[paper]


@pytest.mark.parametrize(("feet", "pages"), [(8, 4), (12, 5), (16, 7)])
def test_a_strip_takes_as_many_pages_as_its_pieces_need(feet, pages):
    length = {8: 2500.0, 12: 3750.0, 16: 5000.0}[feet]
    assert len(strip_pages(StripOrder(length))) == pages


@pytest.mark.slow
def test_a_printed_page_is_read_back_by_the_marker_finder():
    for page_number, page in enumerate(strip_pages(StripOrder(2500.0, "letter"))):
        found = _markers(_rasterised(page))
        first = 15 * page_number
        assert set(found) == set(range(first, min(50, first + 15)))


def test_markers_stand_where_the_layout_says_to_a_printed_dot():
    page = strip_pages(StripOrder(750.0, "a4"))[0]
    found = _markers(_rasterised(page))
    assert set(found) == set(range(15))
    for number, corners in found.items():
        piece, place = divmod(number, 5)
        left = 19.5 + 50 * place + 25 - MARKER_MM / 2
        top = 210 - 11.0 - 64 * piece - 30 + MARKER_MM / 2
        expected = (left * PX_PER_MM, (210 - top) * PX_PER_MM)
        assert corners[0] == pytest.approx(expected, abs=2.5)
        side = np.linalg.norm(corners[1] - corners[0]) / PX_PER_MM
        assert side == pytest.approx(MARKER_MM, abs=0.15)


def test_second_strip_arm_and_cards_carry_their_own_numbers():
    pages = strip_pages(StripOrder(250.0, second=True, arm=True, cards=2))
    found = [set(_markers(_rasterised(page, 6.0))) for page in pages[:2]]
    assert found == [set(range(100, 105)), set(range(200, 206))]
    # Boards 1 and 2, both faces: id = 2 x board + face - 1.
    assert set(_markers(_rasterised(pages[2], 6.0), cv2.aruco.DICT_5X5_1000)) == {2, 3, 4, 5}


def test_a_card_is_read_by_people_too():
    (page,) = strip_pages(StripOrder(250.0, cards=1))[1:]
    words = " ".join(shape.text for shape in page.shapes if isinstance(shape, Words))
    assert "board 1 face 1 end A lies here" in words
    assert "board 1 face 2" in words


@pytest.mark.slow
def test_a_measured_check_line_corrects_both_ways():
    plain = _markers(_rasterised(strip_pages(StripOrder(250.0))[0]))
    order = StripOrder(250.0, measured_mm=(248.0, 181.0))
    corrected = _markers(_rasterised(strip_pages(order)[0]))
    wide = corrected[4][0, 0] - corrected[0][0, 0]
    tall = corrected[0][3, 1] - corrected[0][0, 1]
    assert wide / (plain[4][0, 0] - plain[0][0, 0]) == pytest.approx(250 / 248, abs=5e-4)
    assert tall / (plain[0][3, 1] - plain[0][0, 1]) == pytest.approx(180 / 181, abs=4e-3)


def printed(order):
    return PdfReader(io.BytesIO(shapes_pdf(strip_pages(order), "coded strip", FONT)))


def test_the_pdf_has_the_papers_size_and_asks_for_no_scaling():
    reader = printed(StripOrder(2500.0, "letter", arm=True))
    assert len(reader.pages) == 5
    box = reader.pages[0].mediabox
    assert float(box.width) == pytest.approx(279.4 / 25.4 * 72, abs=0.01)
    assert float(box.height) == pytest.approx(215.9 / 25.4 * 72, abs=0.01)
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
    text = reader.pages[0].extract_text()
    assert "never fit to page" in text
    assert "A 01" in text


def test_pdf_squares_have_the_size_in_points():
    content = printed(StripOrder(250.0)).pages[0].get_contents().get_data().decode("latin-1")
    numbers = [line.split() for line in content.splitlines() if line.endswith(" m") or " l" in line]
    assert numbers
    marker_points = MARKER_MM / 25.4 * 72
    first = content.split(" m ", 1)
    x0 = float(first[0].split()[-2])
    x1 = float(first[1].split()[0])
    assert math.isclose(x1 - x0, marker_points, abs_tol=0.01)


@pytest.mark.parametrize(
    "order",
    [
        StripOrder(6000.0),
        StripOrder(0.0),
        StripOrder(250.0, cards=500),
        StripOrder(250.0, measured_mm=(200.0, 180.0)),
        StripOrder(250.0, "letter", measured_mm=(237.0, 170.6)),
    ],
)
def test_what_cannot_be_printed_is_refused_in_one_sentence(order):
    with pytest.raises(SettingsError, match=r": .*\.$"):
        strip_pages(order)
