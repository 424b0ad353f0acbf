"""What a fit knows of a face: points there and back, U of any length, advice."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

from scanner.vision.fit.lengths import (
    ADVICE,
    budget,
    face_from_photo,
    photo_from_face,
    rounded_u,
    u_of_length,
    u_of_points,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.board.board import RuleKind
    from scanner.vision.evidence.observations import Floats, Observations
    from scanner.vision.fit.least_squares import Solution
    from scanner.vision.setup import Setup

# How well an end or a knot is read off the flat picture, px.
END_SD_PX = 0.7
# A long edge is followed over many pixels, so that it is read off better (geometry of the fit: 0.3
# to 0.6 px).
EDGE_SD_PX = 0.4
# The outline is traced once more after the board was taped; its ends move by less than this.
_SAME_END_MM = 4.0
# How far a batten may stick out of its strip (it is 60 to 70 mm wide).
BATTEN_OVER_MM, BATTEN_BESIDE_MM = 30.0, 6.0


def mirrored(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points with y turned over: between the rule frame (down) and R (up)."""
    flat: Floats = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return np.column_stack([flat[:, 0], -flat[:, 1]])


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
    apart_rel
        By how much two kinds of evidence disagree about a long length, relative to it, where that
        is more than their joint U; every length's U covers it.
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
    apart_rel: float = 0.0

    def photo_from_face(self, index: int, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo px (N, 2) of face points (N, 2); NaN behind the camera."""
        return photo_from_face(self.solution, index, mirrored(points_mm))

    def face_from_photo(self, index: int, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return face points (N, 2) of photo px (N, 2); NaN above the horizon."""
        pixels = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        return mirrored(face_from_photo(self.solution, index, pixels))

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
        if len(self.sizes_px) == 1:
            return 0
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
        ends = mirrored(np.array([p_mm, q_mm], dtype=np.float64))
        taped = self._taped_between(ends)
        if taped is not None:
            return self.between_points(*taped)[1]
        sources = (self.source(np.asarray(p_mm)), self.source(np.asarray(q_mm)))
        u = u_of_length(self.solution, self.twins, sources, (ends[0], ends[1]), (sd_p_px, sd_q_px))
        apart = self.apart_rel * float(np.linalg.norm(ends[1] - ends[0]))
        return rounded_u(math.hypot(u, apart))

    def off_the_tape_mm(self, p_mm: NDArray[np.float64], q_mm: NDArray[np.float64]) -> float:
        """Return how much longer the board's ends as read lie apart than those taped; 0 untaped."""
        read = float(np.linalg.norm(np.asarray(q_mm) - np.asarray(p_mm)))
        places = self.solution.model.points_mm(self.solution.state)
        off = [
            read - float(np.linalg.norm(places[taped.second] - places[taped.first]))
            for taped in self.observations.taped
        ]
        return max(off, key=abs, default=0.0)

    def _taped_between(self, ends: Floats) -> tuple[int, int] | None:
        """Return the points of the fit where two face points are a taped length's own ends.

        They were read off the photo for the tape already: read once more, they err alike.
        """
        places = self.solution.model.points_mm(self.solution.state)
        for taped in self.observations.taped:
            both = places[[taped.first, taped.second]]
            off = [np.linalg.norm(one - ends, axis=1).max() for one in (both, both[::-1])]
            if min(off) < _SAME_END_MM:
                return taped.first, taped.second
        return None

    def between_points(self, first: int, second: int) -> tuple[float, float]:
        """Return the distance of two points given to `with_face_points`, and its U, mm."""
        value, u = u_of_points(self.solution, self.twins, first, second, self._scale_at_middle())
        return value, rounded_u(u)

    def _scale_at_middle(self) -> float:
        middle = mirrored(np.array([self.observations.face.middle_mm]))[0]
        return self.mm_per_px(self.source(middle), middle)

    def mm_per_px(self, index: int, point_mm: NDArray[np.float64]) -> float:
        """Return how many mm of the face one photo px covers at a face point."""
        point = mirrored(np.asarray(point_mm, dtype=np.float64)[None])
        slope = self.solution.model.place_slopes(self.solution.state, index, point)[0]
        return float(1.0 / math.sqrt(abs(np.linalg.det(slope))))

    def long_line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return two points 90 % of the board's (or reference's) length apart, rule frame."""
        face = self.observations.face
        along = np.array([math.cos(face.angle_rad), math.sin(face.angle_rad)])
        middle = np.array(face.middle_mm)
        reach = 0.9 * face.half_length_mm * along
        return mirrored((middle - reach)[None])[0], mirrored((middle + reach)[None])[0]

    @cached_property
    def u_scale(self) -> float:
        """Relative U of a long length, less what its two end points add."""
        p, q = self.long_line()
        length = float(np.linalg.norm(q - p))
        return self.u_between(p, q, sd_p_px=0.0, sd_q_px=0.0) / length

    def u_of_edge(self, p_mm: NDArray[np.float64], q_mm: NDArray[np.float64]) -> float:
        """Return U of where two well seen edges lie, mm, the face laid as well as it goes.

        A scale that is wrong between them moves each by half of what it puts on their distance;
        how each is read off the picture is its own.

        Parameters
        ----------
        p_mm, q_mm
            A point of each edge across from the other, (2,), rule frame.
        """
        apart = self.u_between(p_mm, q_mm, sd_p_px=0.0, sd_q_px=0.0)
        per_px = max(self.mm_per_px(self.source(at), at) for at in (p_mm, q_mm))
        return math.hypot(apart / 2, 2 * EDGE_SD_PX * per_px)

    @cached_property
    def u_point_mm(self) -> float:
        """U of the place of a well seen edge or flaw on a face 200 mm wide, mm."""
        middle = mirrored(np.array([self.observations.face.middle_mm]))[0]
        half = np.array([0.0, 100.0])
        return self.u_of_edge(middle - half, middle + half)

    @cached_property
    def largest_share(self) -> str:
        """What would make long lengths better, in a few words of advice."""
        if self.kind != "strip" and not self.observations.taped:
            return "type in the board's length as taped, or lay a second rule beside the board"
        p, q = self.long_line()
        ends = mirrored(np.array([p, q]))
        shares = budget(self.solution, (self.source(p), self.source(q)), (ends[0], ends[1]))
        if self.kind != "strip" or self.observations.taped_strip is not None:
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
        reference = self.observations.references[index]
        length, width = reference.size_mm
        over, beside = 0.0, 0.0
        if reference.is_printed and self.setup.batten_mm is not None:
            over, beside = BATTEN_OVER_MM, BATTEN_BESIDE_MM
        width += 2 * beside
        steps = np.linspace(-over, length + over, 24)
        sides = [(x, width / 2) for x in steps] + [(x, -width / 2) for x in steps[::-1]]
        return self.reference_px(index, photo, np.array(sides))

    def reference_px(self, index: int, photo: int, points: Floats) -> Floats:
        """Return photo px (N, 2) of points (N, 2) of a reference's own drawing, mm, y up."""
        model, state = self.solution.model, self.solution.state
        outline = next(m for m in self.observations.marks if m.reference == index)
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

    def rule_area_mm(self, index: int | None = None) -> Polygon:
        """Return where the references appear in the rule frame at face height, mm.

        They lie lower than the face, so every photo shifts them; without a photo's index this is
        the union.
        """
        seen = {marks.reference for marks in self.observations.marks}
        shapes = []
        for photo in range(len(self.sizes_px)) if index is None else (index,):
            for i in sorted(seen):
                there = self.face_from_photo(photo, self._reference_outline(i, photo))
                if np.isfinite(there).all():
                    shapes.append(Polygon(there).buffer(0))
        return unary_union(shapes)
