"""Shapes of curved parts: SVG and JSON outlines, turned so that their grain runs along the part."""

import json
import math

import numpy as np
import pytest
from shapely.geometry import Polygon

from scanner.errors import PartsListError
from scanner.files.parts_list import parts_json, read_parts, read_parts_text
from scanner.files.shape_file import read_shape
from scanner.files.svg_path import path_points

SVG = '<svg xmlns="http://www.w3.org/2000/svg"{}>{}</svg>'
LINE = '<line x1="0" y1="0" x2="10" y2="0"/>'


def shape(tmp_path, text, name="leg.svg"):
    (tmp_path / name).write_text(text)
    return Polygon(read_shape(tmp_path / name))


@pytest.mark.parametrize(
    ("data", "area"),
    [
        ("M 0,50 A 50,50 0 1 1 100,50 A 50 50 0 1 1 0 50 Z", math.pi * 2500),
        # The same circle run the other way round: the other sweep.
        ("M 0,50 A 50,50 0 1 0 100,50 A 50 50 0 1 0 0 50 Z", math.pi * 2500),
        # The small arc of a quarter circle over its chord, bulging out: (pi / 4 - 1 / 2) r squared.
        ("M 100 0 A 100 100 0 0 1 0 100 Z", (math.pi / 4 - 1 / 2) * 100**2),
        ("m0 0h100v50h-100z", 5000),
        # A cubic whose handles stand square on its ends: 3/5 of the box under its handles.
        ("M0 0 C 0 100 100 100 100 0 Z", 6000),
        # A parabola over its chord: 2/3 of base times height (Archimedes), height 50.
        ("M0 0 Q 50 100 100 0 Z", 2 / 3 * 100 * 50),
        # The second arch is the first one turned over, so both cancel out.
        ("M0 0 Q 50 100 100 0 T 200 0 L 200 -100 L 0 -100 Z", 20000),
    ],
)
def test_curves_of_a_path_enclose_their_known_areas(data, area):
    assert Polygon(path_points(data)).area == pytest.approx(area, rel=0.004)


@pytest.mark.parametrize("data", ["M 0", "10 10 L 5 5", "M0 0 L 5 x", "M 0 0 C 1 1 2 2"])
def test_what_is_no_path_is_refused(data):
    with pytest.raises(ValueError, match="the path"):
        path_points(data)


def test_the_grain_line_is_laid_along_the_part(tmp_path):
    """A rectangle 30 wide and 200 high, its grain upright: 200 along the part, 30 across."""
    text = SVG.format(
        "", '<polygon points="5,5 35,5 35,205 5,205"/><line x1="9" y1="9" x2="9" y2="99"/>'
    )
    assert shape(tmp_path, text).bounds == pytest.approx((0, 0, 200, 30))
    corners = [[5, 5], [35, 5], [35, 205], [5, 205]]
    text = json.dumps({"outline": corners, "grain": [[0, 0], [0, 1]]})
    assert shape(tmp_path, text, "leg.json").bounds == pytest.approx((0, 0, 200, 30))


def test_the_drawing_says_its_own_unit(tmp_path):
    text = SVG.format(' width="4in" viewBox="0 0 400 100"', f'<path d="M0 0H400V100H0Z"/>{LINE}')
    assert shape(tmp_path, text).bounds == pytest.approx((0, 0, 101.6, 25.4))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SVG.format("", '<path d="M0 0H9V9Z"/>'), "has no grain line"),
        (SVG.format("", LINE), "has no path or polygon"),
        (
            SVG.format("", f'<g transform="scale(2)"><path d="M0 0H9V9Z"/></g>{LINE}'),
            "by transform",
        ),
        (SVG.format("", f'<path d="M0 0L9 9L9 0L0 9Z"/>{LINE}'), "no closed shape"),
        ("<svg>", "is no SVG"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "defines entities of its own"),
    ],
)
def test_a_drawing_that_cannot_be_meant_is_refused_with_what_to_do(tmp_path, text, said):
    with pytest.raises(PartsListError, match=said):
        shape(tmp_path, text)


def test_a_row_and_its_shape_have_one_size(tmp_path):
    (tmp_path / "leg.svg").write_text(SVG.format("", f'<path d="M0 0H400V100Z"/>{LINE}'))
    head = "name,quantity,length,width,thickness,faces,shape,length_min\n"
    rows = {"good": "leg,2,400,100,20,both,leg.svg,\n", "bad": "leg,2,440,100,20,both,leg.svg,\n"}
    rows["gives"] = "leg,2,400,100,20,both,leg.svg,380\n"
    for name, row in rows.items():
        (tmp_path / f"{name}.csv").write_text(head + row)
    (leg,) = read_parts(tmp_path / "good.csv")
    assert Polygon(leg.outline_mm).area == pytest.approx(20000)
    assert json.loads(parts_json((leg,)))["parts"][0]["shape"] == "leg.svg"
    with pytest.raises(PartsListError, match=r"its shape is 400\.0 x 100\.0 mm"):
        read_parts(tmp_path / "bad.csv")
    with pytest.raises(PartsListError, match="one size only"):
        read_parts(tmp_path / "gives.csv")
    # A table without a folder has no shape at hand: the part stays a rectangle.
    (typed,) = read_parts_text(head + rows["good"], "parts.csv")
    assert typed.outline_mm is None


@pytest.mark.parametrize("radius", [30.0, 600.0])
@pytest.mark.parametrize("arc", ["A {r} {r} 0 0 1 {r} 0", "A {r} {r} 0 1 1 0 {r}"])
def test_an_arc_lies_within_a_tenth_of_a_millimetre_of_its_circle_however_long_it_is(radius, arc):
    """A half of a round table's top, and three quarters: both begin at a point of the circle."""
    start = (-radius, 0.0)
    path = f"M {start[0]} {start[1]} " + arc.format(r=radius)
    points = np.array(path_points(path))
    middles = (points[1:] + points[:-1]) / 2
    assert np.abs(np.linalg.norm(points, axis=1) - radius).max() < 1e-6
    assert np.abs(np.linalg.norm(middles, axis=1) - radius).max() < 0.1
