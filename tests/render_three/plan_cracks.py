"""Which cracks a face has: families at the ends, over the face, along rings, at knots and pith."""

from dataclasses import dataclass, replace

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.cracks import (
    Crack,
    Habit,
    along_grain,
    draw_habit,
    draw_width_mm,
    lens,
    radial_cracks,
    taper,
)
from tests.render_three.grain import Grain
from tests.render_three.knots import Knot

_BEYOND_MM = 3.0  # an end's crack is drawn from beyond the end; the outline cuts it off


@dataclass(frozen=True)
class Room:
    """Where cracks may be drawn: the grain and the face's box, mm of the canvas."""

    grain: Grain
    box: tuple[float, float, float, float]

    def from_end(self, rng: np.random.Generator, y: float, at_left: bool, long: float):
        """Return start and last x of a crack that comes from an end."""
        x0, _, x1, _ = self.box
        start = x0 - _BEYOND_MM if at_left else x1 + _BEYOND_MM
        return (start, y), start + (long + _BEYOND_MM) * (1 if at_left else -1)


def draw_cracks(
    rng: np.random.Generator,
    room: Room,
    knots: list[Knot],
    pith: tuple[float, float, float] | None,
) -> list[Crack]:
    """Return the cracks of a face; ``pith``: x and y of its middle and its length, mm."""
    habit = draw_habit(rng)
    cracks: list[Crack] = []
    if rng.random() < 0.85:
        for at_left in (True, False):
            if rng.random() < 0.6:
                cracks += _end_checks(rng, room, habit, at_left)
            if rng.random() < 0.18:
                cracks.append(_split(rng, room, habit, at_left))
        for _ in range(rng.poisson(0.6)):
            cracks += _family(rng, room, habit)
        if rng.random() < 0.55:
            cracks += [_single(rng, room, habit) for _ in range(int(rng.integers(1, 5)))]
        if rng.random() < 0.2:
            cracks += _echelon(rng, room, habit)
        if rng.random() < 0.2:
            cracks += [_shake(rng, room, habit) for _ in range(int(rng.integers(1, 3)))]
        if pith and rng.random() < 0.6:
            cracks += _along_pith(rng, room, habit, pith)
    for knot in knots:
        cracks += _of_knot(rng, room, habit, knot)
    return cracks


def _own(rng: np.random.Generator, habit: Habit) -> Habit:
    """Return the board's habit a little changed: no two cracks are alike."""
    shade = float(np.clip(habit.shade * np.exp(rng.normal(0, 0.35)), 0.01, 0.85))
    lips = replace(habit.lips, lit=habit.lips.lit * float(rng.uniform(0.3, 1.2)))
    if rng.random() < 0.7:
        lips = replace(lips, fill=None)
    return replace(habit, shade=shade, lips=lips)


def _made(rng, room, habit, kind, look, start, x_end, widths, *, rings=False) -> Crack:
    own = _own(rng, habit)
    whole, pieces = along_grain(rng, room.grain, start, x_end, widths, own, rings=rings)
    return Crack(kind, look, whole, pieces, own.lips)


def _end_checks(rng, room: Room, habit: Habit, at_left: bool) -> list[Crack]:
    _, y0, _, y1 = room.box
    middle, spread = rng.uniform(y0, y1), rng.uniform(4, 60)
    found = []
    for _ in range(1 + rng.poisson(rng.choice([0.5, 2, 5]))):
        y = float(np.clip(rng.normal(middle, spread), y0 + 1.5, y1 - 1.5))
        long = float(np.clip(np.exp(rng.normal(np.log(38), 0.75)), 5, 260))
        width = draw_width_mm(rng, 2.2) * float(np.clip((long / 40) ** 0.35, 0.5, 1.6))
        start, end = room.from_end(rng, y, at_left, long)
        widths = taper(rng, width, rng.uniform(0.05, 0.45))
        found.append(_made(rng, room, habit, "check", "end", start, end, widths))
    return found


def _split(rng, room: Room, habit: Habit, at_left: bool) -> Crack:
    x0, y0, x1, y1 = room.box
    y = rng.uniform(y0 + 0.1 * (y1 - y0), y1 - 0.1 * (y1 - y0))
    long = float(np.clip(np.exp(rng.normal(np.log(130), 0.7)), 30, (x1 - x0) * 1.1))
    start, end = room.from_end(rng, y, at_left, long)
    widths = taper(rng, draw_width_mm(rng) * rng.uniform(1.0, 2.6), rng.uniform(0.05, 0.3))
    return _made(rng, room, habit, "split", "end", start, end, np.minimum(widths, 4.0))


