"""How far off a low lamp's photo lies at each place of a face: a smooth field, by all patches.

Grain tells much of a shift across itself and little along. Of one patch the likeness stands on a
ridge, whose top noise and saw marks move by millimetres; the ridges of all patches together, under
one smooth field, have their top where the wood is.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.low_lamp.raking_patches import INDEPENDENT, LEAST_SD_MM, Likeness, Matches

Singles = NDArray[np.float32]
Doubles = NDArray[np.float64]

# What the field's terms usually come to about the face's middle, mm, along the board and across.
# A face is turned or sheared by next to nothing along itself; bow and cup show along it where the
# phone was moved along the board.
_USUAL_MM = (
    np.array([1.0, 0.8, 0.15, 1.5, 0.3, 0.5, 1.0]),
    np.array([2.0, 2.0, 1.5, 2.0, 1.5, 1.0, 0.8]),
)
# Seven terms need more patches than terms.
FEWEST = 8
# A patch agrees with the field that lies this near to where it was found.
_NEAR_MM = 1.0
# Saw marks, which each light shades aside, shift patches by so much of their own, along and across.
_OWN_SHIFT_MM = (3.0, 1.0)
# What is high is shifted the same way everywhere, by the phone's move: the terms of bow and of cup
# have one direction, to so much at the rim.
_HEIGHTS, _ONE_WAY_MM, _WAYS = (3, 6), 0.15, 90
_MOST_STEPS, _MOST_STEP_MM = 25, (2.0, 0.6)
# A likeness' slope is taken over so much, along and across: grain is longer than wide.
_TELL_MM = (1.0, 0.3)


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """(7, 2) the terms of a smooth field about a face's middle (x, y), mm of its picture."""

    terms: Doubles
    middle_mm: Doubles

    def at(self, mm: Doubles) -> Doubles:
        """Return (N, 2) how far off the second picture lies at places, mm from the first pixel."""
        return np.asarray(terms_at(mm, self.middle_mm) @ self.terms, dtype=np.float64)

    def plus(self, more: Doubles) -> "Field":
        """Return both together: small against their own size, two fields add up."""
        return Field(self.terms + more, self.middle_mm)


def terms_at(mm: Doubles, middle_mm: Doubles) -> Doubles:
    """Return (N, 7) the terms of the field at places in the first picture, mm."""
    u, v = (mm[:, 0] - middle_mm[0]) / 1000.0, (mm[:, 1] - middle_mm[1]) / 100.0
    return np.column_stack([np.ones_like(u), u, v, u * u, u * v, u * u * u, v * v])


def agreed_field(found: Matches, middle_mm: Doubles) -> tuple[Field, NDArray[np.bool_]]:
    """Return the smooth field through most of the matches, and which of them agree.

    Grain says much less along itself than across, so each match counts by its own spread, which
    lies along the grain, and the ends, which the first move was taken from, count as well.
    """
    count = len(_USUAL_MM[0])
    flat = Field(np.zeros((count, 2)), middle_mm)
    none = flat, np.zeros(len(found.at), dtype=bool)
    if len(found.at) < FEWEST:
        return none
    sd_xy = np.sqrt(np.diagonal(found.covariance, axis1=1, axis2=2))
    near = np.abs(found.off - np.median(found.off, axis=0)) < 3.0 + 2.0 * sd_xy
    kept = np.asarray(near.all(axis=1), dtype=np.bool_)
    both = _both_axes(terms_at(found.at, middle_mm))
    certain = np.linalg.inv(found.covariance)
    field = flat
    for limit_mm in (3.0, 2.0, _NEAR_MM, _NEAR_MM):
        if kept.sum() < FEWEST:
            return none
        rows, weight = both[kept], certain[kept]
        left_side = np.einsum("nai,nab,nbj->ij", rows, weight, rows) + np.diag(_pull())
        right_side = np.einsum("nai,nab,nb->i", rows, weight, found.off[kept])
        field = flat.plus(np.linalg.solve(left_side, right_side).reshape(count, 2))
        kept = agreeing(found, field.at(found.at), limit_mm)
    return (field, kept) if kept.sum() >= FEWEST else none


