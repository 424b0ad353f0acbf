"""Where one side of a board ends: evidence for its arris, and the smooth path through it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

EVIDENCE = (
    "step_thin",
    "step_wide",
    "outside_unlike_wood",
    "inside_unlike_wood",
    "outside_unlike_floor",
    "inside_unlike_floor",
    "darker_outside",
    "texture_step",
    "colour_step",
    "long_step",
    "long_step_inward",
    "long_step_outward",
    "inside_unlike_deeper",
    "outside_unlike_deeper",
    "outside_texture",
    "place",
    "side_foot_step",
    "arris_step_inward",
)


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """A few typical colours of a surface (L, a, b, texture) with their spread."""

    centres: Doubles
    spreads: Doubles

    def distance(self, looks: Floats) -> Floats:
        """Return how unlike each look (..., 4) is to the nearest typical colour, 0 upward."""
        best = np.full(looks.shape[:-1], np.inf, dtype=np.float32)
        for centre, spread in zip(self.centres, self.spreads, strict=True):
            off = (looks - centre.astype(np.float32)) / spread.astype(np.float32)
            best = np.minimum(
                best, np.sqrt(np.einsum("...k,...k->...", off, off) / looks.shape[-1])
            )
        return best


# Spreads below these would make single tones of noise look strange.
_LEAST_SPREAD = np.array([2.5, 1.2, 1.8, 0.7])


def palette_of(looks: Floats, kinds: int = 5, seed: int = 1) -> Palette:
    """Return the typical looks among samples (N, 4) by k-means."""
    samples = np.ascontiguousarray(looks.reshape(-1, looks.shape[-1]), dtype=np.float32)
    if len(samples) > 6000:
        samples = samples[:: len(samples) // 6000 + 1]
    kinds = max(1, min(kinds, len(samples) // 20))
    scaled = samples / _LEAST_SPREAD.astype(np.float32)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.1)
    cv2.setRNGSeed(seed)
    _, labels, _ = cv2.kmeans(scaled, kinds, None, stop, 2, cv2.KMEANS_PP_CENTERS)  # type: ignore[call-overload]
    centres, spreads = [], []
    for kind in range(kinds):
        members = samples[labels.ravel() == kind]
        if len(members) < 0.02 * len(samples):
            continue
        centres.append(members.mean(axis=0))
        spreads.append(np.maximum(members.std(axis=0) * 1.5, _LEAST_SPREAD))
    return Palette(np.array(centres, dtype=np.float64), np.array(spreads, dtype=np.float64))


def looks_of(rgb: NDArray[np.uint8], mm_per_px: float) -> Floats:
    """Return (H, W, 4): CIELAB and the local unrest of L, as floats."""
    lab = cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    fine = lab[..., 0] - cv2.GaussianBlur(lab[..., 0], (0, 0), 1.2 / mm_per_px)
    unrest = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 1.5 / mm_per_px))
    return np.dstack([lab, unrest]).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side of the board, laid so that rows run outwards and columns along the side.

    Attributes
    ----------
    looks
        (T, S, 4) means over ``step_mm`` along the side.
    t_mm
        (T,) how far out each row lies, from the picture's own origin of that side.
    s_mm
        (S,) where along the side each column lies.
    guess_mm
        Where the arris is expected, t.
    foot_mm
        How far out the point below the camera lies, t, or None.
    side_share
        Thickness over camera height: how much nearer to that point, as a share of the distance,
        the foot of the board's side shows than its arris.
    """

    looks: Floats
    t_mm: Doubles
    s_mm: Doubles
    guess_mm: float
    foot_mm: float | None = None
    side_share: float = 0.0


