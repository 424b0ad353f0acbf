"""Fit again with more that is known: the board's ends, its taped length, grain in two photos."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.vision.evidence.observations import FacePoint, FacePrior, PointView, TapedDistance
from scanner.vision.fit.face_prior import face_prior
from scanner.vision.fit.least_squares import solve
from scanner.vision.fit.scale_fit import END_SD_PX, ScaleFit, mirrored
from scanner.vision.fit.verdict import refuse_bad

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.board.measured import Measured
    from scanner.vision.evidence.observations import Floats, Observations


# Second moment about a flat board of a bow of up to 12 mm at its ends or its middle: a board
# that bows more is seen to, by anybody.
SEEN_BOW_SD_MM = 12.0 / math.sqrt(6)
# Cup and twist of a face at 100 mm from its middle line, mm: a board of 8 in that cups by a
# sixteenth of an inch and winds by an eighth is an everyday one (common practice, no source).
FORM_SD_MM = (1.5, 1.0)
# Cameras nearer together than this share of their height hardly see the face's height and bow.
WIDE_SPREAD = 0.35
# Of made scenes with a true tape one in fifty lies over 3 sd of a lone rule, whose tilt is seen
# badly; a metre taken for a yard lies over 15.
_WRONG_SD = 4.0
# Fewer matches than this share that agree mean that something was moved.
_FEWEST_AGREEING = 0.5
# A bow larger than told by so many sd is worth a sentence.
_FORM_SD = 2.5
_MOST_ROUNDS = 4


def _refit(fit: ScaleFit, observations: Observations) -> ScaleFit:
    # More observations can only rule twins out, so that only those still alive are tried.
    poses = []
    for index in range(observations.photos):
        cameras = [one.model.camera(one.state, index) for one in (fit.solution, *fit.twins)]
        poses.append([(camera.R, camera.t) for camera in cameras])
    values = fit.solution.state.values
    solution, twins = solve(observations, poses, values=values, seek_twins=False)
    again = replace(fit, solution=solution, twins=twins, observations=observations)
    refuse_bad(again)
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
        The taped length disproves the size of the rule (more than 4 sd off).
    """
    ends = mirrored(np.array([end_a_mm, end_b_mm]))
    points, pixels = [], []
    for index, end in enumerate((end_a_mm, end_b_mm)):
        photo = fit.source(np.asarray(end))
        pixel = fit.photo_from_face(photo, np.asarray(end)[None])[0]
        pixels.append((photo, pixel))
        seen = PointView(photo, float(pixel[0]), float(pixel[1]), END_SD_PX)
        points.append(FacePoint((seen,), (float(ends[index][0]), float(ends[index][1]))))
    measured = float(np.linalg.norm(ends[1] - ends[0]))
    sd_seen = fit.u_between(np.asarray(end_a_mm), np.asarray(end_b_mm)) / 2
    sd_taped = max(0.5, taped.u_mm / 2)
    off = measured - taped.value_mm
    if abs(off) > _WRONG_SD * math.hypot(sd_seen, sd_taped):
        what = "strip" if fit.kind == "strip" else "rule"
        raise PhotoError(
            f"By the {what} in {' and '.join(fit.names)} the board is {measured:.0f} mm long, but "
            f"it was taped as {taped.value_mm:.0f} mm ({100 * off / taped.value_mm:+.1f} %)",
            f"tape the board again, and give the true length of the {what}"
            + (" or print it again at 100 %" if what == "strip" else ""),
        )
    doubts = fit.doubts
    if abs(off) > 2 * math.hypot(sd_seen, sd_taped):
        doubts = (
            *doubts,
            f"the board is {measured:.0f} mm long by the photos, {taped.value_mm:.0f} mm by the "
            "tape, further apart than both allow: tape the board again",
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
    return replace(_refit(fit, observations), doubts=doubts)


def with_face_points(fit: ScaleFit, points: tuple[FacePoint, ...]) -> ScaleFit:
    """Return the fit with face points that several photos show: they fix height and bow.

    ``start_mm`` of each is in the reference frame (y up). Photos from different sides see the
    bow: they need no narrow guess of it, and none that leans to one side, so that a bow nobody
    measured may then be large. Points that disagree with the others by more than 4 sd were
    matched wrongly and are left out. Where the points change lengths by more than both fits
    allow, nobody can say which is right: every U then covers the difference, and a doubt says so.
    """
    face = fit.observations.face
    spread = _spread_of_cameras(fit)
    if spread > WIDE_SPREAD and (fit.setup.warp is None or not fit.setup.bow_known):
        face = replace(face, crown=(0.0, SEEN_BOW_SD_MM), ends=(0.0, SEEN_BOW_SD_MM))
    first = replace(fit.observations, face=face)
    matched = len(points)
    flat, points = _settled(fit, fit, first, points)
    # Cup and twist only now: one bad match at the face's rim would have passed for them.
    first = replace(first, face=replace(face, sd_form=FORM_SD_MM))
    again, kept = _settled(fit, flat, first, points)
    doubts = (*again.doubts, *_form_doubts(again))
    # Under the same guess of the bow, so that a bow that two sides see clearly is no disagreement.
    without = _refit(fit, first)
    apart = _apart_mm(without, again)
    if apart:
        p, q = fit.long_line()
        length = float(np.linalg.norm(q - p))
        again = replace(again, apart_rel=apart / length)
        doubts = (
            *doubts,
            f"the photos of this face disagree by {apart:.0f} mm over {length:.0f} mm of it, which "
            "the lengths' ± now covers: see that neither board nor strip is moved between them, or "
            "tape the board and give its length",
        )
    if spread <= WIDE_SPREAD:
        doubts = (
            *doubts,
            "all photos of this face were taken from nearly the same place: take one from the "
            "board's other side, and lengths get surer",
        )
    if len(kept) < _FEWEST_AGREEING * matched:
        doubts = (
            *doubts,
            "the photos of this face do not fit together: see that neither board nor strip is "
            "moved between them",
        )
    return replace(again, doubts=doubts)


def _settled(
    fit: ScaleFit, start: ScaleFit, first: Observations, points: tuple[FacePoint, ...]
) -> tuple[ScaleFit, tuple[FacePoint, ...]]:
    """Return the fit with those of the points that agree with it, and which these are.

    ``start`` is a fit of the same points, or of none, to set out from.
    """
    for _ in range(_MOST_ROUNDS):
        known = len(start.observations.points) in (
            len(first.points),
            len(first.points) + len(points),
        )
        again = _refit(start if known else fit, replace(first, points=(*first.points, *points)))
        kept = _agreeing(again, points, len(first.points))
        if len(kept) == len(points):
            break
        start, points = fit, kept
    return again, kept


def _apart_mm(without: ScaleFit, again: ScaleFit) -> float:
    """Return by how much two fits disagree about what lies at the face's ends; 0 within their U."""
    ends = np.array(without.long_line())
    sources = [without.source(end) for end in ends]
    there = np.vstack(
        [
            again.face_from_photo(source, without.photo_from_face(source, end[None]))
            for source, end in zip(sources, ends, strict=True)
        ]
    )
    before, after = (float(np.linalg.norm(two[1] - two[0])) for two in (ends, there))
    both = math.hypot(without.u_between(*ends), again.u_between(*there))
    return abs(after - before) if abs(after - before) > both else 0.0


def _spread_of_cameras(fit: ScaleFit) -> float:
    """Return the widest distance of two cameras' feet, over their height above the face."""
    photos = range(len(fit.sizes_px))
    eyes = np.array([fit.solution.model.camera(fit.solution.state, i).centre for i in photos])
    feet = eyes[:, None, :2] - eyes[None, :, :2]
    above = eyes[:, 2].mean() - fit.observations.face.thickness_mm
    return float(np.linalg.norm(feet, axis=2).max() / above)


def _form_doubts(fit: ScaleFit) -> tuple[str, ...]:
    """Return what to say where photos see the face bow more than the person said."""
    solution = fit.solution
    at = solution.model.blocks["face"].slice
    values = solution.model.value(solution.state, "face")[3:]
    unit = solution.model.unit[at][3:]
    sd = np.sqrt(np.diag(solution.covariance)[at][3:]) * unit
    if fit.setup.warp is not None and fit.setup.bow_known:
        told = np.array([fit.observations.face.crown[0], fit.observations.face.ends[0]])
        most, over = 0.0, np.abs(values - told)
    else:
        most, over = fit.setup.most_bow_mm, np.abs(values)
    worst = int(np.argmax(over / sd))
    if over[worst] - most < _FORM_SD * sd[worst]:
        return ()
    where = "middle" if worst == 0 else "ends"
    return (
        f"the photos show the board's {where} {abs(values[worst]):.0f} mm off the flat, more than "
        "was said or taken for granted",
    )


def _agreeing(fit: ScaleFit, points: tuple[FacePoint, ...], before: int) -> tuple[FacePoint, ...]:
    """Return the points whose every view fits; ``before`` others come first in the fit."""
    model, state = fit.solution.model, fit.solution.state
    world = model.face_world(state, model.points_mm(state)[before:])
    good = np.ones(len(points), dtype=bool)
    for index, point in enumerate(points):
        for view in point.seen:
            there = model.camera(state, view.photo).project(world[index][None])[0]
            off = view.weights @ (there - np.array([view.x_px, view.y_px]))
            good[index] &= bool(np.abs(off).max() <= _WRONG_SD)
    return tuple(point for point, agrees in zip(points, good, strict=True) if agrees)
