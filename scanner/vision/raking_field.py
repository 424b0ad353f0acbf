"""How far off a low lamp's photo lies at each place of a face: a smooth field, by all patches.

Grain tells much of a shift across itself and little along. Of one patch the likeness stands on a
ridge, whose top noise and saw marks move by millimetres; the ridges of all patches together, under
one smooth field, have their top where the wood is.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.vision.picture import FacePicture

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

_PATCH_MM = (80.0, 40.0)
_ALONG, _ACROSS = 22, 5
_LEAST_LIKENESS = 0.35
# Grain repeats across the board: another peak, this far off, must be less good.
_OTHER_PEAK_MM = 2.0
_CLEARER_BY = 0.04
# A patch whose likeness falls by b a pixel squared is told within sqrt((1 - r^2) / (b n)) px: as
# if it held n independent pixels (Cramer-Rao bound of a shift).
_INDEPENDENT = 250.0
_LEAST_SD_MM = 0.25
# What the field's terms usually come to about the face's middle, mm, along the board and across.
# A face is turned or sheared by next to nothing along itself; bow and cup show along it where the
# phone was moved along the board.
_USUAL_MM = (
    np.array([1.0, 0.8, 0.15, 1.5, 0.3, 0.5, 1.0]),
    np.array([2.0, 2.0, 1.5, 2.0, 1.5, 1.0, 0.8]),
)
FEWEST = 8
_NEAR_MM = 1.0
# Saw marks, which each light shades aside, shift patches by so much of their own, along and across.
_OWN_SHIFT_MM = (3.0, 1.0)
_MOST_STEPS, _MOST_STEP_MM = 25, (2.0, 0.6)
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


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """(N, 2) middles of patches, mm; (N, H, W) how alike they are moved; the middle is no move."""

    at: Doubles
    values: Floats
    mm_per_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """(N, 2) middles of patches found in both, how far off; (N, 2, 2) covariance, picture mm."""

    at: Doubles
    off: Doubles
    covariance: Doubles


def terms_at(mm: Doubles, middle_mm: Doubles) -> Doubles:
    """Return (N, 7) the terms of the field at places in the first picture, mm."""
    u, v = (mm[:, 0] - middle_mm[0]) / 1000.0, (mm[:, 1] - middle_mm[1]) / 100.0
    return np.column_stack([np.ones_like(u), u, v, u * u, u * v, u * u * u, v * v])


def likeness_of(
    texture: Floats,
    other: Floats,
    face: FacePicture,
    outline: Polygon,
    reach_mm: tuple[float, float],
) -> Likeness:
    """Return how alike patches of the face are to the other picture about where they should lie.

    Parameters
    ----------
    texture, other
        (H, W) of both pictures, pixel by pixel over each other but for what is sought.
    face, outline
        The first picture, and the face to the arris in its mm.
    reach_mm
        How far patches are moved, along and across.
    """
    mm = face.mm_per_px
    half = [round(size / 2 / mm) for size in _PATCH_MM]
    reach = [round(size / mm) for size in reach_mm]
    x0, y0, x1, y1 = (
        value / mm for value in np.subtract(outline.bounds, [*face.origin_mm, *face.origin_mm])
    )
    half[1] = min(half[1], int((y1 - y0) / 2 - 2))
    at: list[tuple[float, float]] = []
    values: list[Floats] = []
    shape = 2 * half[1], 2 * half[0]
    around = np.pad(other, ((reach[1], reach[1]), (reach[0], reach[0])))
    if half[1] >= FEWEST:
        for x in np.linspace(x0 + half[0], x1 - half[0], _ALONG):
            for y in np.unique(np.round(np.linspace(y0 + half[1], y1 - half[1], _ACROSS))):
                left, top = round(float(x)) - half[0], round(float(y)) - half[1]
                if left < 0 or top < 0:
                    continue
                patch = texture[top : top + shape[0], left : left + shape[1]]
                there = around[
                    top : top + shape[0] + 2 * reach[1], left : left + shape[1] + 2 * reach[0]
                ]
                if patch.shape != shape:
                    continue
                alike = cv2.matchTemplate(there, patch, cv2.TM_CCOEFF_NORMED)
                at.append(((left + half[0]) * mm, (top + half[1]) * mm))
                values.append(np.nan_to_num(alike, nan=-1.0, posinf=-1.0, neginf=-1.0))
    size = (2 * reach[1] + 1, 2 * reach[0] + 1)
    stack = np.array(values, dtype=np.float32).reshape(-1, *size)
    return Likeness(np.array(at).reshape(-1, 2), stack, mm)


def matches_of(likeness: Likeness) -> Matches:
    """Return the patches that are plainly found in both pictures."""
    mm = likeness.mm_per_px
    at: list[Doubles] = []
    off: list[Doubles] = []
    covariance: list[Doubles] = []
    middle = np.array(likeness.values.shape[:0:-1]) // 2
    for place, values in zip(likeness.at, likeness.values, strict=True):
        found = _peak(values, mm)
        if found is not None:
            at.append(place)
            off.append((found[0] - middle) * mm)
            covariance.append(found[1] * mm**2 + np.eye(2) * _LEAST_SD_MM**2)
    return Matches(
        np.array(at).reshape(-1, 2), np.array(off).reshape(-1, 2),
        np.array(covariance).reshape(-1, 2, 2),
    )  # fmt: skip


def _peak(values: Floats, mm: float) -> tuple[Doubles, Doubles] | None:
    """Return the peak (x, y), px with parts, and its spread; None where faint or not alone."""
    row, column = (int(v) for v in np.unravel_index(int(values.argmax()), values.shape))
    best = float(values[row, column])
    if best < _LEAST_LIKENESS:
        return None
    apart = round(_OTHER_PEAK_MM / mm)
    rest = values.copy()
    rest[
        max(row - apart, 0) : row + apart + 1, max(column - 3 * apart, 0) : column + 3 * apart
    ] = -1
    if rest.max() > best - _CLEARER_BY:
        return None
    if not (0 < row < values.shape[0] - 1 and 0 < column < values.shape[1] - 1):
        return None
    around = values[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64)
    # Grain that runs askew ties what is told along the board to what is told across it.
    bends = np.array(
        [
            [around[1, 0] - 2 * best + around[1, 2], 0.0],
            [0.0, around[0, 1] - 2 * best + around[2, 1]],
        ]
    )
    bends[0, 1] = bends[1, 0] = (around[2, 2] - around[2, 0] - around[0, 2] + around[0, 0]) / 4
    turned = np.linalg.eigh(bends)
    # Along a ridge as good as level the peak is anywhere.
    bends = (
        turned.eigenvectors
        @ np.diag(np.minimum(turned.eigenvalues, -1e-5))
        @ (turned.eigenvectors.T)
    )
    climb = np.array([around[1, 2] - around[1, 0], around[2, 1] - around[0, 1]]) / 2
    part = np.clip(-np.linalg.solve(bends, climb), -1.0, 1.0)
    spread = -np.linalg.inv(bends) * (1.0 - best * best) / _INDEPENDENT
    return np.array([column, row]) + part, spread


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
    wide = np.maximum(1.0, np.sqrt(spread) / _LEAST_SD_MM / 2)
    return np.asarray((left < limit_mm * wide).all(axis=1))


def _both_axes(terms: Doubles) -> Doubles:
    """Return (N, 2, 14) rows of (x, y) by both axes' terms."""
    rows = np.einsum("nt,ab->natb", terms, np.eye(2))
    return np.asarray(rows.reshape(len(terms), 2, -1), dtype=np.float64)


