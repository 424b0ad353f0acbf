"""Find the reference (coded strip or plain rule), fit the camera; every length with its U."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

from scanner.errors import PhotoError
from scanner.vision.assemble import FEWEST_MARKERS, Seen, SeenMarkers, assemble, face_prior
from scanner.vision.cv import Bytes, grey_of
from scanner.vision.fit import Solution, solve
from scanner.vision.lengths import (
    ADVICE,
    budget,
    face_from_photo,
    photo_from_face,
    rounded_u,
    u_of_length,
    u_of_points,
)
from scanner.vision.observations import FacePoint, FacePrior, LensPrior, TapedDistance
from scanner.vision.rule import find_rules
from scanner.vision.strip import find_strip

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from scanner.board.board import RuleKind
    from scanner.board.measured import Measured
    from scanner.vision.observations import Floats, Observations
    from scanner.vision.picture import Photo
    from scanner.vision.setup import Setup

WORST_MISFIT = 9.0
DOUBTFUL_MISFIT = 2.5
MOST_DROPPED = 0.2
NEAREST_MM = 400.0
MOST_TILT_DEG = 65.0
END_SD_PX = 0.7
# Phones write the focal length rounded and up to 4 % off (2.3 % as one sd).
EXIF_FOCAL_SD = 0.023
CENTRE_SD_SHARE = 0.007
FREE_FOCAL_SD = 0.3


@dataclass(frozen=True, eq=False)
class ScaleFit:
    """The cameras of one face's photos and what they know of the face.

    Rule frame: mm on the board's face, x along the strip or rule from its zero mark, y down as in
    a picture seen from above (minus the y of the reference frame, which points up).

    Attributes
    ----------
    kind
        ``strip``, ``plain`` or ``tapped``.
    doubts
        Sentences for the user.
    solution, twins
        The fit, and mirror twins that the photos cannot rule out.
    observations, setup
        What it was made of; refits start from them.
    sizes_px
        (width, height) of each photo.
    """

    kind: RuleKind
    doubts: tuple[str, ...]
    solution: Solution
    twins: tuple[Solution, ...]
    observations: Observations
    setup: Setup
    names: tuple[str, ...]
    sizes_px: tuple[tuple[int, int], ...]
    corners: tuple[tuple[float, float], ...]

    def photo_from_face(self, index: int, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo px (N, 2) of face points (N, 2); NaN behind the camera."""
        return photo_from_face(self.solution, index, _mirrored(points_mm))

    def face_from_photo(self, index: int, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return face points (N, 2) of photo px (N, 2); NaN above the horizon."""
        pixels = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        return _mirrored(face_from_photo(self.solution, index, pixels))

    def sees(self, index: int, points_mm: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which face points (N, 2) lie inside a photo."""
        pixels = self.photo_from_face(index, points_mm)
        width, height = self.sizes_px[index]
        inside = (pixels >= 0).all(axis=1) & (pixels[:, 0] <= width - 1)
        inside &= pixels[:, 1] <= height - 1
        # Far outside its range the lens polynomial folds back into the picture.
        back = self.face_from_photo(index, np.nan_to_num(pixels))
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        folded = ~(np.abs(back - points).max(axis=1) < 1.0)
        return np.asarray(inside & ~folded)

    def foot_mm(self, index: int) -> NDArray[np.float64]:
        """Return the point straight below a photo's camera, (2,), rule frame."""
        centre = self.solution.model.camera(self.solution.state, index).centre
        return np.array([centre[0], -centre[1]])

    def side_share(self, index: int) -> float:
        """Return the board's thickness over a camera's height above the floor."""
        centre = self.solution.model.camera(self.solution.state, index).centre
        return self.setup.thickness.value_mm / float(centre[2])

    def source(self, point_mm: NDArray[np.float64]) -> int:
        """Return the photo that the flat picture takes a point from: the nearest that sees it."""
        point = np.asarray(point_mm, dtype=np.float64)
        photos = range(len(self.sizes_px))
        seeing = [index for index in photos if self.sees(index, point[None])[0]] or list(photos)
        return min(seeing, key=lambda index: float(np.linalg.norm(self.foot_mm(index) - point)))

    def u_between(
        self,
        p_mm: NDArray[np.float64],
        q_mm: NDArray[np.float64],
        *,
        sd_p_px: float = END_SD_PX,
        sd_q_px: float = END_SD_PX,
    ) -> float:
        """Return U (95 %), mm, of the distance of two face points; never below 0.5.

        Each point is taken as read off the flat face picture, so off the photo nearest to it;
        ``sd_p_px``, ``sd_q_px`` is how well it was read there, along the line between them.
        """
        ends = _mirrored(np.array([p_mm, q_mm], dtype=np.float64))
        sources = (self.source(np.asarray(p_mm)), self.source(np.asarray(q_mm)))
        u = u_of_length(self.solution, self.twins, sources, (ends[0], ends[1]), (sd_p_px, sd_q_px))
        return rounded_u(u)

    def between_points(self, first: int, second: int) -> tuple[float, float]:
        """Return the distance of two points given to `with_face_points`, and its U, mm."""
        value, u = u_of_points(self.solution, self.twins, first, second, self._scale_at_middle())
        return value, rounded_u(u)

    def _scale_at_middle(self) -> float:
        middle = _mirrored(np.array([self.observations.face.middle_mm]))[0]
        return self.mm_per_px(self.source(middle), middle)

    def mm_per_px(self, index: int, point_mm: NDArray[np.float64]) -> float:
        """Return how many mm of the face one photo px covers at a face point."""
        point = _mirrored(np.asarray(point_mm, dtype=np.float64)[None])
        slope = self.solution.model.place_slopes(self.solution.state, index, point)[0]
        return float(1.0 / math.sqrt(abs(np.linalg.det(slope))))

    def _long_line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        face = self.observations.face
        along = np.array([math.cos(face.angle_rad), math.sin(face.angle_rad)])
        middle = np.array(face.middle_mm)
        reach = 0.9 * face.half_length_mm * along
        return _mirrored((middle - reach)[None])[0], _mirrored((middle + reach)[None])[0]

    @cached_property
    def u_scale(self) -> float:
        """Relative U of a long length, less what its two end points add."""
        p, q = self._long_line()
        length = float(np.linalg.norm(q - p))
        return self.u_between(p, q, sd_p_px=0.0, sd_q_px=0.0) / length

    @cached_property
    def u_point_mm(self) -> float:
        """U of the place of one well seen edge near the reference's middle, mm."""
        middle = _mirrored(np.array([self.observations.face.middle_mm]))[0]
        across = self.u_between(
            middle - np.array([0.0, 100.0]),
            middle + np.array([0.0, 100.0]),
            sd_p_px=0.4,
            sd_q_px=0.4,
        )
        return across / math.sqrt(2.0)

    @cached_property
    def largest_share(self) -> str:
        """What would make long lengths better, in a few words of advice."""
        p, q = self._long_line()
        ends = _mirrored(np.array([p, q]))
        shares = budget(self.solution, (self.source(p), self.source(q)), (ends[0], ends[1]))
        if self.kind != "strip":
            shares.pop("print", None)
            if not self.observations.taped:
                return "type in the board's length as taped, or lay a second rule beside the board"
        if self.observations.taped_strip is not None:
            shares.pop("print", None)
        return ADVICE[max(shares, key=lambda group: shares[group])]

    @property
    def tilt_deg(self) -> float:
        """The steepest tilt of the photos."""
        photos = range(len(self.sizes_px))
        return max(
            self.solution.model.camera(self.solution.state, index).tilt_deg for index in photos
        )

    def _reference_outline(self, index: int, photo: int) -> Floats:
        """Return the outline of a reference in a photo, px."""
        model, state = self.solution.model, self.solution.state
        length, width = self.observations.references[index].size_mm
        steps = np.linspace(0.0, length, 24)
        sides = [(x, width / 2) for x in steps] + [(x, -width / 2) for x in steps[::-1]]
        outline = next(m for m in self.observations.marks if m.reference == index)
        points = np.array(sides)
        marks = replace(
            outline,
            points_mm=points,
            signs=np.zeros_like(points),
            pixels=points,
            directions=np.zeros((len(points), 1, 2)),
            sd_px=np.ones(len(points)),
            groups=np.arange(len(points)),
        )
        outline_px: Floats = model.camera(state, photo).project(model.marks_world(state, marks))
        return outline_px

    def rule_area(self, index: int) -> Polygon:
        """Return the strip or rule (all references) in a photo, px."""
        seen = {marks.reference for marks in self.observations.marks}
        shapes = [Polygon(self._reference_outline(i, index)) for i in sorted(seen)]
        return unary_union([shape.buffer(0) for shape in shapes])

    def rule_area_mm(self) -> Polygon:
        """Return where the references appear in the rule frame at face height, mm.

        They lie lower than the face, so every photo shifts them; this is the union.
        """
        seen = {marks.reference for marks in self.observations.marks}
        shapes = []
        for photo in range(len(self.sizes_px)):
            for i in sorted(seen):
                there = self.face_from_photo(photo, self._reference_outline(i, photo))
                if np.isfinite(there).all():
                    shapes.append(Polygon(there).buffer(0))
        return unary_union(shapes)


def _mirrored(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points with y turned over: between the rule frame (down) and R (up)."""
    return np.asarray(points, dtype=np.float64).reshape(-1, 2) * np.array([1.0, -1.0])


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


def lens_priors(photos: tuple[Photo, ...]) -> tuple[LensPrior, ...]:
    """Return the priors of several photos; photos of another lens or shape share less."""
    priors = [lens_prior(photo) for photo in photos]
    first = priors[0]
    for index, prior in enumerate(priors):
        share = prior.focal_px / first.focal_px
        if photos[index].camera != photos[0].camera or abs(share - 1) > 0.02:
            priors[index] = replace(prior, sd_focus=prior.sd_log_focal)
        if prior.size_px != first.size_px:
            priors[index] = replace(priors[index], sd_stabiliser_px=prior.sd_centre_px)
    return tuple(priors)


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
    p, q = fit._long_line()
    ends = _mirrored(np.array([p, q]))
    if fit.twins and _twin_matters(fit, (ends[0], ends[1])):
        out.append("two tilts of the camera fit this photo: take a second one from another side")
    sd = solution.state.values[solution.model.blocks["lens"].slice][0]
    if abs(sd) > 3 and observations.lenses[0].sd_log_focal < 0.1:
        out.append("the focal length in the photo does not fit what is seen: is it cropped?")
    return tuple(out)


def _twin_matters(fit: ScaleFit, ends: tuple[Floats, Floats]) -> bool:
    sources = (fit.source(_mirrored(ends[0][None])[0]), fit.source(_mirrored(ends[1][None])[0]))
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
    ends = _mirrored(np.array([end_a_mm, end_b_mm]))
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
    ends = _mirrored(np.array([end_a_mm, end_b_mm]))
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
            rules = find_rules(
                photo.name, grey, setup, corners=setup.corners if not index else None
            )
            seen.append(Seen(photo.name, prior, rules=rules))
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
