"""What scans have taught of one phone's lens, as a value that adds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.vision.evidence.observations import Floats

# log of the focal length as a share of the long side, k1, k2, k3.
TERMS = 4


@dataclass(frozen=True, slots=True)
class Phone:
    """Which camera: make, model and lens as EXIF has them, 35 mm focal length, long and short."""

    camera: str
    focal_35_mm: int
    size_px: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class LensEvidence:
    """What one scan (or several) says of a phone's lens, beyond what was known before.

    Attributes
    ----------
    precision
        (4, 4), inverse covariance of the terms; sums over scans.
    weighted
        (4,), precision times the terms; sums over scans.
    photos
        The photos it comes from (start of their SHA-256): none may teach twice.
    """

    phone: Phone
    precision: Floats
    weighted: Floats
    scans: int = 1
    photos: tuple[str, ...] = ()

    def and_(self, other: LensEvidence) -> LensEvidence:
        """Return both together: independent evidence adds up."""
        return LensEvidence(
            self.phone,
            self.precision + other.precision,
            self.weighted + other.weighted,
            self.scans + other.scans,
            (*self.photos, *other.photos),
        )
