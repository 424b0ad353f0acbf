"""What looks like a crack and is none: drawn lines, hairs, blades, scratches, streaks, joints."""

import numpy as np

from tests.render_three import BASE_MM
from tests.render_three.courses import Course, course_of, uneven
from tests.render_three.cracks import lens
from tests.render_three.fields import line, ramp, smooth
from tests.render_three.grain import Grain
from tests.render_three.spots import paint_streak, streak_course

Box = tuple[float, float, float, float]


def paint_in_wood(rng: np.random.Generator, canvas: np.ndarray, grain: Grain, box: Box) -> None:
    """Paint what the wood itself grew, in place; ``box`` is the face, mm of the canvas."""
    _some(rng, canvas, grain, box, ((_mineral, 0.3, 5), (_dark_lines, 0.35, 6), (_joint, 0.04, 1)))


def paint_on_wood(rng: np.random.Generator, canvas: np.ndarray, grain: Grain, box: Box) -> None:
    """Paint what was drawn on the face or lies on it, in place."""
    kinds = (
        (_scratches, 0.3, 6),
        (_roller_lines, 0.1, 1),
        (_pencil, 0.3, 3),
        (_crayon, 0.08, 1),
        (_ink, 0.08, 2),
        (_hairs, 0.2, 4),
        (_blades, 0.12, 4),
        (_string, 0.1, 2),
    )
    _some(rng, canvas, grain, box, kinds)


def _some(rng, canvas, grain, box, kinds) -> None:
    for paint, chance, most in kinds:
        if rng.random() < chance:
            for _ in range(int(rng.integers(1, most + 1))):
                paint(rng, canvas, grain, box)


def _place(rng, box: Box) -> tuple[float, float]:
    x0, y0, x1, y1 = box
    return float(rng.uniform(x0, x1)), float(rng.uniform(y0, y1))


def _cover(course: Course, canvas: np.ndarray, soft: float = 0.5):
    """Return the strip of canvas round a course and how far it is covered there, 0-1."""
    ground = canvas.transpose(1, 0, 2) if course.upright else canvas
    left = max(course.first, 0)
    right = min(course.first + len(course.upper), ground.shape[1])
    if right - left < 2:
        return None
    cut = slice(left - course.first, right - course.first)
    upper, lower = course.upper[cut], course.lower[cut]
    top = max(int(upper.min() - 3 * soft) - 1, 0)
    bottom = min(int(lower.max() + 3 * soft) + 2, ground.shape[0])
    if bottom - top < 2:
        return None
    rows = np.arange(top, bottom, dtype=np.float32)[:, None]
    if soft <= 0.5:
        cover = np.clip(np.minimum(rows + 0.5, lower) - np.maximum(rows - 0.5, upper), 0, 1)
    else:
        cover = ramp(np.minimum(rows - upper, lower - rows), -soft, soft)
    return ground[top:bottom, left:right], cover.astype(np.float32)


def _straight(rng, x, y, long, angle, wide_mm, bend=0.0, taper=False) -> Course:
    """Return a line from (x, y) mm on, turned by ``angle`` against x."""
    upright = abs(np.sin(angle)) > abs(np.cos(angle))
    s = np.linspace(0, 1, 80)
    curve = bend * np.sin(np.pi * s * rng.uniform(0.5, 2.0)) * long
    along = np.cos(angle) * long * s - np.sin(angle) * curve
    across = np.sin(angle) * long * s + np.cos(angle) * curve
    a, b = (y + across, x + along) if upright else (x + along, y + across)
    if a[-1] < a[0]:
        a, b = a[::-1], b[::-1]
    a = np.maximum.accumulate(a) + np.arange(len(a)) * 1e-6
    widths = np.full(80, wide_mm) * uneven(rng, 80, 12, 0.1)
    if taper:
        widths = widths * np.linspace(1, 0.15, 80)
    return course_of(a, b, widths, np.ones(3), upright=upright)


def _mineral(rng, canvas, grain, box) -> None:
    x, y = _place(rng, box)
    course = streak_course(rng, grain, x, y, rng.uniform(20, 220), rng.uniform(0.6, 6))
    tint = [(0.45, 0.38, 0.32), (0.4, 0.46, 0.36), (0.5, 0.45, 0.48)][rng.integers(0, 3)]
    strength = rng.uniform(0.3, 1.0)
    paint_streak(rng, canvas, course, 1 - strength * (1 - np.array(tint)), rng.uniform(0.3, 1.5))


