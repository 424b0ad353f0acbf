"""Where one side of a board ends: evidence for its arris, and the smooth path through it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.outline.side import Doubles, Floats, Side

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
    "foot_step",
    "step_before_foot",
    "past_foot_unlike_wood",
    "past_foot_unlike_floor",
    "before_foot_unlike_floor",
    "arris_step_inward",
)


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """A few typical looks of a surface (see `side.LOOKS`) with their spread."""

    centres: Doubles
    spreads: Doubles

    def distance(self, looks: Floats) -> Floats:
        """Return how unlike each look (..., K) is to the nearest typical colour, 0 upward."""
        # Squares written out: one product with a matrix serves all typical looks at once.
        weight = 1.0 / self.spreads**2
        both = np.vstack([weight.T, -2 * (weight * self.centres).T]).astype(np.float32)
        flat = looks.reshape(-1, looks.shape[-1])
        off = np.hstack([flat * flat, flat]) @ both
        off += (weight * self.centres**2).sum(axis=1).astype(np.float32)
        best = np.maximum(off.min(axis=1), 0) / looks.shape[-1]
        return np.asarray(np.sqrt(best).reshape(looks.shape[:-1]), dtype=np.float32)


# Spreads below these would make single tones of noise look strange.
_LEAST_SPREAD = np.array([2.5, 1.2, 1.8, 0.3, 0.3])


def palette_of(looks: Floats, kinds: int = 5, seed: int = 1) -> Palette:
    """Return the typical looks among samples (N, K) by k-means."""
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
            np.minimum(_size(wide[..., 3:]), 4.0),
            np.minimum(_size(wide[..., 1:3]), 5.0),
            long_step,
            _most_between(long_step, -far, -near),
            _most_between(long_step, near, far),
            np.minimum(_size((wide_in - deep)[..., :3] / _STEP_SCALE[:3]), 5.0),
            np.minimum(_size((wide_out - deep)[..., :3] / _STEP_SCALE[:3]), 5.0),
            np.clip((wide_out - deep)[..., 3:].sum(axis=-1) / 1.2, -4.0, 4.0),
            np.broadcast_to(
                np.minimum(np.abs(side.t_mm - side.guess_mm) / 20.0, 3.0)[:, None],
                side.looks.shape[:2],
            ),
            *_foot_facts(side, long_step, floor.distance(wide_out), wood.distance(wide_out)),
        ]
    )
    return np.asarray(out, dtype=np.float32)


# A side face that shows narrower than this cannot be told from the arris itself.
_NARROWEST_SIDE_MM = 2.0
# Sides are not quite square: a step this near to where the camera's place foretells it will do.
_SIDE_SLACK_MM = 2.0


def _foot_facts(
    side: Side, long_step: Floats, unlike_floor: Floats, unlike_wood: Floats
) -> tuple[Floats, ...]:
    """Return what the camera's place foretells, were the arris at each row.

    The foot of the board's side then shows at a known row further out (the arris itself where the
    side is turned away): the step there, the strongest step before it, how unlike wood and floor
    it looks past it, and how unlike floor before it. Last: were this row the foot of the side, the
    step where its arris would be.
    """
    t, reach = side.t_mm, side.reach_mm()
    row_mm = float(t[1] - t[0])
    slack = round(_SIDE_SLACK_MM / row_mm)
    near = cv2.dilate(long_step, np.ones((2 * slack + 1, 1), np.uint8))
    last = len(t) - 1
    at = np.arange(len(t))
    foot = np.minimum(np.round(at + reach / row_mm).astype(int), last)
    shows = (reach > _NARROWEST_SIDE_MM)[:, None]
    foot_step = np.where(shows, near[foot], long_step)
    # Running sums give the mean over the side face, whatever its width.
    sums = np.vstack([np.zeros_like(unlike_floor[:1]), np.cumsum(unlike_floor, axis=0)])
    first = np.minimum(at + 1, foot)
    # Bands look outwards: those whose far end lies before the foot.
    stop = np.maximum(foot - round(7.0 / row_mm), first)
    span = np.maximum(stop - first, 1)[:, None]
    wide = (stop > first)[:, None]
    before = np.where(wide, (sums[stop] - sums[first]) / span, unlike_floor)
    between = np.where(shows, _most_before(long_step, at + 2 * slack, foot - 2 * slack), 0)
    foot_t = side.foot_mm if side.foot_mm is not None else -np.inf
    arris_t = (t - side.side_share * max(foot_t, 0.0)) / (1 - side.side_share)
    arris = np.clip(np.round((arris_t - t[0]) / row_mm).astype(int), 0, last)
    is_foot = (t - arris_t > _NARROWEST_SIDE_MM) & (arris_t >= t[0]) & (t < foot_t)
    return (
        foot_step.astype(np.float32),
        between.astype(np.float32),
        np.minimum(unlike_wood[foot], 5.0),
        np.minimum(unlike_floor[foot], 5.0),
        np.minimum(before, 5.0).astype(np.float32),
        np.where(is_foot[:, None], near[arris], 0).astype(np.float32),
    )


def _most_before(values: Floats, first: NDArray[np.intp], stop: NDArray[np.intp]) -> Floats:
    """Return for each row the largest value in rows first ... stop - 1, 0 where there are none."""
    out = np.zeros_like(values)
    for row in np.flatnonzero(stop > first):
        out[row] = values[first[row] : stop[row]].max(axis=0)
    return out


_STEP_SCALE = np.array([6.0, 2.5, 3.5, 0.6, 0.6], dtype=np.float32)


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
