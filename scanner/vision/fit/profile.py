"""What scans have taught about one phone's lens, and the prior that it makes for the next scan.

Kept are the focal length (as a share of the long side) and the radial terms. The principal point
is not: the stabiliser moves it from photo to photo, and turning the phone turns it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from scanner.vision.evidence.observations import LEARNED

if TYPE_CHECKING:
    from scanner.vision.evidence.observations import Floats, LensPrior
    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo

# Focusing nearer moves the focal length by about this (geometry of the fit, section 5).
_FOCUS_SD = 0.005
# No number of scans makes a lens surer than this: the next photo is a little different.
_LEAST_SD = (_FOCUS_SD, 0.002, 0.002, 0.002)


def phone_of(photo: Photo) -> Phone | None:
    """Return the camera of a photo, or None where the photo does not name it or was changed."""
    if not photo.camera or photo.focal_px is None or not photo.is_original:
        return None
    height, width = photo.pixels.shape[:2]
    # The whole mm that EXIF gives, which the focal length in px was made from.
    f35 = round(photo.focal_px * 43.267 / float(np.hypot(width, height)))
    return Phone(photo.camera, f35, (max(width, height), min(width, height)))


def _prior_of(lens: LensPrior) -> tuple[Floats, Floats]:
    """Return the mean (4,) of the kept terms before a fit, and their spread (4, 4)."""
    mean = np.array([np.log(lens.focal_px / max(lens.size_px)), *lens.terms[:3]])
    return mean, lens.mixing[np.ix_(LEARNED, LEARNED)]


def evidence_of(fit: ScaleFit, photos: tuple[Photo, ...]) -> LensEvidence | None:
    """Return what a fit learned of the lens, or None where its photos are of no one known phone."""
    phones = {phone_of(photo) for photo in photos}
    phone = phones.pop()
    if phones or phone is None:
        return None
    solution = fit.solution
    lens = solution.model.observations.lenses[0]
    at = [solution.model.blocks["lens"].start + index for index in LEARNED]
    mean, spread = _prior_of(lens)
    misfit = max(1.0, solution.chi2_per_dof)
    covariance = spread @ solution.covariance[np.ix_(at, at)] @ spread.T
    terms = mean + spread @ solution.state.values[at]
    after, before = np.linalg.inv(covariance), np.linalg.inv(spread @ spread.T)
    # What the prior brought is not evidence, and no misfit makes it less: only what was seen counts
    # for less. Rounding may leave a little less than nothing.
    values, vectors = np.linalg.eigh(after - before)
    precision = (vectors * np.maximum(values, 0.0)) @ vectors.T / misfit
    weighted = (after @ terms - before @ mean) / misfit
    names = tuple(photo.sha256[:12] for photo in photos)
    return LensEvidence(phone, precision, np.asarray(weighted), 1, names)


def taught(prior: LensPrior, evidence: LensEvidence | None) -> LensPrior:
    """Return a lens prior with what former scans of the same phone say."""
    if evidence is None:
        return prior
    mean, spread = _prior_of(prior)
    before = np.linalg.inv(spread @ spread.T)
    covariance = np.linalg.inv(before + evidence.precision)
    terms = covariance @ (before @ mean + evidence.weighted)
    covariance += np.diag(np.square(_LEAST_SD))
    # No board makes a term less sure than it was before.
    wider = np.sqrt(np.minimum(1.0, np.diag(spread @ spread.T) / np.diag(covariance)))
    covariance *= np.outer(wider, wider)
    sds = np.sqrt(np.diag(covariance))
    return replace(
        prior,
        focal_px=float(np.exp(terms[0]) * max(prior.size_px)),
        sd_log_focal=float(sds[0]),
        terms=(float(terms[1]), float(terms[2]), float(terms[3]), 0.0, 0.0),
        sd_terms=(float(sds[1]), float(sds[2]), float(sds[3]), *prior.sd_terms[3:]),
        spread=tuple(tuple(float(v) for v in row) for row in np.linalg.cholesky(covariance)),
    )


def evidence_for(photo: Photo, known: tuple[LensEvidence, ...]) -> LensEvidence | None:
    """Return what is known of a photo's own phone."""
    phone = phone_of(photo)
    return next((one for one in known if phone is not None and one.phone == phone), None)
