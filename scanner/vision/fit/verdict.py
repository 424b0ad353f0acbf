"""What speaks against a fit: refusals, and doubts that the user should know."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon

from scanner.errors import PhotoError, TooNearError
from scanner.geometry.strip_layout import PIECE_MM
from scanner.vision.fit.lengths import u_of_length
from scanner.vision.fit.scale_fit import mirrored

if TYPE_CHECKING:
    from scanner.vision.evidence.observations import Floats, Observations
    from scanner.vision.fit.scale_fit import ScaleFit

WORST_MISFIT = 9.0
DOUBTFUL_MISFIT = 2.5
MOST_DROPPED = 0.2
NEAREST_MM = 400.0
MOST_TILT_DEG = 65.0
# Points further off on the floor are near the horizon.
_FAR_MM = 20000.0
_LEAST_OVERLAP_MM2 = 100.0 * 200.0
# Shadow and light make a rule of told width seem wider or narrower by at most this share of it, and
# a rule of any width by this much (used-up rendered rules of 28 mm: 1.6 mm).
_ODD_WIDTH_SHARE, _ODD_WIDTH_MM = 0.3, 5.0
# Fit to page prints at 0.9 to 0.97 (common practice, no source); nobody overlooks a smaller print.
_SMALLEST_PRINT = 0.85
# A strip's taped length that is off by more than this is worth a sentence.
_ODD_TAPE_SD = 3.0


def refuse_bad(fit: ScaleFit) -> None:
    """Raise ``PhotoError`` where no camera can have seen this, or only one that was too near."""
    refuse_misfit(fit)
    refuse_near(fit)


def refuse_near(fit: ScaleFit) -> None:
    """Raise ``TooNearError`` for a photo on which no board can be measured."""
    middle = np.array([*fit.observations.face.middle_mm, fit.observations.face.thickness_mm])
    for index, name in enumerate(fit.names):
        camera = fit.solution.model.camera(fit.solution.state, index)
        if float(np.linalg.norm(camera.centre - middle)) < NEAREST_MM:
            raise TooNearError(
                f"{name} was taken from less than 0.4 m", "step back and take the photo again"
            )


def refuse_misfit(fit: ScaleFit) -> None:
    """Raise ``PhotoError`` where no camera over a flat reference can have seen this."""
    solution = fit.solution
    where = " and ".join(fit.names)
    if solution.chi2_per_dof > WORST_MISFIT or solution.dropped_share > MOST_DROPPED:
        raise PhotoError(
            f"The reference in {where} does not look as a flat one can (misfit "
            f"{solution.chi2_per_dof:.1f}, {100 * solution.dropped_share:.0f} % of its marks left "
            "out)",
            "lay it flat, give its true size, and use a plain photo, no panorama or portrait mode",
        )
    for index, name in enumerate(fit.names):
        camera = solution.model.camera(solution.state, index)
        if camera.tilt_deg > MOST_TILT_DEG:
            raise PhotoError(
                f"{name} was taken too flat over the board ({camera.tilt_deg:.0f} degrees from "
                "straight above)",
                "hold the phone higher over the board",
            )


def odd_width_mm(fit: ScaleFit) -> float:
    """Return by how much a plain rule is seen wider than told where no light explains it; else 0.

    Seen on a rendered photo: a joint of the floor passed for a rule's second edge and its figures
    for graduations; the bar, twice as wide as told, tilted the camera by a degree.
    """
    model, state = fit.solution.model, fit.solution.state
    worst = 0.0
    for index, reference in enumerate(fit.observations.references):
        if reference.is_printed:
            continue
        # Of a rule whose width was not told the width is what is seen, so that nothing is left.
        wider = 2 * float(model.value(state, f"rule {index}")[3])
        odd = max(_ODD_WIDTH_MM, _ODD_WIDTH_SHARE * reference.size_mm[1])
        if abs(wider) > max(odd, abs(worst)):
            worst = wider
    return worst


def _border(size_px: tuple[int, int]) -> Floats:
    """Return points (32, 2) round the border of a photo, px."""
    width, height = size_px[0] - 1, size_px[1] - 1
    share = np.linspace(0.0, 1.0, 8, endpoint=False)
    level = np.zeros(8)
    return np.concatenate(
        [
            np.column_stack([share * width, level]),
            np.column_stack([level + width, share * height]),
            np.column_stack([width - share * width, level + height]),
            np.column_stack([level, height - share * height]),
        ]
    )


def refuse_gap(fit: ScaleFit) -> None:
    """Raise ``PhotoError`` where a piece of the board between two photos is in none of them."""
    grounds = []
    for index, size in enumerate(fit.sizes_px):
        there = fit.face_from_photo(index, _border(size))
        if not (np.abs(there) < _FAR_MM).all():
            return  # The horizon is in the picture: this photo shows everything ahead.
        grounds.append(Polygon(there).buffer(0))
    order = sorted(range(len(grounds)), key=lambda index: grounds[index].centroid.x)
    together = grounds[order[0]]
    for before, index in pairwise(order):
        if together.intersection(grounds[index]).area < _LEAST_OVERLAP_MM2:
            gap = together.distance(grounds[index])
            raise PhotoError(
                f"{fit.names[before]} and {fit.names[index]} do not overlap: "
                f"{gap:.0f} mm of the board or more are in neither",
                "take one more photo between them, each with a third of the one before in it",
            )
        together = together.union(grounds[index])


def doubts_of(fit: ScaleFit) -> tuple[str, ...]:
    """Return what the user should know of a fit, one sentence each."""
    out = []
    solution, observations = fit.solution, fit.observations
    if fit.kind == "strip" and observations.taped_strip is None:
        out.append(
            "print scale not measured: tape the strip once from zero to its last joint line and "
            "give that length with the photos"
        )
    elif observations.taped_strip is not None:
        out += _uncounted(observations.taped_strip[0], observations.references[0].size_mm[0])
        out += _oddly_taped(observations)
    if solution.chi2_per_dof > DOUBTFUL_MISFIT:
        out.append("the reference does not lie flat: see that it touches the floor everywhere")
    if not solution.is_good:
        out.append(
            "where the camera stood did not come out for certain, so the ± may be too small: take "
            "a second photo from another side"
        )
    p, q = fit.long_line()
    ends = mirrored(np.array([p, q]))
    if fit.twins and _twin_matters(fit, (ends[0], ends[1])):
        out.append("two tilts of the camera fit this photo: take a second one from another side")
    sd = solution.state.values[solution.model.blocks["lens"].slice][0]
    if abs(sd) > 3 and observations.lenses[0].sd_log_focal < 0.1:
        out.append("the focal length in the photo does not fit what is seen: is it cropped?")
    return tuple(out)


def _uncounted(long_mm: float, seen_mm: float) -> list[str]:
    """Return a doubt where how many pieces a strip has is told by its taped length alone.

    Sixteen pieces printed at 94 % are as long as fifteen. ``long_mm`` is what the strip is taken to
    measure as printed, ``seen_mm`` as far as its pieces were seen.
    """
    pieces = round(long_mm / PIECE_MM)
    if seen_mm > long_mm - PIECE_MM / 2 or pieces / (pieces + 1) < _SMALLEST_PRINT:
        return []
    return [
        f"the strip's last piece is not in view, so that its taped length alone says that it has "
        f"{pieces}: count them, for {pieces + 1} printed too small are as long"
    ]


def _oddly_taped(observations: Observations) -> list[str]:
    """Return a doubt where a strip was taped as no printer and no joints make one."""
    strip = observations.references[0]
    if observations.taped_strip is None or strip.loose or strip.odd:
        return []  # Joints that slipped and odd pieces make any length, and are named.
    long_mm, taped_mm, sd_taped = observations.taped_strip
    joints = strip.sd_joint * math.sqrt(max(0, round(long_mm / PIECE_MM) - 1))
    sd = math.hypot(observations.sd_print[0] * long_mm, joints, sd_taped)
    off = taped_mm - long_mm
    if abs(off) <= _ODD_TAPE_SD * sd:
        return []
    return [
        f"the strip was taped {abs(off):.0f} mm {'longer' if off > 0 else 'shorter'} than the "
        f"{long_mm:.0f} mm of its pieces, more than printers and joints explain, and every length "
        "goes by it: tape it again, from zero to its last joint line"
    ]


def _twin_matters(fit: ScaleFit, ends: tuple[Floats, Floats]) -> bool:
    sources = (fit.source(mirrored(ends[0][None])[0]), fit.source(mirrored(ends[1][None])[0]))
    with_twin = u_of_length(fit.solution, fit.twins, sources, ends, (0.0, 0.0))
    alone = u_of_length(fit.solution, (), sources, ends, (0.0, 0.0))
    return with_twin > 1.2 * alone
