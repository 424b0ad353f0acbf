"""What is written on a part or left-over: as large as it fits, and not over a flaw."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.sheets.drawing import INK, PAPER, Point, Sketch
from scanner.sheets.fonts import text_width

_SIZES = (11.0, 10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5)
_LINE = 1.2
# Where something is to be avoided the size is left out before type gets smaller than this.
_LEAST_FULL = 8.0
_SHOW = "SHOW"
_SHARES = (0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0)


@dataclass(frozen=True, slots=True)
class Fit:
    """Rows of text in one type size, centred at (x, y).

    ``bold``: how many rows, from the first, are the name. ``tag``: room for the show mark.
    """

    rows: tuple[str, ...]
    bold: int
    size: float
    x: float
    y: float
    text_wide: float
    tag: float

    @property
    def tall(self) -> float:
        """Height of the rows."""
        return _LINE * self.size * len(self.rows)

    @property
    def spot(self) -> Polygon:
        """The place it takes."""
        half = (self.text_wide + self.tag) / 2 + 0.3 * self.size
        return box(self.x - half, self.y - self.tall / 2, self.x + half, self.y + self.tall / 2)


def write_label(
    sketch: Sketch,
    ring: Sequence[Point],
    lines: Sequence[str],
    largest: float,
    *,
    bold_first: bool = False,
    show: bool = False,
    avoid: Sequence[BaseGeometry] = (),
    never: Sequence[BaseGeometry] = (),
) -> list[Polygon]:
    """Write lines inside a ring; return the place taken (nothing where not even a name fits).

    Best is all of it, large and hiding nothing; then the name alone, hiding nothing, in one row or
    several, large if it can be; then all of it, whatever lies there but for what ``never`` may be
    hidden.
    """
    fit = next(_fits(ring, lines, largest, bold_first, show, avoid, never), None)
    if fit is None:
        return []
    left = fit.x - (fit.text_wide + fit.tag) / 2
    top, size = fit.y - fit.tall / 2, fit.size
    sketch.box(left - 0.25 * size, top, fit.text_wide + 0.5 * size, fit.tall, PAPER, 0.88)
    for k, row in enumerate(fit.rows):
        sketch.text(
            left + fit.text_wide / 2, top + (0.95 + _LINE * k) * size, row, size,
            bold=k < fit.bold, anchor="middle",
        )  # fmt: skip
    if show:
        sketch.plate(
            left + fit.text_wide + 0.8 * size, fit.y + 0.3 * size, _SHOW, 0.8 * size,
            bold=True, color=PAPER, fill=INK, opacity=1.0,
        )  # fmt: skip
    return [fit.spot]


def _fits(
    ring: Sequence[Point],
    lines: Sequence[str],
    largest: float,
    bold_first: bool,
    show: bool,
    avoid: Sequence[BaseGeometry],
    never: Sequence[BaseGeometry],
) -> Iterator[Fit]:
    """Yield labels that fit, best first."""
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    # What lies elsewhere on the board need not be asked each time.
    here = box(min(xs), min(ys), max(xs), max(ys))
    never = [shape for shape in never if here.intersects(shape)]
    avoid = [*never, *(shape for shape in avoid if here.intersects(shape))]
    room = (max(xs) - min(xs) - 4.0, max(ys) - min(ys) - 1.0)
    middle = ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
    full = [tuple(lines), ("  ".join(lines),)] if len(lines) > 1 else [tuple(lines)]
    name = [tuple(lines[:1])]
    words = [*_halved(lines[0], bold=bold_first), tuple(lines[0].split())]
    one, every = (1, len(words[-1])) if bold_first else (0, 0)
    passes = (
        (full, one, _LEAST_FULL, avoid),
        (name, one, _LEAST_FULL, avoid),
        (words, every, _LEAST_FULL, avoid),
        (name, one, 0.0, avoid),
        (words, every, 0.0, avoid),
        (full, one, 0.0, never),
        (name, one, 0.0, never),
        (words, every, 0.0, never),
    )
    for choices, bold, least, hide_not in passes:
        for size in (s for s in _SIZES if least <= s <= largest):
            tag = text_width(_SHOW, 0.8 * size, bold=True) + 0.9 * size if show else 0.0
            for rows in choices:
                wide = max(text_width(row, size, bold=k < bold) for k, row in enumerate(rows))
                need = (wide + tag + 0.5 * size, _LINE * size * len(rows))
                if need[0] > room[0] or need[1] > room[1]:
                    continue
                for x, y in _places(middle, (room[0] - need[0], room[1] - need[1]), hide_not):
                    fit = Fit(rows, bold, size, x, y, wide, tag)
                    if not any(fit.spot.intersects(shape) for shape in hide_not):
                        yield fit


def _halved(name: str, *, bold: bool) -> list[tuple[str, ...]]:
    """Return a name of three words or more as two rows, as even as they go."""
    words = name.split()
    pairs = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    if len(pairs) < 2:
        return []
    return [min(pairs, key=lambda pair: max(text_width(row, 1.0, bold=bold) for row in pair))]


def _places(middle: Point, slack: Point, avoid: Sequence[BaseGeometry]) -> list[Point]:
    """Return places to try, nearest to the middle first; only the middle if nothing is to avoid."""
    if not avoid:
        return [middle]
    steps = [(sx * slack[0] / 2, sy * slack[1] / 2) for sx in _SHARES for sy in _SHARES]
    steps.sort(key=lambda step: abs(step[0]) + abs(step[1]))
    return [(middle[0] + dx, middle[1] + dy) for dx, dy in steps]