def _family(rng, room: Room, habit: Habit) -> list[Crack]:
    """Short surface checks in a zone: they came in one dry week and lie side by side."""
    x0, y0, x1, y1 = room.box
    cx, cy = rng.uniform(x0, x1), rng.uniform(y0, y1)
    sx, sy = rng.uniform(30, 200), rng.uniform(5, 50)
    usual, long = draw_width_mm(rng, 1.0) * 0.9, rng.uniform(8, 45)
    found = []
    for _ in range(int(rng.integers(3, 22))):
        x, y = rng.normal(cx, sx), rng.normal(cy, sy)
        size = float(np.clip(long * np.exp(rng.normal(0, 0.45)), 4, 120))
        if not (x0 + 1 < x - size / 2 and x + size / 2 < x1 - 1 and y0 + 1 < y < y1 - 1):
            continue
        widths = lens(rng, usual * np.exp(rng.normal(0, 0.35)))
        found.append(
            _made(rng, room, habit, "check", "surface", (x - size / 2, y), x + size / 2, widths)
        )
    return found


def _single(rng, room: Room, habit: Habit) -> Crack:
    x0, y0, x1, y1 = room.box
    long = float(np.clip(np.exp(rng.normal(np.log(70), 0.6)), 12, 0.6 * (x1 - x0)))
    x, y = rng.uniform(x0 + 2, x1 - long - 2), rng.uniform(y0 + 3, y1 - 3)
    widths = lens(rng, draw_width_mm(rng, 2.0))
    if rng.random() < 0.3:
        return _made(rng, room, habit, "check", "surface", (x + long, y), x, widths)
    return _made(rng, room, habit, "check", "surface", (x, y), x + long, widths)


def _echelon(rng, room: Room, habit: Habit) -> list[Crack]:
    """Cracks one behind the other, each a little beside the last and begun before it ends."""
    x0, y0, x1, y1 = room.box
    way = float(rng.choice([-1.0, 1.0]))
    aside, width = rng.uniform(0.7, 4), draw_width_mm(rng, 2.0)
    x, y = rng.uniform(x0 + 2, x0 + 0.5 * (x1 - x0)), rng.uniform(y0 + 8, y1 - 8)
    found = []
    for _ in range(int(rng.integers(2, 6))):
        long = rng.uniform(15, 90)
        if x + long > x1 - 2 or not y0 + 2 < y < y1 - 2:
            break
        widths = lens(rng, width * np.exp(rng.normal(0, 0.25)))
        crack = _made(rng, room, habit, "check", "surface", (x, y), x + long, widths)
        found.append(crack)
        x += long - rng.uniform(-0.05, 0.3) * long
        # The next one starts beside where this one got to, not beside where it began.
        y = float((crack.whole.upper[-1] + crack.whole.lower[-1]) / 2) * BASE_MM + way * aside
    return found


def _shake(rng, room: Room, habit: Habit) -> Crack:
    x0, y0, x1, y1 = room.box
    long = float(np.clip(np.exp(rng.normal(np.log(110), 0.6)), 25, 0.8 * (x1 - x0)))
    x, y = rng.uniform(x0, x1 - long), rng.uniform(y0 + 3, y1 - 3)
    smooth = replace(habit, steps_mm=0.0, wander_mm=0.5 * habit.wander_mm)
    widths = lens(rng, draw_width_mm(rng, 2.5) * 1.2)
    return _made(rng, room, smooth, "shake", "ring", (x, y), x + long, widths, rings=True)


def _along_pith(rng, room: Room, habit: Habit, pith) -> list[Crack]:
    x, y, long = pith
    found = []
    for _ in range(int(rng.integers(1, 4))):
        size = long * rng.uniform(0.2, 0.8)
        at = x + rng.uniform(-0.5, 0.5) * (long - size)
        start = (at - size / 2, y + rng.normal(0, 0.8))
        widths = lens(rng, draw_width_mm(rng, 2.0))
        found.append(_made(rng, room, habit, "check", "pith", start, at + size / 2, widths))
    return found


def _of_knot(rng, room: Room, habit: Habit, knot: Knot) -> list[Crack]:
    found = []
    if knot.kind == "cracked" or (knot.kind in ("grown_in", "loose") and rng.random() < 0.12):
        radius = min(knot.long, knot.wide)
        for course in radial_cracks(rng, (knot.x, knot.y), radius, habit):
            found.append(Crack("check", "in_knot", course, (course,), habit.lips))
    if knot.kind not in ("pin", "spike") and rng.random() < 0.15:
        way = float(rng.choice([-1.0, 1.0]))
        start = (knot.x + way * knot.long * 0.6, knot.y + rng.normal(0, 0.3) * knot.wide)
        end = start[0] + way * knot.long * rng.uniform(1.0, 6)
        widths = taper(rng, draw_width_mm(rng, 1.8), 0.2)
        found.append(_made(rng, room, habit, "check", "from_knot", start, end, widths))
    return found
