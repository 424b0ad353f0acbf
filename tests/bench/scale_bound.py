"""How near the fit comes to the best that its marks allow, in made scenes.

``python -m tests.bench.scale_bound``: of each row that misses its bar the 95th percentile that was
met, and those that three standard deviations lead one to expect. *The fit's*: how its estimate
scatters where errors are as the scenes draw them. *Least possible*: that of any linear estimate
that leans to neither side and knows how each error of its scene was drawn: priors, noise, and the
lens's smooth error with what near marks share of it. *Reading*: what is left where camera, face and
reference are known without error, from reading the two places in the photos; and of strips that
were taped, from the tape. A bar below the least possible asks for more than the photos tell.

References
----------
A. C. Aitken, "On least squares and linear combination of observations", Proceedings of the Royal
Society of Edinburgh 55 (1935): the best linear estimate under errors that are correlated.
"""

from __future__ import annotations

import argparse
import math
import os
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import linalg

from scanner.errors import ScannerError
from scanner.vision.fit.model import Model
from scanner.vision.fit.residuals import Rows
from scanner.vision.fit.scale_fit import ScaleFit, mirrored
from tests.bench.levels import KINDS, LEVELS, Level
from tests.bench.many import workers
from tests.bench.projected import _distances, _noise, _off_the_picture, drawn, fitted
from tests.bench.scale import DEVELOPMENT, _bars_of, p95_by_u
from tests.bench.scenes import HEIGHT, KNOTS, WIDTH, Scene

# Rows that miss their bars.
_ROWS = (
    ("strip + arm", "good"),
    ("two photos", "good"),
    ("rule", "hard"),
    ("rule + taped length", "good"),
    ("rule + taped length", "typical"),
    ("two rules", "good"),
)
_FIRST_KNOT = 12
# What a scene draws without error: no prior is narrower.
_NONE = 1e-4
# EXIF: up to 4 % off, evenly, and the 35 mm value rounded to a whole mm of about 27.
_EXIF_SD = math.hypot(0.04, 0.5 / 27) / math.sqrt(3)
_CENTRE_SD_PX = 25.0


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """One scene's fit as linear equations, rows in the sd that the fit takes for granted.

    Attributes
    ----------
    read, others
        Derivatives (rows, unknowns) of pixel coordinates, and of tapes and priors.
    spread
        True covariance (rows, rows) of the pixel coordinates' errors.
    drawn, about
        True covariance of the errors of tapes and priors, and their second moment about the mean
        that the fit takes for granted.
    places, columns
        (N, 2) mm, and the first of each place's two unknowns.
    """

    read: np.ndarray
    others: np.ndarray
    spread: np.ndarray
    drawn: np.ndarray
    about: np.ndarray
    places: np.ndarray
    columns: list[int]


def _drawn_priors(model: Model, scene: Scene, level: Level) -> tuple[np.ndarray, np.ndarray]:
    """Return covariance and mean error, in sd as taken for granted, with which scenes draw."""
    spread, lean = np.eye(model.size), np.zeros(model.size)

    def put(name: str, sds: list[float | None]) -> None:
        if name in model.blocks:
            block = model.blocks[name]
            for unknown, sd in enumerate(sds[: block.size], block.start):
                if sd is not None:
                    spread[unknown, unknown] = (max(sd, _NONE) / model.unit[unknown]) ** 2

    lens = scene.seen[0].lens
    if not scene.kind.lot:
        exif, centre = _EXIF_SD / lens.sd_log_focal, _CENTRE_SD_PX / lens.sd_centre_px
        put("lens", [exif, centre, centre])
    for index, reference in enumerate(model.observations.references):
        put(f"joints {index}", [level.joint_sd_mm] * reference.joints)
        put(f"rule {index}", [0.0002, 0.002, 0.2, 0.2, 0.0])
        if not reference.is_printed:
            put(f"shape {index}", [0.7, 0.0, 0.4])
        elif index:
            # An arm is straight, and lies as high as its strip.
            put(f"shape {index}", [0.0, 0.0, None])
            lifts = [model.blocks[f"shape {i}"].start + 2 for i in (0, index)]
            spread[np.ix_(lifts, lifts)] = 1.0 - _NONE * (1.0 - np.eye(2))
    put("face", [level.height_sd_mm])
    put("form", [0.0, 0.0])
    # The bow is nothing to the most, and makes either the middle or the ends rise.
    most = scene.setup.most_bow_mm if scene.kind.bow_said else scene.kind.most_bow_mm
    most = level.most_bow_mm if most is None else most
    bow = [model.blocks["face"].start + 3 + i for i in (0, 1)]
    moments = most**2 * np.array([[1 / 6 - 1 / 16, -1 / 16], [-1 / 16, 1 / 6 - 1 / 16]])
    spread[np.ix_(bow, bow)] = moments / np.outer(model.unit[bow], model.unit[bow])
    lean[bow] = (most / 4 - model.mean[bow]) / model.unit[bow]
    return spread, lean


