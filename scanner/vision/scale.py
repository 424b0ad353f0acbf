"""Find the reference (coded strip or plain rule), fit the camera; every length with its U."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.assemble import FEWEST_MARKERS, Seen, SeenMarkers, assemble, face_prior
from scanner.vision.cv import Bytes, grey_of
from scanner.vision.fit import solve
from scanner.vision.lengths import u_of_length
from scanner.vision.lens import lens_priors
from scanner.vision.observations import FacePoint, FacePrior, LensPrior, TapedDistance
from scanner.vision.rule import MEND, find_rules
from scanner.vision.scale_fit import END_SD_PX, ScaleFit, mirrored
from scanner.vision.strip import find_strip

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from scanner.board.board import RuleKind
    from scanner.board.measured import Measured
    from scanner.vision.observations import Floats, Observations
    from scanner.vision.picture import Photo
    from scanner.vision.setup import Corners, Setup

__all__ = [
    "ScaleFit",
    "fit_scale",
    "fit_seen",
    "with_board_ends",
    "with_face_points",
    "with_taped_length",
]

WORST_MISFIT = 9.0
DOUBTFUL_MISFIT = 2.5
MOST_DROPPED = 0.2
NEAREST_MM = 400.0
MOST_TILT_DEG = 65.0


def fit_seen(
    seen: tuple[Seen, ...],
    setup: Setup,
    kind: RuleKind,
    doubts: tuple[str, ...] = (),
    progress: Callable[[float], None] | None = None,
) -> ScaleFit:
    """Return the scale of one face from what was found in its photos.

    Raises
    ------
    PhotoError
        Too little was found, or no camera could have seen it so.
    """
    if kind == "strip":
        for one in seen:
            count = 0 if one.markers is None else len(one.markers.ids)
            if count < FEWEST_MARKERS:
                raise PhotoError(
                    f"Only {count} markers of the strip are readable in {one.name}",
                    "go nearer, or clear what covers the strip, and take the photo again",
                )
    observations, starts = assemble(seen, setup)
    solution, twins = solve(observations, starts, progress)
    fit = ScaleFit(
        kind=kind,
        doubts=(),
        solution=solution,
        twins=twins,
        observations=observations,
        setup=setup,
        names=tuple(one.name for one in seen),
        sizes_px=tuple(one.lens.size_px for one in seen),
        corners=_corners(seen[0]),
    )
    _refuse_bad(fit)
    return replace(fit, doubts=doubts + _doubts(fit))


def _corners(seen: Seen) -> tuple[tuple[float, float], ...]:
    if seen.rules:
        return tuple((float(x), float(y)) for x, y in seen.rules[0].corners)
    return ()


def _refuse_bad(fit: ScaleFit) -> None:
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
        middle = np.array([*fit.observations.face.middle_mm, fit.observations.face.thickness_mm])
        if float(np.linalg.norm(camera.centre - middle)) < NEAREST_MM:
            raise PhotoError(
                f"{name} was taken from less than 0.4 m", "step back and take the photo again"
            )
        if camera.tilt_deg > MOST_TILT_DEG:
            raise PhotoError(
                f"{name} was taken too flat over the board ({camera.tilt_deg:.0f} degrees from "
                "straight above)",
                "hold the phone higher over the board",
            )


def _doubts(fit: ScaleFit) -> tuple[str, ...]:
    out = []
    solution, observations = fit.solution, fit.observations
    if fit.kind == "strip" and observations.taped_strip is None:
        out.append(
            "print scale not checked: tape the strip once from zero to its last joint line and "
            "type it in"
        )
    if solution.chi2_per_dof > DOUBTFUL_MISFIT:
        out.append("the reference does not lie flat: see that it touches the floor everywhere")
    p, q = fit.long_line()
    ends = mirrored(np.array([p, q]))
    if fit.twins and _twin_matters(fit, (ends[0], ends[1])):
        out.append("two tilts of the camera fit this photo: take a second one from another side")
    sd = solution.state.values[solution.model.blocks["lens"].slice][0]
    if abs(sd) > 3 and observations.lenses[0].sd_log_focal < 0.1:
        out.append("the focal length in the photo does not fit what is seen: is it cropped?")
    return tuple(out)


def _twin_matters(fit: ScaleFit, ends: tuple[Floats, Floats]) -> bool:
    sources = (fit.source(mirrored(ends[0][None])[0]), fit.source(mirrored(ends[1][None])[0]))
    with_twin = u_of_length(fit.solution, fit.twins, sources, ends, (0.0, 0.0))
    alone = u_of_length(fit.solution, (), sources, ends, (0.0, 0.0))
    return with_twin > 1.2 * alone


def _refit(fit: ScaleFit, observations: Observations) -> ScaleFit:
    # More observations can only rule twins out, so that only those still alive are tried.
    poses = []
    for index in range(observations.photos):
        cameras = [one.model.camera(one.state, index) for one in (fit.solution, *fit.twins)]
        poses.append([(camera.R, camera.t) for camera in cameras])
    values = fit.solution.state.values
    solution, twins = solve(observations, poses, values=values, seek_twins=False)
    again = replace(fit, solution=solution, twins=twins, observations=observations)
    _refuse_bad(again)
    return again


def _face_between(fit: ScaleFit, end_a: Floats, end_b: Floats) -> FacePrior:
    step = end_b - end_a
    middle = (end_a + end_b) / 2
    return face_prior(
        fit.setup,
        (float(middle[0]), float(middle[1])),
        float(np.linalg.norm(step)) / 2,
        math.atan2(float(step[1]), float(step[0])),
    )


def with_board_ends(
    fit: ScaleFit, end_a_mm: NDArray[np.float64], end_b_mm: NDArray[np.float64]
) -> ScaleFit:
    """Return the fit with bow and tilt of the face counted over the board's own length.

    Parameters
    ----------
    end_a_mm, end_b_mm
        Middles of both ends, (2,), rule frame. Points move by less than their U; U gets truer.
    """
    ends = mirrored(np.array([end_a_mm, end_b_mm]))
    return _refit(fit, replace(fit.observations, face=_face_between(fit, ends[0], ends[1])))


def with_taped_length(
    fit: ScaleFit, end_a_mm: NDArray[np.float64], end_b_mm: NDArray[np.float64], taped: Measured
) -> ScaleFit:
    """Return the fit with the board's taped length as one more observation.

    Parameters
    ----------
    end_a_mm, end_b_mm
        Middles of both ends, (2,), rule frame, as read off the flat face picture.
    taped
        The length between them.

    Raises
    ------
    PhotoError
        The taped length disproves the size of the rule (more than 3 sd off).
    """
    ends = mirrored(np.array([end_a_mm, end_b_mm]))
    points, pixels = [], []
    for index, end in enumerate((end_a_mm, end_b_mm)):
        photo = fit.source(np.asarray(end))
        pixel = fit.photo_from_face(photo, np.asarray(end)[None])[0]
        pixels.append((photo, pixel))
        seen = (photo, float(pixel[0]), float(pixel[1]), END_SD_PX)
        points.append(FacePoint((seen,), (float(ends[index][0]), float(ends[index][1]))))
    measured = float(np.linalg.norm(ends[1] - ends[0]))
    sd_seen = fit.u_between(np.asarray(end_a_mm), np.asarray(end_b_mm)) / 2
    sd_taped = max(0.5, taped.u_mm / 2)
    off = measured - taped.value_mm
    if abs(off) > 3 * math.hypot(sd_seen, sd_taped):
        what = "strip" if fit.kind == "strip" else "rule"
        raise PhotoError(
            f"By the {what} in {' and '.join(fit.names)} the board is {measured:.0f} mm long, but "
            f"it was taped as {taped.value_mm:.0f} mm ({100 * off / taped.value_mm:+.1f} %)",
            f"tape the board again, and give the true length of the {what}"
            + (" or print it again at 100 %" if what == "strip" else ""),
        )
    observations = replace(
        fit.observations,
        face=_face_between(fit, ends[0], ends[1]),
        points=(*fit.observations.points, *points),
        taped=(
            *fit.observations.taped,
            TapedDistance(
                len(fit.observations.points),
                len(fit.observations.points) + 1,
                taped.value_mm,
                sd_taped,
            ),
        ),
    )
    return _refit(fit, observations)


def with_face_points(fit: ScaleFit, points: tuple[FacePoint, ...]) -> ScaleFit:
    """Return the fit with face points that several photos show: they fix height and bow.

    ``start_mm`` of each is in the reference frame (y up).
    """
    return _refit(fit, replace(fit.observations, points=(*fit.observations.points, *points)))


def fit_scale(
    photos: tuple[Photo, ...], setup: Setup, progress: Callable[[float], None] | None = None
) -> ScaleFit:
    """Return the scale of one face from all its photos (shared lens, own poses).

    Raises
    ------
    PhotoError
        No reference in a photo, or one that the photo disproves.
    """
    report = progress or (lambda _share: None)
    priors = lens_priors(photos)
    doubts = [doubt for photo in photos for doubt in photo.doubts]
    seen = []
    for index, (photo, prior) in enumerate(zip(photos, priors, strict=True)):
        grey = grey_of(photo.pixels)
        if setup.rule is None:
            seen.append(Seen(photo.name, prior, markers=_strip_or_refuse(photo, grey)))
        else:
            corners = setup.corners if index == 0 else None
            seen.append(_rule_or_refuse(photo, prior, grey, setup, corners))
        report(0.7 * (index + 1) / len(photos))
    kind: RuleKind = "strip"
    if setup.rule is not None:
        kind = "tapped" if setup.corners is not None else "plain"
    return fit_seen(
        tuple(seen), setup, kind, tuple(doubts), lambda share: report(0.7 + 0.3 * share)
    )


def _strip_or_refuse(photo: Photo, grey: Bytes) -> SeenMarkers:
    markers = find_strip(photo, grey)
    if markers is None:
        raise PhotoError(
            f"No reference rule found in {photo.name}, so there is no scale",
            "lay the coded strip flat beside the board, all of it in view and not farther than "
            "about 1 mm per pixel, or say which plain rule lies there",
        )
    return markers


def _rule_or_refuse(
    photo: Photo, prior: LensPrior, grey: Bytes, setup: Setup, corners: Corners | None
) -> Seen:
    """Return the first bar of a photo that a camera above the floor can have seen as the rule."""
    found = find_rules(photo.name, grey, setup, corners)
    refusal: PhotoError | None = None
    for rules in found:
        seen = Seen(photo.name, prior, rules=rules)
        try:
            fit_seen((seen,), setup, "plain")
        except PhotoError as error:
            refusal = refusal or error
            continue
        return seen
    if corners is not None and refusal is not None:
        raise refusal
    raise PhotoError(f"No reference rule found in {photo.name}, so there is no scale", MEND)
