"""The page model and its two painters."""

import io

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader
from shapely.geometry import LineString, Polygon, box

from scanner.sheets.drawing import PAPER, Line, Sketch, hatch_lines
from scanner.sheets.fonts import shortened, text_width, wrapped
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import page_image
from tests.sheets.golden import differing_share


def small_page():
    sketch = Sketch(200.0, 100.0)
    sketch.box(20.0, 20.0, 60.0, 40.0, (200, 0, 0))
    sketch.line([(10.0, 90.0), (190.0, 90.0)], 2.0, dash=(6.0, 4.0))
    sketch.text(100.0, 50.0, "rail 1 ± 2", 12.0, bold=True)
    sketch.picture(150.0, 10.0, 30.0, 20.0, Image.new("RGB", (60, 40), (0, 0, 200)))
    return sketch.page()


def test_hatch_stays_inside_its_shape():
    shape = Polygon([(0, 0), (40, 5), (35, 30), (3, 22)])
    lines = hatch_lines(shape, 4.0, 45.0)
    assert len(lines) > 5
    assert all(shape.buffer(1e-6).covers(LineString(line)) for line in lines)


def test_hatch_of_nothing_is_nothing():
    assert hatch_lines(Polygon(), 4.0, 45.0) == []
    assert hatch_lines(box(0, 0, 10, 10), 0.0, 45.0) == []


def test_what_lies_between_two_lines_of_the_hatch_stays_bare():
    assert hatch_lines(box(0.0, 10.5, 40.0, 11.5), 10.0, 0.0) == []
    assert len(hatch_lines(box(0.0, 9.5, 40.0, 11.5), 10.0, 0.0)) == 1


def test_a_ring_of_no_points_and_glass_beyond_the_page_draw_nothing():
    sketch = Sketch(50.0, 50.0)
    sketch.ring(())
    assert sketch.shapes == []
    sketch.box(200.0, 10.0, 30.0, 30.0, (0, 0, 0), 0.5)
    assert page_image(sketch.page(), 50).getcolors() == [(2500, PAPER)]


def test_hatches_of_neighbours_run_on():
    left, right = (
        hatch_lines(box(0, 0, 10, 10), 3.0, 0.0),
        hatch_lines(box(10, 0, 20, 10), 3.0, 0.0),
    )
    assert [line[0][1] for line in left] == pytest.approx([line[0][1] for line in right])


def test_a_dashed_line_has_gaps_and_a_full_one_none():
    dashed = np.asarray(page_image(small_page(), 800).convert("L"))[360]
    assert (dashed < 100).any() and (dashed[80:700] > 200).any()
    sketch = Sketch(200.0, 100.0)
    sketch.line([(10.0, 90.0), (190.0, 90.0)], 2.0)
    full = np.asarray(page_image(sketch.page(), 800).convert("L"))[360]
    assert (full[80:700] < 100).all()


def test_the_same_page_gives_the_same_bytes():
    assert pdf_bytes([small_page()], "x") == pdf_bytes([small_page()], "x")
    assert page_image(small_page(), 400).tobytes() == page_image(small_page(), 400).tobytes()


def test_a_pdf_tells_neither_when_nor_where_it_was_made():
    facts = PdfReader(io.BytesIO(pdf_bytes([small_page()], "Map"))).metadata
    assert facts is not None and facts.title == "Map"
    assert facts.creation_date is None or facts.creation_date.year == 2000


def test_text_in_a_pdf_can_be_searched():
    reader = PdfReader(io.BytesIO(pdf_bytes([small_page()], "Map")))
    assert "rail 1 ± 2" in reader.pages[0].extract_text()


def test_a_picture_under_the_page_fills_it():
    under = Image.new("RGB", (50, 25), (10, 200, 10))
    image = page_image(Sketch(200.0, 100.0).page(), 100, under=under)
    assert image.size == (100, 50) and image.getpixel((50, 25)) == (10, 200, 10)


def test_a_plate_is_drawn_under_its_words():
    sketch = Sketch(100.0, 40.0)
    sketch.plate(50.0, 25.0, "F1 knot?", 10.0, anchor="middle")
    first, second = sketch.shapes
    assert getattr(first, "fill", None) == PAPER and getattr(second, "text", "") == "F1 knot?"


def test_casing_lies_under_the_line():
    sketch = Sketch(10.0, 10.0)
    sketch.line([(0, 0), (5, 5)], 1.0, casing=1.0)
    under, over = sketch.shapes
    assert isinstance(under, Line) and isinstance(over, Line)
    assert (under.width, under.color, over.width) == (3.0, PAPER, 1.0)


def test_wrapped_lines_are_no_wider_than_asked():
    lines = wrapped("keep the kerf on the hatched side of every line", 80.0, 9.0)
    assert " ".join(lines) == "keep the kerf on the hatched side of every line"
    assert all(text_width(line, 9.0) <= 80.0 for line in lines)


def test_a_size_is_not_broken_over_two_lines():
    text = "B06 has 21 13/16 in x 6 3/8 in, 12.5 ± 0.5 mm off the end trim of end A"
    for width in range(60, 400, 5):
        lines = wrapped(text, width, 8.5)
        for size in ("21 13/16 in", "6 3/8 in", "12.5 ± 0.5 mm"):
            assert any(size in line for line in lines)
        assert " ".join(lines) == text


def test_a_text_too_long_ends_in_an_ellipsis():
    assert shortened("seat slat", 200.0, 9.0) == "seat slat"
    cut = shortened("a very long name of a part", 60.0, 9.0)
    assert cut.endswith("…") and text_width(cut, 9.0) <= 60.0


def test_the_golden_ruler_condemns_a_moved_line():
    right = page_image(small_page(), 600)
    sketch = Sketch(200.0, 100.0)
    sketch.shapes = [*small_page().shapes[1:]]
    sketch.box(26.0, 20.0, 60.0, 40.0, (200, 0, 0))
    assert differing_share(right, right) == 0.0
    assert differing_share(right, page_image(sketch.page(), 600)) > 0.01
