"""What EXIF and the shape of a photo tell about its lens, before anything is fitted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.vision.evidence.observations import LensPrior
from scanner.vision.fit.profile import evidence_for, taught

if TYPE_CHECKING:
    from scanner.vision.evidence.lens_evidence import LensEvidence
    from scanner.vision.photos.picture import Photo

# Phones write the focal length rounded and up to 4 % off (2.3 % as one sd).
EXIF_FOCAL_SD = 0.023
CENTRE_SD_SHARE = 0.007
FREE_FOCAL_SD = 0.3


def lens_prior(photo: Photo) -> LensPrior:
    """Return what EXIF and the shape of a photo tell about its lens."""
    height, width = photo.pixels.shape[:2]
    long_side = max(width, height)
    if photo.focal_px is not None:
        focal, sd = photo.focal_px, EXIF_FOCAL_SD if photo.is_original else 2 * EXIF_FOCAL_SD
    else:
        focal, sd = 0.75 * long_side, FREE_FOCAL_SD
    if photo.is_cropped:
        centre = 0.25 * long_side
    elif photo.is_original:
        centre = CENTRE_SD_SHARE * long_side
    else:
        centre = 2 * CENTRE_SD_SHARE * long_side
    return LensPrior((width, height), focal, sd, centre)


def lens_priors(
    photos: tuple[Photo, ...], known: tuple[LensEvidence, ...] = ()
) -> tuple[LensPrior, ...]:
    """Return the priors of several photos; photos of another lens or shape share less.

    ``known`` is what former scans taught of some phones.
    """
    priors = [taught(lens_prior(photo), evidence_for(photo, known)) for photo in photos]
    first = priors[0]
    for index, prior in enumerate(priors):
        share = prior.focal_px / first.focal_px
        if photos[index].camera != photos[0].camera or abs(share - 1) > 0.02:
            priors[index] = replace(prior, sd_focus=prior.sd_log_focal)
        if prior.size_px != first.size_px:
            priors[index] = replace(priors[index], sd_stabiliser_px=prior.sd_centre_px)
    return tuple(priors)
