"""One length from both faces: what each fit tells of it, and of what both share.

What nobody measured moves both faces' lengths. A bow lengthens the face that it makes hollow, whose
ends come nearer the camera, and shortens the other; the print of the strip, the lens and the
thickness err alike on both. So each fit tells the board's length together with the unknowns that
both have, and both are added up as evidence: a weighted mean whose U knows what is shared
(JCGM 102:2011, 6.2: several output quantities with their covariance).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.measured import Measured
from scanner.vision.evidence.told_length import ToldLength
from scanner.vision.fit.lengths import length_gradient, rounded_u, smooth_lens_mm
from scanner.vision.fit.scale_fit import END_SD_PX, mirrored

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.fit.scale_fit import ScaleFit

# Ends sawn out of square through the thickness by a degree or two make one face so much longer or
# shorter than the board (common practice, no source).
_SQUARE_SD_MM = 0.7
# The lens terms that another photo by the same phone has too: focal length and radial terms, not
# the principal point.
_OF_PHONE = (0, 3, 4, 5)


def told_length(
    fit: ScaleFit, end_a_mm: NDArray[np.float64], end_b_mm: NDArray[np.float64], length: Measured
) -> ToldLength | None:
    """Return what one face tells of the board's length; None where a tape told it already.

    Parameters
    ----------
    end_a_mm, end_b_mm
        Middles of both ends, (2,), rule frame.
    length
        Between them, with a U that may be wider than the fit's.
    """
    if fit.observations.taped:
        return None
    solution = fit.solution
    model = solution.model
    ends = mirrored(np.array([end_a_mm, end_b_mm], dtype=np.float64))
    gradient, scales = length_gradient(
        solution, (fit.source(end_a_mm), fit.source(end_b_mm)), (ends[0], ends[1])
    )
    face = model.blocks["face"].start
    shared = {"thickness": face, "middle": face + 3, "ends": face + 4}
    if "print" in model.blocks:
        shared["print"] = model.blocks["print"].start
    lens = fit.observations.lenses[0]
    # Only where both start from the same prior are the terms the same unknowns.
    same = (lens.focal_px, lens.sd_log_focal, lens.terms, lens.sd_terms, lens.spread)
    shared |= {f"lens {term} {same}": model.blocks["lens"].start + term for term in _OF_PHONE}
    at = list(shared.values())
    unit = model.unit[at]
    covariance = np.zeros((len(at) + 1, len(at) + 1))
    covariance[:-1, :-1] = solution.covariance[np.ix_(at, at)] * np.outer(unit, unit)
    covariance[:-1, -1] = covariance[-1, :-1] = (solution.covariance @ gradient)[at] * unit
    covariance[-1, -1] = float(gradient @ solution.covariance @ gradient)
    mean = np.append(model.mean[at] + unit * solution.state.values[at], length.value_mm)
    by_fit = _of_one_bow(ToldLength(tuple(shared), model.mean[at], unit, mean, covariance))
    misfit = max(1.0, solution.chi2_per_dof)
    reading = sum((END_SD_PX * scale) ** 2 for scale in scales)
    # What the fit itself does not know, and a U that is wider than its own.
    alone = misfit * covariance[-1, -1] + reading
    alone += smooth_lens_mm(length.value_mm, sum(scales) / 2) ** 2
    spread = _widened(by_fit, misfit)
    # Alone its length is known as badly as if all of it were widened.
    spread[-1, -1] = misfit * by_fit.covariance[-1, -1]
    spread[-1, -1] += max(alone, (length.u_mm / 2) ** 2) - misfit * covariance[-1, -1]
    return replace(by_fit, covariance=spread, reading_mm2=reading)


def _of_one_bow(told: ToldLength) -> ToldLength:
    """Return what a face tells where its board rises in the middle or at the ends, never at both.

    The fit takes these for two unknowns. Of one face the length goes by its ends alone, but of both
    together by the sum of the two: as two unknowns a bow of up to 5 mm counted as one of up to 8.
    """
    taken, known = np.diag(told.sd_prior**-2.0), np.linalg.inv(told.prior_spread())
    more = np.pad(known - taken, (0, 1))
    by_fit = np.linalg.inv(told.covariance)
    covariance = np.asarray(np.linalg.inv(by_fit + more), dtype=np.float64)
    mean = covariance @ (by_fit @ told.mean + more @ np.append(told.prior, 0.0))
    return replace(told, mean=mean, covariance=covariance)


def _widened(told: ToldLength, misfit: float) -> NDArray[np.float64]:
    """Return the covariance where what was seen tells so much less; what was known before stays.

    Were that widened too, both faces together, which hold it twice, would know less of the shared
    unknowns than one of them knows beforehand, or less than nothing.
    """
    prior = _prior(told)
    widened = np.linalg.inv((np.linalg.inv(told.covariance) - prior) / misfit + prior)
    return np.asarray(widened, dtype=np.float64)


def length_of_both(first: ToldLength, second: ToldLength) -> tuple[Measured, float, float]:
    """Return the length that both faces tell, by how much they differ, and U of that difference.

    ``second`` is told with face 2 up. The difference is mm, first less second, after what each
    knows better of the shared unknowns.
    """
    one, two = _with_shared(first, second)
    spread_1, spread_2 = one.spread(_SQUARE_SD_MM**2), two.spread(_SQUARE_SD_MM**2)
    # How the second length goes with the shared unknowns; what is left is its own.
    slope = np.linalg.solve(spread_2[:-1, :-1], spread_2[:-1, -1])
    bare = np.append(-slope, 1.0)
    apart = float(bare @ (one.mean - two.mean))
    own = float(spread_2[-1, -1] - slope @ spread_2[:-1, -1])
    u_apart = 2 * math.sqrt(float(bare @ spread_1 @ bare) + own)
    # Both posteriors hold the prior of the shared unknowns: it counts once.
    prior = _prior(two)
    told_1, told_2 = np.linalg.inv(spread_1), np.linalg.inv(spread_2)
    covariance = np.linalg.inv(told_1 + told_2 - prior)
    mean = covariance @ (told_1 @ one.mean + told_2 @ two.mean - prior @ np.append(two.prior, 0.0))
    u = 2 * math.sqrt(float(covariance[-1, -1]))
    return Measured(float(mean[-1]), rounded_u(u)), apart, u_apart


def scale_u_of_both(first: ToldLength, second: ToldLength) -> float:
    """Return the relative U of the scale along the board that both faces tell together.

    That of the length, less what is no matter of scale: how its ends were read, and ends sawn out
    of square.
    """
    one, two = _with_shared(first, second)
    told_1, told_2 = (np.linalg.inv(face.spread(-face.reading_mm2)) for face in (one, two))
    covariance = np.linalg.inv(told_1 + told_2 - _prior(two))
    return 2 * math.sqrt(float(covariance[-1, -1])) / float(one.mean[-1])


def _with_shared(first: ToldLength, second: ToldLength) -> tuple[ToldLength, ToldLength]:
    """Return both with the unknowns that they share, as face 1 lies up."""
    over = second.turned_over()
    names = [name for name in first.names if name in over.names]
    return first.only(names), over.only(names)


def _prior(told: ToldLength) -> NDArray[np.float64]:
    """Return what is known of the shared unknowns beforehand, as an inverse covariance."""
    return np.pad(np.linalg.inv(told.prior_spread()), (0, 1))