def agreeing(found: Matches, told: Doubles, limit_mm: float = _NEAR_MM) -> NDArray[np.bool_]:
    """Return (N,) whether matches lie near to what is told, along and across their own grain."""
    spread, ways = np.linalg.eigh(found.covariance)
    left = np.abs(np.einsum("nba,nb->na", ways, found.off - told))
    wide = np.maximum(1.0, np.sqrt(spread) / LEAST_SD_MM / 2)
    return np.asarray((left < limit_mm * wide).all(axis=1))


def _both_axes(terms: Doubles) -> Doubles:
    """Return (N, 2, 14) rows of (x, y) by both axes' terms."""
    rows = np.einsum("nt,ab->natb", terms, np.eye(2))
    return np.asarray(rows.reshape(len(terms), 2, 2 * terms.shape[1]), dtype=np.float64)


def _pull() -> Doubles:
    return np.asarray(np.column_stack(_USUAL_MM).ravel() ** -2, dtype=np.float64)


def pooled_field(likeness: Likeness, laid: Field) -> tuple[Doubles, Doubles]:
    """Return (7, 2) what is to be added to the field that all patches were laid by, and its spread.

    The sum over patches of the logarithm of their likelihood, each blurred by what a patch may
    be off by itself, is climbed by Newton's steps; what the field's terms usually come to counts
    too, and that bow and cup shift wood one way. The spread is the (14, 14) covariance, terms by
    (x, y).
    """
    evidence = _evidence(likeness)
    pull = np.diag(_pull())
    alone, bends = _climbed(evidence, likeness.at, laid, np.zeros_like(laid.terms), pull)
    if not len(likeness.at):
        return alone, np.asarray(np.linalg.inv(bends), dtype=np.float64)
    far = np.abs(likeness.at - laid.middle_mm).max(axis=0) / [1000.0, 100.0]
    rows, turning = _one_way(laid.terms + alone, bends, far**2)
    more, bends = _climbed(evidence, likeness.at, laid, alone, pull + rows.T @ rows)
    # Which way that is was found as well: it takes a part of what the rows say.
    free = np.outer(turning, turning) / (turning @ turning + 1.0)
    return more, np.asarray(np.linalg.inv(bends - rows.T @ free @ rows), dtype=np.float64)


def _climbed(
    evidence: "_Evidence", at: Doubles, laid: Field, more: Doubles, pull: Doubles
) -> tuple[Doubles, Doubles]:
    """Return (7, 2) what adds up best, from ``more`` on, and (14, 14) how it bends down there."""
    terms = terms_at(at, laid.middle_mm)
    both = _both_axes(terms)

    def height(more: Doubles) -> float:
        whole = (laid.terms + more).ravel()
        return float(evidence.at(terms @ more).sum() - whole @ pull @ whole / 2)

    now = height(more)
    left_side = pull
    for _ in range(_MOST_STEPS):
        climb, bends = evidence.slopes(terms @ more)
        left_side = np.einsum("nai,nab,nbj->ij", both, bends, both) + pull
        right_side = np.einsum("nai,na->i", both, climb) - pull @ (laid.terms + more).ravel()
        step = np.linalg.solve(left_side, right_side).reshape(more.shape)
        longest = np.abs(terms @ step).max(axis=0) / _MOST_STEP_MM if len(terms) else np.zeros(2)
        step /= max(1.0, float(longest.max()))
        gain = height(more + step) - now
        while gain < 0 and np.abs(step).max() > 0.01:
            step /= 2
            gain = height(more + step) - now
        if gain <= 0:
            break
        more, now = more + step, now + gain
        if gain < 0.01:
            break
    return more, left_side


