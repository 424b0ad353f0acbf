"""Letters on parts too small for their names, and the key that says what each one means.

The key also names the kinds of flaws that stand on the face by their ids alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.board.flaw import Flaw
from scanner.lot.totals import flaw_title
from scanner.sheets.drawing import PART, Point, Rgb, Sketch
from scanner.sheets.face_view import FLAW
from scanner.sheets.fonts import text_width
from scanner.sheets.part_labels import write_label

# Type of the key, how far apart its lines and entries stand, and the room below it.
_SIZE, _LINE, _GAP, _BELOW = 8.0, 10.5, 16.0, 3.0
# Letters that lie over the rims of their part are this small, step aside by this much, and stand
# beyond its ends, with a line to it, no farther than this: within the margin of a sheet.
_SMALL, _STEP, _BEYOND = 6.0, 3.0, 15.0


@dataclass(slots=True)
class PartKeys:
    """The letters of one board: what each stands for, in the order in which they were given.

    ``flaws``: those whose kinds found no room on the face, by their ids.
    """

    meanings: list[str] = field(default_factory=list)
    flaws: dict[str, str] = field(default_factory=dict)

    def add_flaws(self, flaws: Sequence[Flaw]) -> None:
        """Name the kinds of flaws."""
        self.flaws |= {flaw.id: flaw_title(flaw).removeprefix(flaw.id).strip() for flaw in flaws}

    def entries(self) -> list[tuple[str, str, Rgb]]:
        """Return letter or id, what it means, and its colour."""
        letters = [(_letters(k), said, PART) for k, said in enumerate(self.meanings)]
        return letters + [(id_, said, FLAW) for id_, said in self.flaws.items()]

    def letter(self, meaning: str) -> str:
        """Return the letter of what is meant, the next free one where it has none.

        Letters, as numbers on a board are its cuts; small ones, as A and B are its ends.
        """
        if meaning not in self.meanings:
            self.meanings.append(meaning)
        return _letters(self.meanings.index(meaning))


def _letters(number: int) -> str:
    """Return a, b ... z, aa, ab ..."""
    before, last = divmod(number, 26)
    return (_letters(before - 1) if before else "") + chr(ord("a") + last)


def write_letter(
    sketch: Sketch,
    ring: Sequence[Point],
    letter: str,
    largest: float,
    *,
    show: bool,
    avoid: Sequence[BaseGeometry],
    taken: Sequence[Polygon],
) -> list[Polygon]:
    """Write a letter on a part, over its rims where it is smaller than type; return its place.

    Parameters
    ----------
    show
        Whether to write the show mark beside it, where there is room.
    avoid
        What it should not hide where it fits inside.
    taken
        Places of other labels, over which it does not lie.
    """
    for tag in (True, False) if show else (False,):
        spots = write_label(sketch, ring, [letter], largest, bold_first=True, show=tag, avoid=avoid)
        if spots:
            return spots
    x0, y0, x1, y1 = Polygon(ring).bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    half = (text_width(letter, _SMALL, bold=True) / 2 + 0.25 * _SMALL, 0.65 * _SMALL)
    # Along the longer side of the part, so that letters of slats side by side stand apart.
    along = (1.0, 0.0) if x1 - x0 >= y1 - y0 else (0.0, 1.0)
    reach = max(x1 - x0, y1 - y0) / 2 + _BEYOND
    steps = [sign * _STEP * k for k in range(int(reach / _STEP) + 1) for sign in (1, -1)]
    places = [(middle[0] + step * along[0], middle[1] + step * along[1]) for step in steps]
    spots = [box(x - half[0], y - half[1], x + half[0], y + half[1]) for x, y in places]
    spot = next((s for s in spots if not any(map(s.intersects, taken))), spots[0])
    x, y = places[spots.index(spot)]
    if not spot.intersects(box(x0, y0, x1, y1)):
        sketch.line([middle, (x, y)], 0.6, PART)
    sketch.plate(x, y + 0.36 * _SMALL, letter, _SMALL, bold=True, anchor="middle", color=PART)
    return [spot]


def key_lines(keys: PartKeys, wide: float) -> list[list[tuple[float, str, str, Rgb]]]:
    """Return the key's lines: where each entry begins, its letter, its meaning, its colour."""
    lines: list[list[tuple[float, str, str, Rgb]]] = []
    x = wide
    for letter, meaning, color in keys.entries():
        long = text_width(letter, _SIZE, bold=True) + 4.0 + text_width(meaning, _SIZE)
        if not lines or x + long > wide:
            lines.append([])
            x = 0.0
        lines[-1].append((x, letter, meaning, color))
        x += long + _GAP
    return lines


def key_height(keys: PartKeys, wide: float) -> float:
    """Return how high the key stands."""
    lines = len(key_lines(keys, wide))
    return _LINE * lines + _BELOW if lines else 0.0


def write_key(sketch: Sketch, keys: PartKeys, x: float, y: float, wide: float) -> None:
    """Write what the letters mean, from (x, y) down."""
    for row, line in enumerate(key_lines(keys, wide)):
        base = y + _LINE * row + 0.8 * _SIZE
        for shift, letter, meaning, color in line:
            sketch.text(x + shift, base, letter, _SIZE, bold=True, color=color)
            after = text_width(letter, _SIZE, bold=True) + 4.0
            sketch.text(x + shift + after, base, meaning, _SIZE)
