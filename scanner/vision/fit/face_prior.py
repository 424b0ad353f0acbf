"""Where the face lies and how it bends before the fit, from what the person measured."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from scanner.vision.evidence.observations import FacePrior

if TYPE_CHECKING:
    from scanner.board.form import Warp
    from scanner.vision.setup import Setup


def face_prior(
    setup: Setup, middle_mm: tuple[float, float], half_length_mm: float, angle_rad: float = 0.0
) -> FacePrior:
    """Return the height and form of the face before the fit, from what the person measured."""
    crown, ends = _bow_prior(setup.warp if setup.bow_known else None, setup.most_bow_mm)
    cup, twist = (setup.warp.cup_mm or 0.0, setup.warp.twist_mm or 0.0) if setup.warp else (0, 0)
    if setup.rule_on == "face":
        sd_thickness = 0.1
    else:
        sd_thickness = math.hypot(setup.thickness.u_mm / 2, cup / 2, twist / 4)
    return FacePrior(
        thickness_mm=setup.thickness.value_mm,
        sd_thickness=max(0.05, sd_thickness),
        middle_mm=middle_mm,
        half_length_mm=half_length_mm,
        angle_rad=angle_rad,
        crown=crown,
        ends=ends,
    )


def _bow_prior(
    warp: Warp | None, most_bow_mm: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return mean and sd of the face's rise at its middle and at its ends."""
    if warp is None:
        # One of them is nearly nothing, the other anything up to the most.
        unknown = (most_bow_mm / 4, 0.32 * most_bow_mm)
        return unknown, unknown
    bow = abs(warp.bow_mm or 0.0)
    if not warp.sign_known and bow > 0:
        # One of them is the bow, the other nothing; nobody said which.
        either = (bow / 2, math.hypot(0.75, bow / 2))
        return either, either
    hollow = (warp.bow_mm or 0.0) >= 0
    return (0.0 if hollow else bow, 0.75), (bow if hollow else 0.0, 0.75)