def _one_way(whole: Doubles, bends: Doubles, far: Doubles) -> tuple[Doubles, Doubles]:
    """Return (2, 14) what the terms of bow and cup must leave, one way; (2,) how turning it tells.

    ``far`` is how much each of both terms comes to at the rim.
    """
    spread = np.linalg.inv(bends)

    def rows_of(angle: float, *, turned: bool = False) -> Doubles:
        x, y = (-np.sin(angle), -np.cos(angle)) if turned else (np.cos(angle), -np.sin(angle))
        rows = np.zeros((2, *whole.shape))
        for row, term, much in zip(rows, _HEIGHTS, far / _ONE_WAY_MM, strict=True):
            row[term] = x * much, y * much
        return rows.reshape(2, -1)

    def cost(angle: float) -> float:
        rows = rows_of(angle)
        left = rows @ whole.ravel()
        return float(left @ np.linalg.solve(np.eye(2) + rows @ spread @ rows.T, left))

    best = min(np.arange(_WAYS) * np.pi / _WAYS, key=cost)
    return rows_of(best), rows_of(best, turned=True) @ whole.ravel()


@dataclass(frozen=True, slots=True, eq=False)
class _Evidence:
    """(N x H, W) the blurred logarithms of patches' likelihoods by their move, stacked."""

    tall: Singles
    rows: int
    mm_per_px: float

    def at(self, off: Doubles) -> Doubles:
        """Return (N,) how well each patch fits moved by (N, 2) mm."""
        if not len(off):
            return np.zeros(0)
        middle = np.array([self.tall.shape[1] // 2, self.rows // 2])
        place = np.clip(off / self.mm_per_px, 1.0 - middle, middle - 1.0) + middle
        place[:, 1] += np.arange(len(off)) * self.rows
        x, y = place.T.astype(np.float32)[:, None]
        return np.asarray(cv2.remap(self.tall, x, y, cv2.INTER_CUBIC)[0], dtype=np.float64)

    def slopes(self, off: Doubles) -> tuple[Doubles, Doubles]:
        """Return (N, 2) how it climbs there and (N, 2, 2) how it bends down, nowhere up."""
        dx, dy = _TELL_MM
        steps = (-1, 0, 1)
        near = {(i, j): self.at(off + np.array([i * dx, j * dy])) for i in steps for j in steps}
        climb = np.column_stack(
            [(near[1, 0] - near[-1, 0]) / (2 * dx), (near[0, 1] - near[0, -1]) / (2 * dy)]
        )
        bends = np.empty((len(off), 2, 2))
        bends[:, 0, 0] = (2 * near[0, 0] - near[1, 0] - near[-1, 0]) / dx**2
        bends[:, 1, 1] = (2 * near[0, 0] - near[0, 1] - near[0, -1]) / dy**2
        askew = near[1, -1] + near[-1, 1] - near[1, 1] - near[-1, -1]
        bends[:, 0, 1] = bends[:, 1, 0] = askew / (4 * dx * dy)
        down, ways = np.linalg.eigh(bends)
        bends = np.einsum("nab,nb,ncb->nac", ways, np.maximum(down, 0.0), ways)
        return climb, np.asarray(bends, dtype=np.float64)


def _evidence(likeness: Likeness) -> _Evidence:
    alike = np.clip(likeness.values, 0.0, 0.995)
    told = -INDEPENDENT / 2 * np.log(1.0 - alike * alike)
    along, across = (size / likeness.mm_per_px for size in _OWN_SHIFT_MM)
    soft = [cv2.GaussianBlur(one, (0, 0), along, sigmaY=across) for one in told]
    tall = np.concatenate(soft) if soft else np.zeros((0, told.shape[2]), np.float32)
    return _Evidence(
        np.ascontiguousarray(tall, dtype=np.float32), told.shape[1], likeness.mm_per_px
    )


def along_u_mm(spread: Doubles, places_mm: Doubles, middle_mm: Doubles) -> Doubles:
    """Return (N,) U of the field along the board at places, mm."""
    terms = terms_at(places_mm, middle_mm)
    count = terms.shape[1]
    along = spread.reshape(count, 2, count, 2)[:, 0, :, 0]
    variance = np.einsum("ni,ij,nj->n", terms, along, terms)
    return np.asarray(2.0 * np.sqrt(variance), dtype=np.float64)
