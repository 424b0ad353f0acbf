"""A board's looks from the flat pictures of its faces: rings and figure, and colour where known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.looks import Looks
from scanner.vision.cv import painted
from scanner.vision.looks.followed_rings import follow
from scanner.vision.looks.ring_fit import SURE_HEART, RingFit, figure_of, fit_rings
from scanner.vision.looks.ring_series import series_of
from scanner.vision.looks.ring_spectrum import Floats, crosscuts, ring_table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.ring_series import RingSeries
    from scanner.vision.photos.picture import WoodColour

# Arrises and turned grain round knots are no clear wood.
_RIM_MM = 3.0
# Fainter than what any photo's noise does: no rings are seen, only fitted (a painted face, say).
_LEAST_CONTRAST = 0.0005
_FLAW_RIM_MM = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceWood:
    """A face in the board frame: picture (H, W, 3) uint8 RGB, outline and flaws, mm."""

    pixels: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]
    outline: Polygon
    flaws: tuple[Polygon, ...] = ()

    def crosscuts(self) -> tuple[Floats, NDArray[np.bool_]]:
        """Return the ring pattern across the face, see `ring_spectrum.crosscuts`."""
        size = self.pixels.shape
        rim = self.outline.buffer(-_RIM_MM)
        wood = painted((rim,), self.origin_mm, self.mm_per_px, size)
        around = [flaw.buffer(_FLAW_RIM_MM) for flaw in self.flaws]
        wood &= ~painted(around, self.origin_mm, self.mm_per_px, size)
        return crosscuts(self.pixels, wood, self.mm_per_px)

    def rows_mm(self) -> Floats:
        """Return y of the picture's rows, board frame."""
        rows = np.arange(len(self.pixels), dtype=np.float64)
        return self.origin_mm[1] + rows * self.mm_per_px


@dataclass(frozen=True, slots=True)
class SeenLog:
    """The log as a board's faces tell it: its fit, the rings' contrast, and their series."""

    fit: RingFit
    contrast: float
    series: tuple[RingSeries, ...]


def looks_of(
    faces: Mapping[int, FaceWood],
    thickness_mm: float,
    colours: Mapping[int, tuple[WoodColour, WoodColour | None]] | None = None,
) -> Looks:
    """Return what a board looks like.

    Parameters
    ----------
    faces
        By face, 1 and 2, those that have a picture.
    colours
        Of each face's clear wood and of its sapwood, where white paper lay beside it.
    """
    return with_rings(with_colour(Looks(), colours or {}), log_of(faces, thickness_mm))


def log_of(faces: Mapping[int, FaceWood], thickness_mm: float) -> SeenLog | None:
    """Return the log as its faces' rings tell it; None where none show."""
    cuts = {n: face.crosscuts() for n, face in faces.items()}
    tables = {
        n: table
        for n, face in faces.items()
        if (table := ring_table(cuts[n], face.mm_per_px, face.origin_mm[1])) is not None
    }
    if not tables:
        return None
    _, low, _, high = next(iter(faces.values())).outline.bounds
    middle_mm = (low + high) / 2
    rings = {n: follow(cuts[n], faces[n].rows_mm() - middle_mm) for n in tables}
    fit = fit_rings(tables, rings, middle_mm, high - low, thickness_mm)
    contrast = float(np.mean([table.contrast for table in tables.values()]))
    if fit is None or contrast < _LEAST_CONTRAST:
        return None
    series = tuple(one for n in tables for one in series_of(rings[n], fit, n, thickness_mm))
    return SeenLog(fit, contrast, series)


def with_rings(looks: Looks, log: SeenLog | None) -> Looks:
    """Return looks with what the rings tell."""
    if log is None:
        return looks
    fit = log.fit
    return replace(
        looks,
        ring_mm=fit.ring_mm,
        contrast=log.contrast,
        figure=figure_of(fit),
        flat_share=fit.flat_share,
        heart_face=fit.heart_face if fit.lead >= SURE_HEART else None,
        rings=log.series,
    )


def with_colour(looks: Looks, colours: Mapping[int, tuple[WoodColour, WoodColour | None]]) -> Looks:
    """Return looks with the mean colour of the faces whose colour is known."""
    if not colours:
        return looks
    clear = [own for own, _ in colours.values()]
    sap = [other for _, other in colours.values() if other is not None]
    return replace(
        looks,
        lab=_mean(clear),
        spread=float(np.mean([own.spread for own in clear])),
        sap_lab=_mean(sap) if sap else None,
    )


def _mean(colours: list[WoodColour]) -> tuple[float, float, float]:
    light, red, yellow = (float(v) for v in np.mean([own.lab for own in colours], axis=0))
    return light, red, yellow