def _dark_lines(rng, canvas, grain, box) -> None:
    """A ring or a fibre that is darker than its neighbours, soft and long."""
    x0, _, x1, _ = box
    x, y = _place(rng, box)
    end = min(x + rng.uniform(60, 500), x1 + 10)
    xs, ys = grain.followed((max(x - 100, x0), y), end, rings=rng.random() < 0.6, most=0.5)
    if len(xs) < 12:
        return
    ys = ys + line(rng, len(ys), 12) * 0.1
    widths = rng.uniform(0.3, 1.4) * uneven(rng, 60, 8, 0.3) * lens(rng, 1.0)
    course = course_of(xs, ys, widths, np.ones(3))
    tint = np.array([0.62, 0.5, 0.4]) ** rng.uniform(0.3, 1.3)
    paint_streak(rng, canvas, course, tint, rng.uniform(0.25, 0.7))


def _scratches(rng, canvas, grain, box) -> None:
    """A tooth's or a nail's scratch: straight, shallow, one side light."""
    x, y = _place(rng, box)
    along = rng.random() < 0.6
    angle = rng.normal(0, 0.08) if along else rng.normal(np.pi / 2, 0.25)
    wide = rng.uniform(0.2, 0.8)
    course = _straight(rng, x, y, rng.uniform(15, 200), angle, wide, rng.normal(0, 0.01))
    found = _cover(course, canvas)
    if found is None:
        return
    strip, cover = found
    depth = np.float32(rng.normal(-0.12, 0.2))
    worn = np.clip(0.8 + 0.4 * smooth(rng, cover.shape, 40, 40), 0, 1)
    strip *= (1 + depth * cover * worn)[..., None]
    strip[1:] *= (1 - 0.5 * depth * cover * worn)[:-1, :, None]


def _roller_lines(rng, canvas, grain, box) -> None:
    """Lines side by side that a feed roller or a chipped knife left: straight, whole board long."""
    x0, y0, x1, y1 = box
    lean, dark = rng.normal(0, 0.004), np.float32(rng.normal(-0.08, 0.06))
    for y in rng.uniform(y0, y1) + np.cumsum(rng.uniform(2, 25, int(rng.integers(2, 8)))):
        course = _straight(rng, x0 - 5, y, x1 - x0 + 10, lean, rng.uniform(0.2, 0.7))
        found = _cover(course, canvas)
        if found is not None and y < y1:
            strip, cover = found
            worn = np.clip(0.7 + 0.5 * smooth(rng, cover.shape, 120, 40), 0, 1.3)
            strip *= (1 + dark * cover * worn)[..., None]


def _pencil(rng, canvas, grain, box) -> None:
    x, y = _place(rng, box)
    angle = rng.normal(0, 0.03) if rng.random() < 0.6 else rng.normal(np.pi / 2, 0.1)
    course = _straight(rng, x, y, rng.uniform(30, 350), angle, rng.uniform(0.3, 1.1))
    _draw_line(rng, canvas, course, np.array([0.09, 0.09, 0.10]), rng.uniform(0.3, 0.85), 1.6)


def _crayon(rng, canvas, grain, box) -> None:
    x, y = _place(rng, box)
    colour = rng.choice(
        [(0.5, 0.04, 0.03), (0.03, 0.08, 0.45), (0.8, 0.78, 0.7), (0.03, 0.03, 0.03)]
    )
    angle = rng.uniform(0, np.pi)
    for _ in range(int(rng.integers(1, 4))):
        course = _straight(
            rng, x, y, rng.uniform(30, 120), angle, rng.uniform(2, 6), rng.normal(0, 0.05)
        )
        _draw_line(rng, canvas, course, np.asarray(colour), rng.uniform(0.4, 0.9), 4.0)
        angle += rng.uniform(0.5, 1.5)


