"""The picture of how much to buy: the chance that everything fits, over board feet bought."""

from collections.abc import Callable, Sequence

import numpy as np
from PIL import Image

from scanner.lot.buying import ChanceCurve
from scanner.lot.buying_words import (
    RULE_OF_THUMB,
    RULE_WHEN_CHOOSY,
    no_promise,
    title_of,
)
from scanner.sheets.drawing import GREY, INK, PALE, PAPER, Point, Rgb, Sketch
from scanner.sheets.png import page_image
from scanner.units import decimal_text

_WIDTH_PX = 1600
_ACROSS = 800.0
_PANEL = 240.0
_LEFT, _RIGHT, _TOP, _LOW = 60.0, 24.0, 50.0, 42.0
_CURVE: Rgb = (0, 92, 75)
_BAND: Rgb = (225, 205, 170)
_MOST_TICKS = 9
_LEGEND = (
    "dashed: the parts with their allowances; bands: 15 to 20 % more (rule of thumb for most"
    " projects) and 40 to 50 % more (when choosy)"
)


def draw_buying(curves: Sequence[ChanceCurve]) -> Image.Image:
    """Return one picture with a panel for each species and thickness class."""
    shown = [curve for curve in curves if curve.need.quarters is not None and curve.trials]
    high = _PANEL * max(len(shown), 1) + 26.0
    sketch = Sketch(_ACROSS, high)
    sketch.box(0.0, 0.0, _ACROSS, high, PAPER)
    for row, curve in enumerate(shown):
        _panel(sketch, curve, row * _PANEL)
    sketch.text(_LEFT, high - 10.0, no_promise(curves), 9.5, color=GREY)
    return page_image(sketch.page(), _WIDTH_PX)


def _panel(sketch: Sketch, curve: ChanceCurve, top: float) -> None:
    rough = curve.need.rough_feet
    known = [t.feet for t in curve.trials if t.feet is not None]
    end = 1.05 * max([*known, rough * (1 + RULE_WHEN_CHOOSY[1])])
    x0, x1 = _LEFT, _ACROSS - _RIGHT
    y0, y1 = top + _TOP, top + _PANEL - _LOW

    def at(feet: float, chance: float) -> Point:
        return (x0 + (x1 - x0) * feet / end, y1 - (y1 - y0) * chance)

    title = f"{title_of(curve)}, {curve.grade}: chance that all parts fit"
    sketch.text(x0, top + 18.0, title, 13.0, bold=True)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        sketch.line([at(0, share), at(end, share)], 0.6, PALE)
        sketch.text(x0 - 6.0, at(0, share)[1] + 3.5, f"{100 * share:.0f} %", 9.5, anchor="end")
    for band in (RULE_OF_THUMB, RULE_WHEN_CHOOSY):
        left, right = at(rough * (1 + band[0]), 1)[0], at(rough * (1 + band[1]), 1)[0]
        sketch.box(left, y0, max(right - left, 2.0), y1 - y0, _BAND, 0.7)
    sketch.text(x0, top + 34.0, _LEGEND, 9.0, color=GREY)
    step = _round_step(end)
    for feet in np.arange(0, end, step):
        x = at(float(feet), 0)[0]
        sketch.line([(x, y1), (x, y1 + 4.0)], 0.8, INK)
        sketch.text(x, y1 + 15.0, decimal_text(float(feet), 1), 9.5, anchor="middle")
    sketch.text(x1, y1 + 30.0, "board feet bought", 9.5, anchor="end")
    foot = at(rough, 0)
    sketch.line([foot, at(rough, 1)], 0.9, GREY, (3.0, 3.0))
    words = f"parts with allowances: {decimal_text(rough, 1)}"
    sketch.text(x0, y1 + 30.0, words, 9.5, color=GREY)
    _steps(sketch, curve, known, at, end)
    wanted = curve.feet_for(0.9)
    if wanted is not None:
        spot = at(wanted, 0.9)
        sketch.line([at(0, 0.9), spot, at(wanted, 0)], 0.9, _CURVE, (2.0, 2.0))
        # Where it would lie with other lots; open to the right where the lots do not tell.
        least, most = curve.feet_between(0.9)
        sketch.line([at(least, 0.9), at(end if most is None else most, 0.9)], 2.4, _CURVE)
        upto = "more" if most is None else decimal_text(most, 1)
        label = f"90 %: {decimal_text(wanted, 1)} (bar: {decimal_text(least, 1)} to {upto})"
        is_right = spot[0] > 0.8 * x1
        sketch.plate(
            spot[0] + (-8.0 if is_right else 8.0), y1 - 12.0, label, 11.0, bold=True,
            anchor="end" if is_right else "start", color=_CURVE,
        )  # fmt: skip
    sketch.line([at(0, 0), at(end, 0)], 1.0, INK)


def _steps(
    sketch: Sketch,
    curve: ChanceCurve,
    known: list[float],
    at: Callable[[float, float], Point],
    end: float,
) -> None:
    """Draw the share of lots that are enough, a step at each lot."""
    points = [at(0, 0)]
    for feet in sorted(known):
        before = points[-1]
        x = at(feet, 0)[0]
        points += [(x, before[1]), at(feet, curve.chance(feet))]
    points.append((at(end, 0)[0], points[-1][1]))
    sketch.line(points, 2.2, _CURVE)


def _round_step(end: float) -> float:
    """Return a tick distance of 1, 2 or 5 times a power of ten, at most nine ticks."""
    power = 10.0 ** np.floor(np.log10(end / _MOST_TICKS))
    return float(next(power * n for n in (1, 2, 5, 10) if end / (power * n) <= _MOST_TICKS))
