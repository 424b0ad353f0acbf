"""Cracks of all kinds as courses: end and surface checks, splits, shakes, cracks of knots."""

from dataclasses import dataclass, field

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.courses import Course, course_of, stepped, uneven
from tests.render_three.fields import line
from tests.render_three.grain import Grain


@dataclass(frozen=True)
class Lips:
    """How a crack meets light and dirt.

    ``fill``: linear light of what lies in it, or None; ``lit``: how much brighter one lip shows
    (-: the other one); ``lit_mm``: how wide; ``halo``: how much darker the wood beside is, over
    ``halo_mm``; ``depth_tint``: how brown the inside is, 0 black to 1.
    """

    fill: np.ndarray | None = None
    lit: float = 0.0
    lit_mm: float = 0.5
    raised: float = 0.0
    halo: float = 0.0
    halo_mm: float = 1.5
    depth_tint: float = 0.5


@dataclass(frozen=True)
class Crack:
    """One crack: its kind and look, the ``whole`` course and the ``pieces`` between its bridges."""

    kind: str
    look: str
    whole: Course
    pieces: tuple[Course, ...]
    lips: Lips = field(default_factory=Lips)


@dataclass(frozen=True)
class Habit:
    """How the cracks of one board are: what they share because the wood and the light do."""

    shade: float
    steps_mm: float
    step_every_mm: float
    wander_mm: float
    rough: float
    bridged: float
    lips: Lips


def draw_habit(rng: np.random.Generator) -> Habit:
    """Return how this board's cracks look."""
    dirt = rng.random()
    fill = None
    if dirt < 0.10:  # brown dirt, or pale dust of the saw
        fill = np.array([0.10, 0.065, 0.04], np.float32) * rng.uniform(0.5, 2.2)
    elif dirt < 0.15:
        fill = np.array([0.50, 0.42, 0.31], np.float32) * rng.uniform(0.6, 1.3)
    return Habit(
        shade=float(np.clip(rng.beta(1.0, 4.5), 0.01, 0.5)),
        steps_mm=float(rng.choice([0.0, 0.15, 0.4, 0.9])),
        step_every_mm=float(rng.uniform(8, 60)),
        wander_mm=float(rng.uniform(0.05, 0.6)),
        rough=float(rng.uniform(0.02, 0.16)),
        bridged=float(rng.choice([0.0, 0.0, 0.3, 0.8])),
        lips=Lips(
            fill=fill,
            lit=float(rng.normal(0, 0.25)) if rng.random() < 0.6 else 0.0,
            lit_mm=float(rng.uniform(0.25, 0.9)),
            raised=float(rng.normal(0, 0.15)) if rng.random() < 0.35 else 0.0,
            halo=float(rng.uniform(0.03, 0.25)) if rng.random() < 0.3 else 0.0,
            halo_mm=float(rng.uniform(0.6, 3)),
            depth_tint=float(rng.uniform(0, 1)),
        ),
    )


def draw_width_mm(rng: np.random.Generator, most: float = 3.0) -> float:
    """Return a crack's greatest width: mostly 0.3-0.8 mm, some hair, some gaping."""
    return float(np.clip(np.exp(rng.normal(np.log(0.45), 0.5)), 0.15, most))