def _read_places(
    fit: ScaleFit, scene: Scene, pixels: list[np.ndarray]
) -> tuple[np.ndarray, list[int], list[tuple[int, int, np.ndarray]]]:
    """Return the places, their unknowns, and the rows of those that are no unknowns of the fit.

    A place that is read off the flat picture is one more unknown that one photo alone tells. A row
    is the place's number, its photo, and its derivatives (2, unknowns), px.
    """
    model, state = fit.solution.model, fit.solution.state
    known = [model.blocks[f"point {i}"].start for i in range(len(fit.observations.points))]
    if scene.kind.read == "photos":
        return model.points_mm(state), known, []
    places = mirrored(_off_the_picture(fit, pixels))
    columns = known[:2] if scene.kind.board_taped else []
    new = range(len(columns), len(places))
    rows = []
    for place in new:
        photos = [i for i, seen in enumerate(pixels) if np.isfinite(seen[place]).all()]
        feet = [
            float(np.linalg.norm(mirrored(fit.foot_mm(i)[None]) - places[place])) for i in photos
        ]
        photo, column = photos[int(np.argmin(feet))], model.size + 2 * (place - new[0])
        row = np.zeros((2, model.size + 2 * len(new)))
        row[:, : model.size] = model.face_slopes(state, photo, places[place][None])[0]
        row[:, column : column + 2] = model.place_slopes(state, photo, places[place][None])[0]
        columns = [*columns, column]
        rows.append((place, photo, row))
    return places, columns, rows


def system(scene: Scene, level: Level) -> tuple[System, ScaleFit, list[np.ndarray]]:
    """Return a scene's fit as linear equations, the fit, and where its places were seen."""
    fit, pixels = fitted(scene)
    model, state = fit.solution.model, fit.solution.state
    rows = Rows(model)
    rows.freeze_world(state)
    whole = rows.jacobian(state)
    at, ways, sds = [], [], []
    for marks in model.observations.marks:
        times = marks.directions.shape[1]
        at.append(np.repeat(marks.pixels, times, axis=0))
        ways.append(marks.directions.reshape(-1, 2))
        sds.append(np.repeat(marks.sd_px, times))
    for view in rows.views:
        # Made places are known as well one way as the other.
        at.append(np.repeat(view.pixels, 2, axis=0))
        ways.append(np.tile(np.eye(2), (len(view.index), 1)))
        sds.append(1 / np.diagonal(view.weights, axis1=1, axis2=2).ravel())
    count = sum(len(some) for some in sds)
    places, columns, more = _read_places(fit, scene, pixels)
    noise = _noise()
    wide = np.pad(whole, ((0, 0), (0, more[0][2].shape[1] - model.size if more else 0)))
    read = [wide[:count]]
    for place, photo, row in more:
        read.append(row / noise[place])
        at.append(np.repeat(pixels[photo][place][None], 2, axis=0))
        ways.append(np.eye(2))
        sds.append(np.repeat(noise[place], 2))
    sd, way = np.concatenate(sds), np.concatenate(ways)
    off = np.concatenate(at) / np.array([WIDTH, HEIGHT])
    off = off[:, None] - off[None]
    # `Smooth` is waves of up to one a picture, so that near places err alike.
    shared = np.sinc(2 * off[..., 0]) * np.sinc(2 * off[..., 1]) * (way @ way.T)
    spread = np.eye(len(sd)) + level.smooth_px**2 * shared / np.outer(sd, sd)
    others = wide[count:]
    drawn_, lean = _drawn_priors(model, scene, level)
    kept = np.flatnonzero(model.has_prior)
    tapes = len(others) - len(kept)
    true, about = np.eye(len(others)), np.zeros(len(others))
    true[tapes:, tapes:] = drawn_[np.ix_(kept, kept)]
    about[tapes:] = lean[kept]
    moment = true + np.outer(about, about)
    return System(np.concatenate(read), others, spread, true, moment, places, columns), fit, pixels


def _of_tape(fit: ScaleFit, length_mm: float) -> float:
    """Return the variance of a length that a taped strip's tape and joints leave; 0 untaped."""
    taped = fit.observations.taped_strip
    if taped is None:
        return 0.0
    model = fit.solution.model
    joints = model.blocks["joints 0"]
    unknowns = [model.blocks["print"].start, *range(joints.start, joints.start + joints.size)]
    unit = model.unit[unknowns]
    whole = np.concatenate([[taped[0]], np.ones(joints.size)]) * unit
    part = min(1.0, length_mm / taped[0])
    tells = np.outer(whole, whole) / taped[2] ** 2 + np.eye(len(unit))
    return float(part**2 * whole @ np.linalg.solve(tells, whole))


