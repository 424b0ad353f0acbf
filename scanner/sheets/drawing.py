"""A page as plain shapes, drawn the same way into PDF and into a picture.

Units are points (1/72 in) on paper, or pixels on a picture; origin top left, x right, y down.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Self

import numpy as np
import shapely
from PIL import Image
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from scanner.sheets.fonts import text_width

Point = tuple[float, float]
Rgb = tuple[int, int, int]
Anchor = Literal["start", "middle", "end"]
# A picture, or what opens it when it is needed, so many times coarser (1, 2, 4 or 8).
Photograph = Image.Image | Callable[[int], Image.Image]

INK: Rgb = (17, 17, 17)
PAPER: Rgb = (255, 255, 255)
GREY: Rgb = (110, 110, 110)
PALE: Rgb = (236, 236, 236)
# How fine photographs lie on a sheet, pixels a point: enough for a printer, small enough to mail.
FINE = 200 / 72
# Points of a ring nearer to its course than this are left out: no printer shows them.
_UNSEEN = 0.04
# Rims of parts, and what stands for them.
PART: Rgb = (0, 58, 150)


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points."""

    points: tuple[Point, ...]
    width: float = 1.0
    color: Rgb = INK
    dash: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """A filled ring; ``opacity`` of the fill from 0 to 1."""

    points: tuple[Point, ...]
    fill: Rgb
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) is on its base line."""

    x: float
    y: float
    text: str
    size: float
    color: Rgb = INK
    bold: bool = False
    anchor: Anchor = "start"


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture filling a rectangle.

    ``source``: the picture, or what makes it when it is drawn, so that sheets of a large lot need
    not hold all pictures at once.
    """

    x: float
    y: float
    width: float
    height: float
    source: Image.Image | Callable[[], Image.Image]

    @property
    def image(self) -> Image.Image:
        """The picture itself, made anew each time where it is made."""
        return self.source if isinstance(self.source, Image.Image) else self.source()


Shape = Line | Area | Text | Picture


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page: shapes in drawing order."""

    width: float
    height: float
    shapes: tuple[Shape, ...]

    def opened(self) -> Self:
        """Return the page with its pictures made, to be drawn more than once."""
        shapes = [replace(s, source=s.image) if isinstance(s, Picture) else s for s in self.shapes]
        return replace(self, shapes=tuple(shapes))


@dataclass(slots=True)
class Sketch:
    """A page while it is being drawn."""

    width: float
    height: float
    shapes: list[Shape] = field(default_factory=list)

    def page(self) -> Page:
        """Return the finished page."""
        return Page(self.width, self.height, tuple(self.shapes))

    def line(
        self,
        points: Iterable[Point],
        width: float = 1.0,
        color: Rgb = INK,
        dash: tuple[float, float] | None = None,
        casing: float = 0.0,
    ) -> None:
        """Draw a line; ``casing`` lays a wider white one under it, to be seen on dark wood."""
        path = tuple(points)
        if casing > 0:
            self.shapes.append(Line(path, width + 2 * casing, PAPER))
        self.shapes.append(Line(path, width, color, dash))

    def ring(
        self,
        points: Sequence[Point],
        width: float = 1.0,
        color: Rgb = INK,
        dash: tuple[float, float] | None = None,
        casing: float = 0.0,
    ) -> None:
        """Draw a closed line."""
        if points:
            self.line([*points, points[0]], width, color, dash, casing)

    def area(self, points: Iterable[Point], fill: Rgb, opacity: float = 1.0) -> None:
        """Fill a ring."""
        self.shapes.append(Area(tuple(points), fill, opacity))

    def box(
        self, x: float, y: float, width: float, height: float, fill: Rgb, opacity: float = 1.0
    ) -> None:
        """Fill a rectangle."""
        self.area(box_points(x, y, width, height), fill, opacity)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        anchor: Anchor = "start",
        color: Rgb = INK,
    ) -> None:
        """Write one line; y is its base line."""
        if text:
            self.shapes.append(Text(x, y, text, size, color, bold, anchor))

    def plate(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        anchor: Anchor = "start",
        color: Rgb = INK,
        fill: Rgb = PAPER,
        opacity: float = 0.9,
    ) -> None:
        """Write a line on a plate of its own, to be read on any wood; y is its base line."""
        wide = text_width(text, size, bold=bold)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        pad = 0.22 * size
        self.box(left - pad, y - size, wide + 2 * pad, 1.28 * size, fill, opacity)
        self.text(left, y, text, size, bold=bold, color=color)

    def disc(self, x: float, y: float, text: str, size: float, *, solid: bool = True) -> None:
        """Draw a number in a disc centred at (x, y)."""
        radius = disc_radius(text, size)
        rim = LineString([(x, y), (x + 1e-9, y)]).buffer(radius, quad_segs=8)
        self.area(points_of_ring(rim), INK if solid else PAPER)
        self.ring(points_of_ring(rim), 1.0, PAPER if solid else INK)
        self.text(
            x, y + 0.36 * size, text, size, bold=True, anchor="middle",
            color=PAPER if solid else INK,
        )  # fmt: skip

    def picture(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        source: Image.Image | Callable[[], Image.Image],
    ) -> None:
        """Lay a picture, or what will make it, into a rectangle."""
        self.shapes.append(Picture(x, y, width, height, source))

    def hatch(
        self,
        shape: BaseGeometry,
        step: float,
        angle_deg: float = 45.0,
        width: float = 0.5,
        color: Rgb = INK,
        casing: float = 0.0,
    ) -> None:
        """Fill a shape with parallel lines ``step`` apart."""
        for segment in hatch_lines(shape, step, angle_deg):
            self.line(segment, width, color, casing=casing)


def box_points(x: float, y: float, width: float, height: float) -> tuple[Point, ...]:
    """Return the corners of a rectangle."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def disc_radius(text: str, size: float) -> float:
    """Return the radius of the disc round a number."""
    return max(0.72 * size, text_width(text, size, bold=True) / 2 + 0.28 * size)


def points_of_ring(shape: Polygon) -> tuple[Point, ...]:
    """Return the outer ring without its doubled last point, nor points that nobody would see."""
    points = shapely.get_coordinates(shape.simplify(_UNSEEN).exterior)[:-1]
    return tuple((x, y) for x, y in points.tolist())


def hatch_lines(shape: BaseGeometry, step: float, angle_deg: float) -> list[tuple[Point, ...]]:
    """Return parallel segments that fill a shape.

    The lines lie on one grid for the whole page, so hatches of neighbours run on.
    """
    if shape.is_empty or step <= 0:
        return []
    turned = affinity.rotate(shape, -angle_deg, origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    first = int(y0 // step) + 1
    down = step * np.arange(first, int(y1 // step) + 1)
    if not down.size:
        return []
    rows = np.stack([np.stack([np.full_like(down, x), down], 1) for x in (x0 - 1, x1 + 1)], 1)
    inside = shapely.intersection(shapely.multilinestrings(shapely.linestrings(rows)), turned)
    pieces = shapely.get_parts(affinity.rotate(inside, angle_deg, origin=(0, 0)))
    return [
        tuple((x, y) for x, y in shapely.get_coordinates(piece).tolist())
        for piece in pieces[shapely.length(pieces) > 0.05 * step]
    ]