def along_grain(
    rng: np.random.Generator,
    grain: Grain,
    start: tuple[float, float],
    x_end: float,
    width_mm: np.ndarray,
    habit: Habit,
    *,
    rings: bool = False,
) -> tuple[Course, tuple[Course, ...]]:
    """Return a crack from ``start`` along the fibres (or a ring) to ``x_end``, whole and in pieces.

    ``width_mm``: from the start on, at even places.
    """
    xs, ys = grain.followed(start, x_end, rings=rings, most=0.6 if rings else 0.9)
    ys = ys + line(rng, len(ys), rng.uniform(10, 50)) * habit.wander_mm
    ys = ys + line(rng, len(ys), 3) * habit.wander_mm * 0.12
    if habit.steps_mm:
        ys = ys + stepped(rng, xs, habit.steps_mm, habit.step_every_mm)
    count = max(len(xs), 8)
    widths = np.interp(np.linspace(0, 1, count), np.linspace(0, 1, len(width_mm)), width_mm)
    widths = widths * uneven(rng, count, 25, 0.25) * uneven(rng, count, 4, 0.15)
    # Deep where it gapes, shallow and brown where it closes.
    gape = np.clip(widths / 0.5, 0.3, 4.0)
    shade = np.clip(habit.shade * uneven(rng, count, 12, 0.3) * gape**-0.7, 0.005, 0.7)
    if x_end < start[0]:
        xs, ys, widths, shade = xs[::-1], ys[::-1], widths[::-1], shade[::-1]
    pixels = int(np.ptp(xs) / BASE_MM) + 8
    lips = tuple(line(rng, pixels, s) * habit.rough for s in rng.uniform(3, 20, 2))
    course = course_of(xs, ys, widths, shade, lips)
    return course, _bridged(rng, course, habit)


def _bridged(rng: np.random.Generator, course: Course, habit: Habit) -> tuple[Course, ...]:
    """Leave out short stretches where fibres still hold: the crack is broken there."""
    if not habit.bridged:
        return (course,)
    keep = np.ones(len(course.upper), bool)
    for _ in range(rng.poisson(habit.bridged * len(keep) * BASE_MM / 40)):
        gap = int(rng.uniform(0.4, 5) / BASE_MM)
        at = int(rng.integers(0, max(len(keep) - gap, 1)))
        keep[at : at + gap] = False
    return tuple(course.divided(keep)) or (course,)


def taper(rng: np.random.Generator, width_mm: float, hair_share: float) -> np.ndarray:
    """Return widths of a crack that opens towards its start and ends in a hair."""
    s = np.linspace(0, 1, 60)
    opening = width_mm * np.maximum(1 - s / (1 - hair_share), 0) ** rng.uniform(0.5, 1.3)
    return np.maximum(opening, rng.uniform(0.08, 0.18) * (1 - s) ** 0.3)


def lens(rng: np.random.Generator, width_mm: float) -> np.ndarray:
    """Return widths of a crack that is closed at both ends."""
    s = np.linspace(0, 1, 60)
    skew = s ** rng.uniform(0.6, 1.6)
    return width_mm * np.sin(np.pi * skew) ** rng.uniform(0.5, 1.2) + 0.04


def radial_cracks(
    rng: np.random.Generator,
    centre: tuple[float, float],
    radius: float,
    habit: Habit,
    most: int = 4,
) -> list[Course]:
    """Return cracks that run from near a knot's middle outwards, mm of the canvas."""
    found = []
    turn = rng.uniform(0, np.pi)
    for n in range(int(rng.integers(1, most + 1))):
        angle = turn + n * np.pi / most + rng.normal(0, 0.3)
        reach = radius * rng.uniform(0.5, 1.0), radius * rng.uniform(0.1, 1.0)
        way = np.array([np.cos(angle), np.sin(angle)])
        ends = np.array([np.add(centre, -reach[1] * way), np.add(centre, reach[0] * way)])
        upright = abs(way[1]) > abs(way[0])
        if upright:
            ends = ends[:, ::-1]
        ends = ends[np.argsort(ends[:, 0])]
        if ends[1, 0] - ends[0, 0] < 1.5:
            continue
        s = np.linspace(0, 1, 30)
        along = ends[0, 0] + s * (ends[1, 0] - ends[0, 0])
        across = ends[0, 1] + s * (ends[1, 1] - ends[0, 1])
        across = across + line(rng, 30, 8) * radius * 0.06
        widths = lens(rng, float(np.clip(rng.normal(0.06 * radius, 0.2), 0.2, 1.6)))
        widths = widths * uneven(rng, 60, 6, 0.3)
        shade = np.full(8, min(habit.shade * 0.6, 0.3))
        pixels = int((ends[1, 0] - ends[0, 0]) / BASE_MM) + 8
        lips = tuple(line(rng, pixels, 6) * 0.15 for _ in range(2))
        found.append(course_of(along, across, widths, shade, lips, upright=upright))
    return found
