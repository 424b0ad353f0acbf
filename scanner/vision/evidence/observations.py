"""What the photos of one face tell, as values for the fit: marks, references, priors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# The terms of a lens that scans teach: log f, k1, k2, k3.
LEARNED = (0, 3, 4, 5)


@dataclass(frozen=True, slots=True)
class LensPrior:
    """What is known of the lens before the fit.

    Attributes
    ----------
    size_px
        Width and height of the photos.
    focal_px, sd_log_focal
        Focal length and its relative sd; a wide sd where EXIF says nothing.
    sd_centre_px
        Of the principal point about the middle of the picture.
    sd_focus, sd_stabiliser_px
        How far this photo's focal length (relative) and principal point stray from those that all
        photos of the face share: focus moves f, the stabiliser the principal point.
    """

    size_px: tuple[int, int]
    focal_px: float
    sd_log_focal: float
    sd_centre_px: float
    sd_focus: float = 0.003
    sd_stabiliser_px: float = 8.0
    # Phones seldom leave these bounds; with such priors the extra terms cost nothing and keep U
    # honest (geometry of the fit: k1, k2, k3, p1, p2).
    sd_terms: tuple[float, float, float, float, float] = (0.02, 0.01, 0.01, 0.0002, 0.0002)
    terms: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    spread: tuple[tuple[float, ...], ...] = ()

    @property
    def mixing(self) -> Floats:
        """The matrix (8, 8) that takes the lens's unit unknowns to log f, cx, cy, k1 ... p2."""
        centre = self.sd_centre_px
        out = np.diag([self.sd_log_focal, centre, centre, *self.sd_terms])
        if self.spread:
            out[np.ix_(LEARNED, LEARNED)] = self.spread
        return out

    @property
    def mean(self) -> Floats:
        """The lens vector f, cx, cy, k1, k2, k3, p1, p2 at the middle of the prior."""
        width, height = self.size_px
        return np.array([self.focal_px, (width - 1) / 2, (height - 1) / 2, *self.terms])


