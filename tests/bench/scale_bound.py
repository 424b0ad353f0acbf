"""How near the fit comes to the best that its marks allow, in made scenes of one photo.

``python -m tests.bench.scale_bound``: for each distance the standard deviation that the fit's
errors have, and the least one of any linear estimate that leans to neither side and knows how each
error of the scene was drawn (the lens's smooth error too, with what near marks share of it). Both
are printed as the 95th percentile that they lead one to expect, beside the one that was met: a bar
below the least one asks for more than the photo tells.

References
----------
A. C. Aitken, "On least squares and linear combination of observations", Proceedings of the Royal
Society of Edinburgh 55 (1935): the best linear estimate under errors that are correlated.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import linalg

from scanner.errors import ScannerError
from scanner.vision.fit.lengths import _place_gradient
from scanner.vision.fit.residuals import Rows
from scanner.vision.fit.scale_fit import ScaleFit, mirrored
from tests.bench.levels import KINDS, LEVELS
from tests.bench.many import workers
from tests.bench.projected import _noise, _off_the_picture, drawn, fitted
from tests.bench.scale import DEVELOPMENT, p95_by_u
from tests.bench.scenes import HEIGHT, KNOTS, WIDTH

# Kinds of one photo whose rows miss their bars.
_KINDS = ("strip, as near as it goes", "rule + taped length")
_FIRST_KNOT = 12


@dataclass(frozen=True, slots=True, eq=False)
class Pixels:
    """Pixel coordinates that were read: where (N, 2), which way (N, 2), noise (N,) px."""

    at: np.ndarray
    way: np.ndarray
    noise: np.ndarray

    def with_(self, other: Pixels) -> Pixels:
        """Return these and others after them."""
        pairs = ((getattr(self, name), getattr(other, name)) for name in ("at", "way", "noise"))
        return Pixels(*(np.concatenate(pair) for pair in pairs))

    def smooth(self, other: Pixels, size_px: float) -> np.ndarray:
        """Return the covariance with others that the lens's smooth error makes (`Smooth`)."""
        off = (self.at[:, None] - other.at[None]) / np.array([WIDTH, HEIGHT])
        shared = np.sinc(2 * off[..., 0]) * np.sinc(2 * off[..., 1])
        return np.asarray(size_px**2 * (self.way @ other.way.T) * shared)


def _read(fit: ScaleFit) -> tuple[Pixels, np.ndarray, np.ndarray]:
    """Return the pixels of a one-photo fit, their slopes, and the rows of tapes and priors."""
    rows = Rows(fit.solution.model)
    rows.freeze_world(fit.solution.state)
    whole = rows.jacobian(fit.solution.state)
    sets = fit.solution.model.observations.marks
    pixels = Pixels(
        np.concatenate([np.repeat(one.pixels, one.directions.shape[1], axis=0) for one in sets]),
        np.concatenate([one.directions.reshape(-1, 2) for one in sets]),
        np.concatenate([np.repeat(one.sd_px, one.directions.shape[1]) for one in sets]),
    )
    views = [view for point in fit.observations.points for view in point.seen]
    if views:
        at = np.array([(view.x_px, view.y_px) for view in views])
        noise = np.repeat([view.sd_px for view in views], 2)
        pixels = pixels.with_(
            Pixels(np.repeat(at, 2, axis=0), np.tile(np.eye(2), (len(at), 1)), noise)
        )
    count = len(pixels.at)
    return pixels, whole[:count] * pixels.noise[:, None], whole[count:]


