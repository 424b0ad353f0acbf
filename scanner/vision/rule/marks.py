"""From a bar and its graduations to measured points that the fit can use."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.evidence.seen import SeenRule
from scanner.vision.rule.size import USUAL_WIDTH_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.cv import Floats
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.ticks import Ticks
    from scanner.vision.setup import RuleSize

EDGE_SD_PX = 0.35
END_SD_PX = 0.9
# Refined corners lie within 0.7 px in 95 of 100 drawn rules.
CORNER_SD_PX = 0.7
# Read to 0.1 px on rendered photos; the rest is what the lens model cannot say.
TICK_SD_PX = 0.4
POINTS_PER_EDGE = 12
# An end of the bar is the rule's own where the graduations put it within this, in steps.
_AT_END = 0.2
# A width is measured to 1 or 2 %.
_ODD_WIDTH = 0.05


class _Marks:
    """Measured points as they are gathered."""

    def __init__(self) -> None:
        self.rows: list[tuple[float, float, float, float, Floats, Floats, float]] = []

    def add(
        self,
        point: tuple[float, float],
        sign: tuple[float, float],
        pixel: Floats,
        way: Floats,
        sd: float,
    ) -> None:
        self.rows.append((*point, *sign, pixel, way, sd))

    def rule(
        self, corners: Floats, size: RuleSize, width_mm: float, ticks: int, *, was_tapped: bool
    ) -> SeenRule:
        return SeenRule(
            points_mm=np.array([row[:2] for row in self.rows]),
            signs=np.array([row[2:4] for row in self.rows]),
            pixels=np.array([row[4] for row in self.rows]),
            directions=np.array([row[5] for row in self.rows]),
            sd_px=np.array([row[6] for row in self.rows]),
            corners=corners,
            length_mm=size.length_mm,
            width_mm=width_mm,
            ticks=ticks,
            was_tapped=was_tapped,
        )

    def add_edges(
        self,
        band: Band,
        shares: Floats,
        places_mm: Floats,
        width_mm: float,
        unsure: tuple[float, ...] = (),
    ) -> None:
        for side in (side for side in (-1.0, 1.0) if side not in unsure):
            for share, x in zip(shares, places_mm, strict=True):
                pixel = band.edge(float(share), side)
                if pixel is not None:
                    up = band.up(float(share))
                    self.add((float(x), side * width_mm / 2), (0.0, side), pixel, up, EDGE_SD_PX)

    def add_end(self, band: Band, share: float, x_mm: float, out: float) -> None:
        # Where an end is was read as one line across: it holds for the middle, whichever way
        # perspective slants that line.
        along = band.along(share)
        self.add((x_mm, 0.0), (out, 0.0), band.centre(share), along, END_SD_PX)


def marks_of_graduations(
    band: Band, ticks: Ticks, step_mm: float, size: RuleSize, *, was_tapped: bool = False
) -> SeenRule:
    """Return a rule whose graduations were read: edges, graduations, and ends that agree."""
    last = size.length_mm / step_mm
    # The step in the middle gives a guess of an unknown width (tilt left out).
    step_px = 0.02 * band.length / (ticks.number_at(0.51) - ticks.number_at(0.49))
    width = size.width_mm or band.width(0.5) / step_px * step_mm
    marks = _Marks()
    low, high = (min(1.0, max(0.0, ticks.share_of(number))) for number in (0.0, last))
    shares = low + np.linspace(0.02, 0.98, POINTS_PER_EDGE) * (high - low)
    shares = shares[_as_wide_as_steps(band, ticks, shares)]
    places = np.array([step_mm * ticks.number_at(float(share)) for share in shares])
    # Where lines stand anyhow the edge is a shadow's or a joint's.
    marks.add_edges(band, shares, places, width, ticks.unsure)
    ends = (ticks.number_at(0.0), ticks.number_at(1.0) - last)
    if all(abs(off) < _AT_END for off in ends):
        marks.add_end(band, 0.0, 0.0, -1.0)
        marks.add_end(band, 1.0, size.length_mm, 1.0)
    for number, height, share, pixel in zip(
        ticks.numbers, ticks.heights, ticks.shares, ticks.pixels, strict=True
    ):
        point = (float(number) * step_mm, float(height) * width)
        marks.add(point, (0.0, 0.0), pixel, band.along(float(share)), TICK_SD_PX)
    corners = np.array(
        [
            band.place(ticks.share_of(number, height), height)
            for number, height in ((0.0, -0.5), (0.0, 0.5), (last, 0.5), (last, -0.5))
        ]
    )
    read = len(np.unique(ticks.numbers))
    return marks.rule(corners, size, width, read, was_tapped=was_tapped)


def _as_wide_as_steps(band: Band, ticks: Ticks, shares: Floats) -> NDArray[np.bool_]:
    """Return where the bar is as wide as its steps say: elsewhere an edge is a shadow's or a jaw's.

    Seen from a distance Z a width goes with 1 / Z and a step along the view with 1 / Z^2.
    """
    widths, steps = [], []
    for share in shares:
        lower, upper = (band.edge(float(share), side) for side in (-1.0, 1.0))
        if lower is None or upper is None:
            widths.append(np.nan)
        else:
            widths.append(float(np.linalg.norm(upper - lower)))
        steps.append(0.02 / (ticks.number_at(share + 0.01) - ticks.number_at(share - 0.01)))
    ratio = np.array(widths) / np.sqrt(steps)
    usual = np.nanmedian(ratio) if np.isfinite(ratio).any() else 1.0
    keep = ~(np.abs(ratio / usual - 1) > _ODD_WIDTH)
    return np.asarray(keep if keep.sum() >= 4 else np.ones(len(shares), dtype=bool))


def marks_of_bar(band: Band, size: RuleSize, corners: Floats) -> SeenRule:
    """Return a tapped rule of which only edges and ends are seen (not tapped it is not believed).

    ``corners`` (4, 2) px, refined, those of the zero end first.
    """
    width = size.width_mm or USUAL_WIDTH_MM
    marks = _Marks()
    shares = np.linspace(0.02, 0.98, POINTS_PER_EDGE)
    marks.add_edges(band, shares, shares * size.length_mm, width)
    for rows, share, x_mm, out in (((0, 1), 0.0, 0.0, -1.0), ((2, 3), 1.0, size.length_mm, 1.0)):
        pair = corners[list(rows)]
        for corner in pair:
            side = float(np.sign((corner - pair.mean(axis=0)) @ band.up(share)))
            point = (x_mm, side * width / 2)
            marks.add(point, (out, 0.0), corner, band.along(share), CORNER_SD_PX)
    return marks.rule(corners, size, width, 0, was_tapped=True)