def _ink(rng, canvas, grain, box) -> None:
    x, y = _place(rng, box)
    colour = rng.choice([(0.01, 0.02, 0.12), (0.015, 0.015, 0.018)])
    angle = rng.uniform(-0.4, 0.4)
    for _ in range(int(rng.integers(1, 4))):
        course = _straight(
            rng, x, y, rng.uniform(8, 90), angle, rng.uniform(0.4, 1.8), rng.normal(0, 0.1)
        )
        _draw_line(rng, canvas, course, np.asarray(colour), rng.uniform(0.7, 1.0), 0.5)
        angle += rng.uniform(0.3, 1.4)


def _draw_line(rng, canvas, course, colour, strength, grainy) -> None:
    """Lay pigment along a course; it sits on what stands up, so it is broken by the grain."""
    found = _cover(course, canvas, 0.8)
    if found is None:
        return
    strip, cover = found
    grip = np.clip(0.8 + 0.35 * grainy * 0.4 * smooth(rng, cover.shape, 6, 2), 0, 1)
    cover = (cover * grip * strength).astype(np.float32)[..., None]
    strip += (colour.astype(np.float32) - strip) * cover


def _hairs(rng, canvas, grain, box) -> None:
    x, y = _place(rng, box)
    course = _straight(
        rng,
        x,
        y,
        rng.uniform(8, 60),
        rng.uniform(0, np.pi),
        rng.uniform(0.1, 0.25),
        rng.normal(0, 0.12),
    )
    dark = rng.random() < 0.7
    colour = np.full(3, 0.03 if dark else 0.6) * np.array([1, 0.85, 0.7])
    found = _cover(course, canvas)
    if found is not None:
        strip, cover = found
        strip += (colour.astype(np.float32) - strip) * (cover * 0.9)[..., None]


def _blades(rng, canvas, grain, box) -> None:
    """A blade of grass or a straw with the shadow it throws."""
    x, y = _place(rng, box)
    colour = rng.choice([(0.12, 0.22, 0.04), (0.30, 0.27, 0.10), (0.45, 0.36, 0.18)])
    course = _straight(
        rng,
        x,
        y,
        rng.uniform(25, 120),
        rng.uniform(0, np.pi),
        rng.uniform(0.8, 3.0),
        rng.normal(0, 0.1),
        taper=True,
    )
    off = int(rng.integers(2, 9))
    found = _cover(course, canvas, 2.0)
    if found is None:
        return
    strip, cover = found
    shaded = np.zeros_like(cover)
    shaded[off:] = cover[:-off] if off < len(cover) else 0
    strip *= (1 - np.float32(rng.uniform(0.2, 0.6)) * shaded)[..., None]
    lit = 1 + 0.25 * smooth(rng, cover.shape, 60, 2)
    strip += (np.asarray(colour, np.float32) * lit[..., None] - strip) * cover[..., None]


def _joint(rng, canvas, grain, box) -> None:
    """The glued or laid joint of two boards: straight from end to end, other wood beyond."""
    x0, y0, x1, y1 = box
    y = rng.uniform(y0 + 0.2 * (y1 - y0), y1 - 0.2 * (y1 - y0))
    course = _straight(rng, x0 - 20, y, x1 - x0 + 40, rng.normal(0, 0.002), rng.uniform(0.15, 0.8))
    h = canvas.shape[0]
    border = int(np.clip(y / BASE_MM, 2, h - 2))
    canvas[border:] *= np.float32(rng.uniform(0.85, 1.15))
    found = _cover(course, canvas)
    if found is not None:
        strip, cover = found
        strip *= (1 - np.float32(rng.uniform(0.3, 0.9)) * cover)[..., None]


def _string(rng, canvas, grain, box) -> None:
    """The shadow of a string, a wire or a twig: soft, straight or nearly, across anything."""
    x, y = _place(rng, box)
    angle = rng.normal(0, 0.1) if rng.random() < 0.5 else rng.uniform(0, np.pi)
    long = rng.uniform(100, 700)
    course = _straight(
        rng,
        x - 0.5 * long * np.cos(angle),
        y - 0.5 * long * np.sin(angle),
        long,
        angle,
        rng.uniform(1.0, 4.0),
        rng.normal(0, 0.004),
    )
    found = _cover(course, canvas, rng.uniform(0.4, 2.5) / BASE_MM)
    if found is not None:
        strip, cover = found
        strip *= (1 - np.float32(rng.uniform(0.15, 0.55)) * cover)[..., None]
