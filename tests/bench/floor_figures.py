"""The floor bench's rows as figures with their intervals and bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.bench.figures import Bench, Figure, mean_text, share_text

if TYPE_CHECKING:
    from tests.bench.floor import Row

_TITLES = {
    "strip": "Coded strip, taped once, one photo a face",
    "two": "Coded strip, taped once, two photos a face from different sides",
    "taped": "Plain steel rule, the board's length taped",
    "plain": "Plain steel rule alone",
}
_BY_STRIP = ("strip", "two")
_8FT_MM = 2438.4


def floor_figures(way: str, rows: list[Row], seeds: str) -> Bench:
    """Return what the boards of one way came to."""
    done = [row for row in rows if not row.refusal]
    figures = [Figure("boards scanned", share_text(len(done), len(rows)))]
    if done:
        figures += _lengths(way, done) + _outlines(done) + _flaws(done)
    if way in _BY_STRIP and done:
        right = sum(bool(row.turned_right) for row in done)
        figures.append(Figure("face 2 turned the right way", share_text(right, len(done))))
    data = f"rendered boards of seeds {seeds}, 8 megapixels, worn floors, sun, shade, lamp light"
    command = f"python -m tests.bench.floor --seeds {seeds} --ways {way}"
    return Bench(f"floor-{way}", _TITLES[way], data, command, tuple(figures))


def _lengths(way: str, done: list[Row]) -> list[Figure]:
    errors = np.array([abs(row.length_error or 0.0) for row in done])
    inside = sum(abs(row.length_error or 0.0) <= (row.length_u or 0.0) for row in done)
    u = float(np.median([row.length_u or 0.0 for row in done]))
    figures = []
    if way in _BY_STRIP:
        at_8ft = float((errors * [_8FT_MM / row.length_mm for row in done]).max())
        figures.append(
            Figure("length, worst, scaled to 8 ft", f"{at_8ft:.1f} mm", "6.5 mm", at_8ft <= 6.5)
        )
    else:
        figures.append(Figure("length, worst", f"{errors.max():.1f} mm"))
    figures.append(
        Figure("lengths inside their ±", f"{share_text(inside, len(done))}, median ± {u:.1f} mm")
    )
    apart = np.abs(np.concatenate([row.distance_errors for row in done]))
    if len(apart):
        p95, worst = float(np.quantile(apart, 0.95)), float(apart.max())
        bar, met = ("4 mm", worst <= 4.0) if way == "taped" else ("", None)
        told = f"95 % within {p95:.1f} mm, worst {worst:.1f} mm"
        figures.append(Figure("distances that were not taped", told, bar, met))
    return figures


def _outlines(done: list[Row]) -> list[Figure]:
    found = [value for row in done for value in row.outline_iou]
    good = sum(value >= 0.97 for value in found)
    told = f"mean {np.mean(found):.3f}, worst {min(found):.3f}, {share_text(good, len(found))}"
    claim = "outline against the truth (intersection over union); faces at 0.97"
    inside, p95 = np.concatenate([row.arris_off for row in done]).T
    u = float(np.median([row.outline_u for row in done]))
    edges = (
        f"{mean_text([float(100 * share) for share in inside])} % of a face's,"
        f" {share_text(sum(share >= 0.95 for share in inside), len(inside))} of faces at 95 %;"
        f" median ± {u:.1f} mm, median of what holds 95 %: {np.median(p95):.1f} mm"
    )
    return [
        Figure(claim, told, "0.97", good == len(found)),
        Figure("places along the long edges inside the outline's ±", edges),
    ]


def _flaws(done: list[Row]) -> list[Figure]:
    knots, found = sum(row.knots for row in done), sum(row.knots_found for row in done)
    laid = sum(row.knots_laid for row in done)
    per_board = [float(np.mean(row.false_candidates)) for row in done]
    most = max(max(row.false_candidates) for row in done)
    mean = float(np.mean([count for row in done for count in row.false_candidates]))
    return [
        Figure("knots over 10 mm found", share_text(found, knots), "85 %", found >= 0.85 * knots),
        Figure(
            "the same on faces drawn to their true size within their ±", share_text(laid, knots)
        ),
        Figure(
            "false candidates a face",
            f"{mean_text(per_board)}, most {most}",
            "at most 2",
            mean <= 2.0,
        ),
    ]