class _Estimates:
    """Variances of distances by the fit's own weights, by the best ones, and by reading alone."""

    def __init__(self, told: System) -> None:
        self.told = told
        normal = told.read.T @ told.read + told.others.T @ told.others
        self.own = linalg.pinvh(normal)
        best = told.read.T @ linalg.solve(told.spread, told.read, assume_a="pos")
        best += told.others.T @ linalg.solve(told.drawn, told.others, assume_a="pos")
        self.best = linalg.pinvh(best)

    def of(self, pair: tuple[int, int]) -> tuple[float, float, float]:
        """Return the three variances, mm^2, of the distance of two places."""
        told = self.told
        step = told.places[pair[1]] - told.places[pair[0]]
        step = step / np.linalg.norm(step)
        columns = [told.columns[place] + axis for place in pair for axis in (0, 1)]
        slope = np.zeros(told.read.shape[1])
        slope[columns] = np.concatenate([-step, step])
        gain = self.own @ slope
        by_pixels, by_others = told.read @ gain, told.others @ gain
        fits = by_pixels @ told.spread @ by_pixels + by_others @ told.about @ by_others
        alone = told.read[:, columns]
        reading = slope[columns] @ linalg.pinvh(alone.T @ alone) @ slope[columns]
        return float(fits), float(slope @ self.best @ slope), float(reading)


def measure(seed: int, kind: str, level: str) -> dict[str, list[tuple[float, ...]]]:
    """Return error, variances by the fit, least and by reading, of a scene's distances."""
    try:
        scene = drawn(seed, KINDS[kind], LEVELS[level])
        told, fit, pixels = system(scene, LEVELS[level])
    except ScannerError:
        return {}
    estimates = _Estimates(told)
    knots = range(_FIRST_KNOT, _FIRST_KNOT + KNOTS)
    pairs = {
        "length": [(0, 1)],
        "width": [(2 + 2 * station, 3 + 2 * station) for station in range(5)],
        "knots": [*((0, knot) for knot in knots), (12, 13), (14, 15), (16, 17)],
    }
    read = mirrored(told.places)
    if scene.kind.read != "photos":
        read = _off_the_picture(fit, pixels)
    out: dict[str, list[tuple[float, ...]]] = {}
    met = _distances(scene, lambda i, j: (float(np.linalg.norm(read[i] - read[j])), 0.0))
    for what, some in pairs.items():
        out[what] = [
            (
                one.error,
                *estimates.of(pair),
                _of_tape(fit, float(np.linalg.norm(read[pair[0]] - read[pair[1]]))),
            )
            for one, pair in zip(met[what], some, strict=True)
        ]
    return out


def report(kind: str, level: str, found: list[dict[str, list[tuple[float, ...]]]]) -> None:
    """Print the rows of one kind and level."""
    good = [one for one in found if one]
    print(f"{kind}, {level}: {len(good)} scenes; 95 % within, mm", flush=True)
    bars = _bars_of(kind, level)
    for what in good[0] if good else ():
        table = np.array([row for one in good for row in one[what]])
        met = float(np.percentile(np.abs(table[:, 0]), 95))
        fits, least, reading = (p95_by_u(2 * np.sqrt(table[:, column])) for column in (1, 2, 3))
        taped = p95_by_u(2 * np.sqrt(table[:, 3] + table[:, 4]))
        print(
            f"  {what:7s} met {met:5.2f}   the fit's {fits:5.2f}   least possible {least:5.2f}   "
            f"reading {reading:5.2f}, and taping {taped:5.2f}"
            + (f"   bar {bars[what][0]}" if what in bars else ""),
            flush=True,
        )


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=200)
    arguments.add_argument("--first", type=int, default=DEVELOPMENT, help="first seed")
    arguments.add_argument("--level", default="typical", choices=tuple(LEVELS))
    arguments.add_argument("--kinds", default="", help="separated by ;, at --level")
    arguments.add_argument("--jobs", type=int, default=2)
    chosen = arguments.parse_args()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    seeds = range(chosen.first, chosen.first + chosen.scenes)
    named = [(kind.strip(), chosen.level) for kind in chosen.kinds.split(";") if kind.strip()]
    with workers(chosen.jobs) as pool:
        for kind, level in named or _ROWS:
            report(kind, level, list(pool.map(partial(measure, kind=kind, level=level), seeds)))


if __name__ == "__main__":
    main()