@dataclass(frozen=True, slots=True)
class Reference:
    """A thing of known size that lies beside or on the board.

    All sd are one standard deviation; mm unless said otherwise. A printed piece shares its scale
    and bleed with all others of one printing.

    Attributes
    ----------
    name
        For messages: ``strip A``, ``cross arm``, ``rule``.
    is_printed
        Coded paper (True) or a plain rule.
    size_mm
        Length and width.
    piece_mm
        Distance of the glued joints; None: no joints.
    height_mm, sd_height
        Of its marks over the floor, or over the face where ``on_face``.
    place, sd_place
        Its zero and turn (x, y, rad) in the reference frame; sd None: it is the frame itself,
        sd infinite: free.
    loose
        Joints (0 is the first) that slipped: nothing is known of them.
    odd
        Pieces (0 is the first) that were printed at another size than the others.
    """

    name: str
    is_printed: bool
    size_mm: tuple[float, float]
    piece_mm: float | None = None
    height_mm: float = 0.0
    sd_height: float = 0.3
    on_face: bool = False
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)
    sd_place: tuple[float, float, float] | None = None
    sd_joint: float = 0.3
    loose: tuple[int, ...] = ()
    odd: tuple[int, ...] = ()
    sd_sag: float = 1.0
    sd_crook: float = 1.0
    # A steel rule: 0.02 % along. Its width is typed or guessed by the caller.
    sd_along: float = 0.0002
    sd_across: float = 0.002
    # A plain rule's ends and long edges outwards: rounded edges, shadow beside them. Rendered
    # photos: 0.75 mm a long edge over all rules.
    bleed_mm: tuple[float, float] = (0.0, 0.0)
    sd_bleed: tuple[float, float] = (0.4, 0.8)
    # How much further out than taken the middle of its graduations lies: a line is read over a
    # depth that may be more than its own length, and both edges' lines err alike. On used-up
    # rendered photos 0.3 mm (sd 0.7) beside rules of 28 mm.
    sd_line: float = 0.7

    @property
    def joints(self) -> int:
        """Number of glued joints between its ends."""
        if self.piece_mm is None:
            return 0
        return max(0, round(self.size_mm[0] / self.piece_mm) - 1)


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Marks of one reference seen in one photo.

    Attributes
    ----------
    photo, reference
        Indices.
    points_mm
        (N, 2), on the reference's own frame as drawn.
    signs
        (N, 2), outward direction of ink bleed along x and y: -1, 0 or 1. Of a plain rule's
        graduations across it a share between: they were read between edges that are seen too far
        out.
    pixels
        (N, 2), where the mark was seen.
    directions
        (N, K, 2), unit vectors along which it was measured (K = 2: both ways; 1: across a line).
    sd_px
        (N,).
    groups
        (N,), marks that stand or fall together (the corners of one marker).
    """

    photo: int
    reference: int
    points_mm: Floats
    signs: Floats
    pixels: Floats
    directions: Floats
    sd_px: Floats
    groups: NDArray[np.int_]

    @property
    def are_graduations(self) -> NDArray[np.bool_]:
        """Which marks are lines inside the reference, no corner, end or edge of it, (N,)."""
        return np.asarray(np.abs(self.signs).max(axis=1) < 1)

    def only(self, keep: NDArray[np.bool_]) -> Marks:
        """Return the marks that are kept."""
        return Marks(
            self.photo,
            self.reference,
            self.points_mm[keep],
            self.signs[keep],
            self.pixels[keep],
            self.directions[keep],
            self.sd_px[keep],
            self.groups[keep],
        )


def corner_marks(
    photo: int,
    reference: int,
    points_mm: Floats,
    pixels: Floats,
    sd_px: Floats,
    signs: Floats,
    groups: NDArray[np.int_],
) -> Marks:
    """Return marks measured both ways: (N, 2) ``points_mm`` of the reference at (N, 2) ``pixels``.

    The others as in `Marks`.
    """
    both = np.broadcast_to(np.eye(2), (len(points_mm), 2, 2)).copy()
    return Marks(photo, reference, points_mm, signs, pixels, both, sd_px, groups)


class PointView(NamedTuple):
    """Where one photo shows a face point, px, and how surely.

    ``loose`` is a unit vector of the photo along which the place is known to ``loose_sd_px``
    only: grain looks alike a little further along.
    """

    photo: int
    x_px: float
    y_px: float
    sd_px: float
    loose: tuple[float, float] = (1.0, 0.0)
    loose_sd_px: float | None = None

    @property
    def weights(self) -> Floats:
        """The matrix (2, 2) that takes a distance in px to sd."""
        along = np.array(self.loose)
        across = np.array([-along[1], along[0]])
        return np.array([along / (self.loose_sd_px or self.sd_px), across / self.sd_px])


@dataclass(frozen=True, slots=True)
class FacePoint:
    """A point of the face as seen in one photo or in several.

    ``start_mm`` is its place to start from, in the reference frame (y up).
    """

    seen: tuple[PointView, ...]
    start_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class TapedDistance:
    """A distance between two face points (indices) as taped, mm, with one sd."""

    first: int
    second: int
    value_mm: float
    sd_mm: float


@dataclass(frozen=True, slots=True)
class FacePrior:
    """Where the face lies: its height and form before the fit.

    ``a`` = -1 to 1 along the board, ``b`` mm across it, from ``middle_mm`` at ``angle_rad``;
    height = thickness + dt + roll b + pitch a + crown (1 - a^2) + ends a^2. Where photos from
    several sides can tell it, cup (b / 100 mm)^2 + twist a b / 100 mm is added, both with mean 0:
    ``sd_form`` is the sd of the two, mm, or None.
    """

    thickness_mm: float
    sd_thickness: float
    middle_mm: tuple[float, float]
    half_length_mm: float
    angle_rad: float = 0.0
    sd_roll: float = 0.006
    sd_pitch: float = 1.0
    # Mean and sd of crown and ends for a bow of up to 5 mm that nobody measured: one of them is
    # nearly zero, the other anything up to 5.
    crown: tuple[float, float] = (1.25, 1.6)
    ends: tuple[float, float] = (1.25, 1.6)
    sd_form: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Everything that goes into one fit; ``lenses`` has one prior a photo.

    ``taped_strip`` = (length from zero to a joint line, as taped, sd) of the first reference.
    """

    lenses: tuple[LensPrior, ...]
    references: tuple[Reference, ...]
    marks: tuple[Marks, ...]
    face: FacePrior
    points: tuple[FacePoint, ...] = ()
    taped: tuple[TapedDistance, ...] = ()
    taped_strip: tuple[float, float, float] | None = None
    sd_print: tuple[float, float] = (0.002, 0.002)
    # Bleed along, and what is added across, before the fit: nothing, or as the codes show it.
    bleed_mm: tuple[float, float] = (0.0, 0.0)
    # Ink, blur and the camera's tone curve move all edges of black alike, printers a little
    # more one way than the other: sd of bleed along, and of what is added across. A narrow prior
    # on both would push the misfit into the tilt.
    sd_bleed: tuple[float, float] = (0.4, 0.25)
    # Mean and sd, along and across, of what each photo's own blur and tone curve add to it; one a
    # photo, or none. Two photos of one strip, one in the sun, were seen to differ by 0.4 mm: held
    # to be one, that turned a camera by a degree.
    own_bleed: tuple[tuple[tuple[float, float], tuple[float, float]], ...] = ()

    @property
    def photos(self) -> int:
        """Number of photos."""
        return len(self.lenses)
