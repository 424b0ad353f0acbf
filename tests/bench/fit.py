"""Fit the weights that the outline's tracer uses, and print them as rows for `edge_model`.

``python -m tests.bench.fit --folder F`` reads rendered photographs NAME.jpg with their truth
NAME.json (never the seeds that are measured on). The flaws' weights: `tests.bench.fit_flaws`.
"""

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from scipy.optimize import minimize
from shapely.geometry import LineString

from scanner.vision.outline.edges import EVIDENCE
from scanner.vision.outline.trace import _Ground
from tests.bench.seeing import flattened, on_ground, read_upright, view_around
from tests.render.truth import Truth


@dataclass(frozen=True)
class Logistic:
    offset: float
    middle: np.ndarray
    spread: np.ndarray
    linear: np.ndarray
    square: np.ndarray

    def print(self, names):
        print(f"offset {self.offset:.3f}")
        for row in zip(names, self.middle, self.spread, self.linear, self.square, strict=True):
            print('("{}", {:.4g}, {:.4g}, {:.3f}, {:.3f}),'.format(*row))


def logistic(values, right, weight, penalty: float = 3.0) -> Logistic:
    """Fit by penalised maximum likelihood on standardised values and their squares less one."""
    values, right, weight = (np.asarray(v, dtype=float) for v in (values, right, weight))
    middle = np.median(values, axis=0)
    low, high = np.percentile(values, [16, 84], axis=0)
    spread = np.maximum((high - low) / 2, 1e-3)
    z = np.clip((values - middle) / spread, -3, 3)
    design = np.hstack([np.ones((len(z), 1)), z, z**2 - 1])

    def loss(theta):
        odds = design @ theta
        share = 1 / (1 + np.exp(-odds))
        value = (weight * (np.logaddexp(0, odds) - right * odds)).sum()
        slope = design.T @ (weight * (share - right))
        pull = np.concatenate([[0.0], theta[1:]])
        return value + 0.5 * penalty * (pull**2).sum(), slope + penalty * pull

    theta = minimize(loss, np.zeros(design.shape[1]), jac=True, method="L-BFGS-B").x
    n = values.shape[1]
    return Logistic(theta[0], middle, spread, theta[1 : n + 1], theta[n + 1 :])


def faces(folder: Path, rng, jitter_mm: float = 0.0):
    """Yield (flat face, true outline, [(kind, look, polygon)]) of rendered photographs."""
    for note in sorted(folder.glob("*.json")):
        truth = Truth.from_json(note.read_text(encoding="utf-8"))
        pixels = read_upright(note.with_suffix(".jpg"), by_exif=False)
        side = str(truth.photo.face)
        outline = on_ground(truth, truth.board.outline[side])
        ends = np.asarray(outline.minimum_rotated_rectangle.exterior.coords)
        long = max(np.diff(ends, axis=0), key=lambda v: float(np.hypot(*v)))
        long = long if long[0] > 0 else -long
        view = view_around(outline, float(np.arctan2(long[1], long[0])))
        shift = rng.uniform(-jitter_mm, jitter_mm, 2)
        view = type(view)(view.x + shift[0], view.y + shift[1], view.angle, view.width, view.height)
        flaws = [
            (f.kind, f.look, view.polygon(on_ground(truth, r)).intersection(view.polygon(outline)))
            for f in truth.board.flaws
            for r in f.outlines.get(side, [])
            if len(r) > 2 and f.kind not in ("wane", "wild_grain")
        ]
        yield flattened(pixels, truth, view, 0.5), view.polygon(outline), flaws


def fit_edges(folder: Path) -> None:
    """Fit a choice among all rows of a column: which one is the arris."""
    rng = np.random.default_rng(0)
    columns: dict[bool, list] = {True: [], False: []}
    for face, outline, _ in faces(folder, rng, jitter_mm=10.0):
        ground = _Ground(face, (60.0, 60.0))
        for name in ("upper", "lower", "left", "right"):
            _edge_columns(ground, name, outline, rng, columns[name in ("upper", "lower")])
    for is_long, name in ((True, "LONG_SIDE"), (False, "END")):
        print(name)
        _choice(columns[is_long]).print(EVIDENCE)


def _edge_columns(ground, name, outline, rng, out) -> None:
    x0, y0, x1, y1 = outline.bounds
    is_long = name in ("upper", "lower")
    side = ground.laid[name]
    if not is_long:
        inside = np.flatnonzero((side.s_mm >= y0 + 6) & (side.s_mm <= y1 - 6))
        side = side.between(int(inside[0]), int(inside[-1]) + 1)
    true = []
    for s in side.s_mm:
        cut = outline.intersection(
            LineString([(s, y0 - 5), (s, y1 + 5)] if is_long else [(x0 - 5, s), (x1 + 5, s)])
        )
        if cut.is_empty:
            true.append(np.nan)
            continue
        at = cut.bounds[{"upper": 1, "lower": 3, "left": 0, "right": 2}[name]]
        extent = ground.sides.size_mm[1 if is_long else 0]
        true.append(at if name in ("lower", "right") else extent - at)
    if np.isnan(true).all():
        return
    # The rough place takes the side face for wood more often than it cuts into the board.
    off = rng.uniform(-10, 24) if is_long else rng.uniform(-30, 30)
    side = replace(side, guess_mm=float(np.nanmedian(true)) + off)
    facts = ground.facts(name, side)
    for column in range(0, len(true), 16 if is_long else 5):
        away = np.abs(side.t_mm - true[column])
        if np.isnan(true[column]) or away.min() >= 1 or side.hidden[away.argmin(), column]:
            continue
        shown = ~side.hidden[:, column]
        wish = np.exp(-0.5 * (away / 0.7) ** 2)[shown]
        out.append((facts[shown, column], wish / wish.sum()))


def _choice(columns, penalty: float = 3.0) -> Logistic:
    every = np.vstack([facts for facts, _ in columns])
    middle, spread = every.mean(axis=0), every.std(axis=0) + 1e-3
    ready = []
    for facts, wish in columns:
        z = np.clip((facts - middle) / spread, -3, 3)
        ready.append((np.hstack([z, z**2]), wish))

    def loss(theta):
        value, slope = 0.5 * penalty * (theta**2).sum(), penalty * theta
        for design, wish in ready:
            score = design @ theta
            share = np.exp(score - score.max())
            share /= share.sum()
            value -= (wish * np.log(share + 1e-9)).sum()
            slope = slope + design.T @ (share - wish)
        return value, slope

    n = every.shape[1]
    theta = minimize(loss, np.zeros(2 * n), jac=True, method="L-BFGS-B").x
    return Logistic(0.0, middle, spread, theta[:n], theta[n:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, required=True)
    cv2.setNumThreads(1)
    fit_edges(parser.parse_args().folder)


if __name__ == "__main__":
    main()