def _pull() -> Doubles:
    return np.asarray(np.column_stack(_USUAL_MM).ravel() ** -2, dtype=np.float64)


def pooled_field(likeness: Likeness, laid: Field) -> tuple[Doubles, Doubles]:
    """Return (7, 2) what is to be added to the field that all patches were laid by, and its spread.

    The sum over patches of the logarithm of their likelihood, each blurred by what a patch may
    be off by itself, is climbed by Newton's steps; what the field's terms usually come to counts
    too. The spread is the (14, 14) covariance, terms by (x, y).
    """
    evidence = _evidence(likeness)
    terms = terms_at(likeness.at, laid.middle_mm)
    both, pull = _both_axes(terms), _pull()
    count = terms.shape[1]

    def height(more: Doubles) -> float:
        kept = (pull * (laid.terms + more).ravel() ** 2).sum() / 2
        return float(evidence.at(terms @ more).sum() - kept)

    more = np.zeros((count, 2))
    now = height(more)
    left_side = np.diag(pull)
    for _ in range(_MOST_STEPS):
        climb, bends = evidence.slopes(terms @ more)
        left_side = np.einsum("nai,nab,nbj->ij", both, bends, both) + np.diag(pull)
        right_side = np.einsum("nai,na->i", both, climb) - pull * (laid.terms + more).ravel()
        step = np.linalg.solve(left_side, right_side).reshape(count, 2)
        longest = np.abs(terms @ step).max(axis=0) / _MOST_STEP_MM
        step /= max(1.0, float(longest.max()))
        gain = height(more + step) - now
        while gain < 0 and np.abs(terms @ step).max() > 0.01:
            step /= 2
            gain = height(more + step) - now
        if gain <= 0:
            break
        more, now = more + step, now + gain
        if gain < 0.01:
            break
    return more, np.asarray(np.linalg.inv(left_side), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Evidence:
    """(N x H, W) the blurred logarithms of patches' likelihoods by their move, stacked."""

    tall: Floats
    rows: int
    mm_per_px: float

    def at(self, off: Doubles) -> Doubles:
        """Return (N,) how well each patch fits moved by (N, 2) mm."""
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
    told = -_INDEPENDENT / 2 * np.log(1.0 - alike * alike)
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