def evidence(side: Side, wood: Palette, floor: Palette) -> Floats:
    """Return (T, S, len(EVIDENCE)) of what speaks for an arris at each place.

    Bands just inside and outside each row are compared with each other, with the board's own wood
    and with the floor of that side.
    """
    row_mm = float(side.t_mm[1] - side.t_mm[0])

    def band(near_mm: float, far_mm: float) -> Floats:
        """Mean looks from near to far of each row, outwards positive."""
        first, last = sorted((round(near_mm / row_mm), round(far_mm / row_mm)))
        count = last - first + 1
        mean = cv2.blur(
            side.looks.reshape(len(side.t_mm), -1),
            (1, count),
            anchor=(0, count // 2),
            borderType=cv2.BORDER_REPLICATE,
        )
        shift = (first + last) // 2
        rows = np.clip(np.arange(len(side.t_mm)) + shift, 0, len(side.t_mm) - 1)
        return np.asarray(mean[rows].reshape(side.looks.shape), dtype=np.float32)

    thin_in, thin_out = band(-1.5, -0.5), band(0.5, 1.5)
    wide_in, wide_out = band(-7.0, -1.0), band(1.0, 7.0)
    deep = band(-32.0, -10.0)
    thin = (thin_in - thin_out) / _STEP_SCALE
    wide = (wide_in - wide_out) / _STEP_SCALE
    # A board's edges are long and nearly parallel: means along them keep such steps alone.
    along = max(3, round(60.0 / float(side.s_mm[1] - side.s_mm[0])) | 1)
    steady = np.asarray(
        cv2.blur(thin[..., :3].copy(), (along, 1), borderType=cv2.BORDER_REPLICATE), np.float32
    )
    long_step = np.minimum(_size(steady), 4.0)
    near, far = round(4.0 / row_mm), round(26.0 / row_mm)
    out = np.dstack(
        [
            np.minimum(_size(thin[..., :3]), 6.0),
            np.minimum(_size(wide[..., :3]), 6.0),
            np.minimum(wood.distance(wide_out), 5.0),
            np.minimum(wood.distance(wide_in), 5.0),
            np.minimum(floor.distance(wide_out), 5.0),
            np.minimum(floor.distance(wide_in), 5.0),
            np.clip(wide[..., 0], -3.0, 3.0),
            np.clip(np.abs(wide[..., 3]), 0.0, 3.0),
            np.minimum(_size(wide[..., 1:3]), 5.0),
            long_step,
            _most_between(long_step, -far, -near),
            _most_between(long_step, near, far),
            np.minimum(_size((wide_in - deep)[..., :3] / _STEP_SCALE[:3]), 5.0),
            np.minimum(_size((wide_out - deep)[..., :3] / _STEP_SCALE[:3]), 5.0),
            np.clip(wide_out[..., 3] - deep[..., 3], -4.0, 4.0),
            np.broadcast_to(
                np.minimum(np.abs(side.t_mm - side.guess_mm) / 20.0, 3.0)[:, None],
                side.looks.shape[:2],
            ),
            *_side_steps(side, long_step),
        ]
    )
    return np.asarray(out, dtype=np.float32)


# A side face that shows narrower than this cannot be told from the arris itself.
_NARROWEST_SIDE_MM = 2.0


def _side_steps(side: Side, long_step: Floats) -> tuple[Floats, Floats]:
    """Return the steps that the camera's place foretells, 0 where no side face shows.

    The first: were the arris at this row, the step where the foot of the board's side would show.
    The second: were this row the foot of the side, the step where its arris would be.
    """
    nothing = np.zeros_like(long_step)
    if side.foot_mm is None or side.side_share <= 0:
        return nothing, nothing
    t = side.t_mm
    row_mm = float(t[1] - t[0])
    # Sides are not quite square: a step within 2 mm will do.
    near = cv2.dilate(long_step, np.ones((2 * round(2.0 / row_mm) + 1, 1), np.uint8))

    def at(rows_mm: Doubles, shows: NDArray[np.bool_]) -> Floats:
        rows = np.clip(np.round((rows_mm - t[0]) / row_mm).astype(int), 0, len(t) - 1)
        there = shows & (rows_mm >= t[0]) & (rows_mm <= t[-1])
        return np.asarray(np.where(there[:, None], near[rows], 0), dtype=np.float32)

    reach = side.side_share * (side.foot_mm - t)
    arris = (t - side.side_share * side.foot_mm) / (1 - side.side_share)
    return at(t + reach, reach > _NARROWEST_SIDE_MM), at(arris, t - arris > _NARROWEST_SIDE_MM)


_STEP_SCALE = np.array([6.0, 2.5, 3.5, 1.5], dtype=np.float32)


def _size(vectors: Floats) -> Floats:
    return np.asarray(np.sqrt((vectors**2).sum(axis=-1)), dtype=np.float32)


def _most_between(values: Floats, first: int, last: int) -> Floats:
    """Return for each row the largest value among the rows first to last away from it."""
    count = last - first + 1
    shifted = np.full_like(values, 0.0)
    middle = (first + last) // 2
    rows = np.arange(len(values)) + middle
    there = (rows >= 0) & (rows < len(values))
    most = cv2.dilate(values, np.ones((count, 1), np.uint8))
    shifted[there] = most[rows[there]]
    return shifted


def smooth_path(score: Floats, bend: float, most_step: int = 3) -> NDArray[np.intp]:
    """Return for each column the row of the best path from left to right.

    Parameters
    ----------
    score
        (T, S), high where the path should go.
    bend
        Cost of one row of climb per column, squared.
    most_step
        Largest climb per column, rows.
    """
    rows, columns = score.shape
    best = score[:, 0].astype(np.float64)
    came = np.zeros((rows, columns), dtype=np.int8)
    steps = range(-most_step, most_step + 1)
    for column in range(1, columns):
        options = np.full((len(steps), rows), -np.inf)
        for index, step in enumerate(steps):
            if step >= 0:
                options[index, step:] = best[: rows - step] - bend * step * step
            else:
                options[index, :step] = best[-step:] - bend * step * step
        choice = options.argmax(axis=0)
        came[:, column] = choice - most_step
        best = options[choice, np.arange(rows)] + score[:, column]
    path = np.zeros(columns, dtype=np.intp)
    path[-1] = int(best.argmax())
    for column in range(columns - 1, 0, -1):
        path[column - 1] = path[column] - came[path[column], column]
    return path


def sharpen(score: Floats, path: NDArray[np.intp], reach: int = 2) -> Doubles:
    """Return the path to a part of a row: the centre of a parabola through the score's top."""
    rows = score.shape[0]
    at = np.clip(path, 1, rows - 2)
    columns = np.arange(score.shape[1])
    low, mid, high = (score[at + step, columns].astype(np.float64) for step in (-1, 0, 1))
    curve = low - 2 * mid + high
    shift = np.where(curve < -1e-6, 0.5 * (low - high) / np.minimum(curve, -1e-6), 0.0)
    return np.asarray(at + np.clip(shift, -1.0, 1.0), dtype=np.float64)