def _sds(
    fit: ScaleFit, places: np.ndarray, seen: np.ndarray, pairs: list[tuple[int, int]], smooth: float
) -> list[tuple[float, float]]:
    """Return the sd of each distance by the fit, and the least one."""
    pixels, slopes, others = _read(fit)
    covariance = np.diag(pixels.noise**2) + pixels.smooth(pixels, smooth)
    inverse = linalg.inv(covariance)
    best = linalg.pinvh(slopes.T @ inverse @ slopes + others.T @ others)
    weights = 1 / pixels.noise**2
    own = linalg.pinvh((slopes.T * weights) @ slopes + others.T @ others)
    noise, known = _noise(), 2 * len(fit.observations.points)
    out = []
    for pair in pairs:
        ends = mirrored(places[list(pair)])
        step = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        by_unknown, by_pixel = np.zeros(slopes.shape[1]), []
        for end, sign in zip(ends, (-1, 1), strict=True):
            moves, there = _place_gradient(fit.solution, 0, end)
            by_unknown += sign * step @ moves
            by_pixel.append(sign * step @ there)
        h = np.concatenate(by_pixel)
        sds = np.repeat(noise[list(pair)], 2)
        at = Pixels(np.repeat(seen[list(pair)], 2, axis=0), np.tile(np.eye(2), (2, 1)), sds)
        shared = at.smooth(pixels, smooth)
        for row, index in enumerate(np.repeat(pair, 2)):
            if index < 2 and known:  # a taped end is read once, for tape and distance
                column = len(pixels.at) - known + 2 * index + row % 2
                shared[row, column] += at.noise[row] * pixels.noise[column]
        ending = np.diag(at.noise**2) + at.smooth(at, smooth)
        gain = (own @ (slopes.T * weights)).T @ by_unknown
        prior = others @ (own @ by_unknown)
        mine = gain @ covariance @ gain + prior @ prior + h @ ending @ h + 2 * h @ shared @ gain
        # What the marks tell of the error at the ends is taken off.
        told = shared @ inverse
        left = ending - told @ shared.T + told @ slopes @ best @ slopes.T @ told.T
        crossed = -best @ slopes.T @ told.T
        least = by_unknown @ best @ by_unknown + h @ left @ h - 2 * by_unknown @ crossed @ h
        out.append((float(np.sqrt(mine)), float(np.sqrt(least))))
    return out


def measure(seed: int, kind: str, level: str) -> dict[str, list[tuple[float, float, float]]]:
    """Return error, sd by the fit and least sd of lengths, widths and knots of a scene."""
    scene = drawn(seed, KINDS[kind], LEVELS[level])
    try:
        fit, pixels = fitted(scene)
    except ScannerError:
        return {}
    places = _off_the_picture(fit, pixels)
    knots = range(_FIRST_KNOT, _FIRST_KNOT + KNOTS)
    pairs = {
        "length": [(0, 1)],
        "width": [(2 + 2 * station, 3 + 2 * station) for station in range(5)],
        "knots": [*((0, knot) for knot in knots), (12, 13), (14, 15), (16, 17)],
    }
    out = {}
    for what, some in pairs.items():
        sds = _sds(fit, places, pixels[0], some, LEVELS[level].smooth_px)
        true = [np.linalg.norm(scene.board.places[i] - scene.board.places[j]) for i, j in some]
        met = [np.linalg.norm(places[i] - places[j]) for i, j in some]
        errors = np.array(met) - np.array(true)
        out[what] = [(float(e), *both) for e, both in zip(errors, sds, strict=True)]
    return out


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=200)
    arguments.add_argument("--first", type=int, default=DEVELOPMENT, help="first seed")
    arguments.add_argument("--level", default="typical", choices=tuple(LEVELS))
    arguments.add_argument("--kinds", default=";".join(_KINDS), help="of one photo, separated by ;")
    arguments.add_argument("--jobs", type=int, default=2)
    chosen = arguments.parse_args()
    seeds = range(chosen.first, chosen.first + chosen.scenes)
    with workers(chosen.jobs) as pool:
        for kind in chosen.kinds.split(";"):
            found = list(pool.map(partial(measure, kind=kind, level=chosen.level), seeds))
            good = [one for one in found if one]
            print(f"{kind}, {chosen.level}: {len(good)} scenes; 95 % within, mm", flush=True)
            for what in good[0] if good else ():
                table = np.array([row for one in good for row in one[what]])
                met = float(np.percentile(np.abs(table[:, 0]), 95))
                print(
                    f"  {what:7s} met {met:5.2f}   by the fit's own errors "
                    f"{p95_by_u(2 * table[:, 1]):5.2f}   least possible "
                    f"{p95_by_u(2 * table[:, 2]):5.2f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
