"""What ``board.json`` may hold, field by field."""

import unicodedata
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, model_validator
from shapely import make_valid
from shapely.geometry import LineString, Polygon

from scanner.board.flaw import FlawKind, FlawState
from scanner.board.volume import LONGEST_MM, WIDEST_MM
from scanner.files.looks_row import LabRow, LooksRow
from scanner.files.rows import Row
from scanner.geometry.polygons import polygon_of

# A place on a board, or not far off it: beyond this pixels and millimetres no longer count out.
Place = Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM)]
Point = tuple[float, float]
NotNegative = Annotated[float, Field(ge=0)]
Positive = Annotated[float, Field(gt=0)]
# Of a board: beyond the longest board no length means anything.
Reach = Annotated[float, Field(ge=0, le=LONGEST_MM)]
FaceName = Literal["1", "2"]
# Ids become parts of file names: no separators, nothing hidden.
BoardId = Annotated[str, Field(pattern=r"^\w[\w.\-]{0,39}$")]


def file_key(id: str) -> str:
    """Return what two ids share where a system takes their files for one.

    Many tell capitals and small letters, or an accent written as its own sign, not apart.
    """
    return unicodedata.normalize("NFC", id).casefold()


# Rounding to 0.01 mm may make a ring touch itself; a ring that loses more than this is no outline.
_REPAIR_MAY_LOSE = 0.05


def ring_with_area(points: list[Point]) -> list[Point]:
    """Return a ring that encloses an area without crossing itself.

    Raises
    ------
    ValueError
        It does not.
    """
    if len(points) < 3:
        raise ValueError("encloses no area (give its corners in order)")
    # The ground of a larger one would fill all memory.
    for side, most in enumerate((LONGEST_MM, WIDEST_MM)):
        reach = max(point[side] for point in points) - min(point[side] for point in points)
        if reach > most:
            raise ValueError(
                f"reaches over {reach / 1000:.4g} m (a board is at most"
                f" {LONGEST_MM / 1000:g} x {WIDEST_MM / 1000:g} m; lengths are in mm)"
            )
    if any(abs(value) > 2 * LONGEST_MM for point in points for value in point):
        raise ValueError(f"lies {2 * LONGEST_MM / 1000:g} m or more away from the board's corner")
    raw = Polygon(np.asarray(points, dtype=np.float64))
    if raw.is_valid and raw.area > 0:
        return points
    kept = polygon_of(points).area
    whole = make_valid(raw).area
    if kept <= 0:
        raise ValueError("encloses no area (give its corners in order)")
    if kept < (1 - _REPAIR_MAY_LOSE) * whole:
        raise ValueError("crosses itself (give its corners in order)")
    return points


# Far above any sawn board, and above what a list of typed boards takes: a file may hold a beam.
_THICKEST_MM = 500.0
# A length is measured along the middle; ends out of square and a crooked board's other ways to lay
# the tape differ by this share at most.
_OTHER_TAPE = 0.01
_OTHER_TAPE_MM = 5.0
# Wane takes some of one face; of two faces of one board much more than this lies over each other.
_LEAST_SHARED = 0.5


def _midwise_mm(shape: Polygon) -> float:
    """Return how long an outline is along x, at the middle between its sides."""
    x0, y0, x1, y1 = shape.bounds
    y = (y0 + y1) / 2
    across = shape.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
    return float(across.bounds[2] - across.bounds[0]) if not across.is_empty else 0.0


Ring = Annotated[list[Point], Field(min_length=3), AfterValidator(ring_with_area)]


class MeasuredRow(Row):
    """A length and its U, mm; neither is longer than any board."""

    value: Annotated[float, Field(gt=0, le=LONGEST_MM)]
    u: Reach


class ThicknessRow(MeasuredRow):
    """How thick a board is, mm."""

    value: Annotated[float, Field(gt=0, le=_THICKEST_MM)]
    u: Annotated[float, Field(ge=0, le=_THICKEST_MM)]


class StationRow(Row):
    """Width at a place."""

    x: Place
    value: Annotated[float, Field(gt=0, le=WIDEST_MM)]
    u: Annotated[float, Field(ge=0, le=WIDEST_MM)]


class FlawRow(Row):
    """One flaw; ``outlines`` by face."""

    id: Annotated[str, Field(min_length=1)]
    kind: FlawKind
    sound: bool | None
    through: bool
    outlines: Annotated[dict[FaceName, Ring], Field(min_length=1)]
    reach: Reach | None
    state: FlawState
    score: Annotated[float, Field(ge=0, le=1)] | None
    reason: str | None
    u: Reach


class EndRow(Row):
    """An end; ``trim`` only where the user set it."""

    looked_over: bool
    trim: Reach | None


class EndsRow(Row):
    """Both ends."""

    A: EndRow
    B: EndRow


class FaceRow(Row):
    """How a face was photographed."""

    looked_over: bool
    photos: list[str]
    picture: str | None
    mm_per_px: Annotated[float, Field(ge=0.001, le=100)] | None
    picture_origin: tuple[Place, Place] | None
    rule: Literal["strip", "plain", "tapped", "given"]
    # Relative; a face known to a tenth only is not measured.
    u_scale: Annotated[float, Field(ge=0, le=0.1)]

    @model_validator(mode="after")
    def _picture_has_its_place(self) -> "FaceRow":
        if self.picture is not None and (self.mm_per_px is None or self.picture_origin is None):
            raise ValueError("has a picture but no mm_per_px or picture_origin")
        if self.picture is not None and Path(self.picture).name != self.picture:
            raise ValueError("names a picture outside its own folder")
        return self


class SecondFaceRow(FaceRow):
    """Face 2 also says how the board was turned over."""

    turned: Literal["sideways", "end_over_end"]


class FacesRow(Row):
    """Both faces."""

    first: FaceRow = Field(alias="1")
    second: SecondFaceRow = Field(alias="2")


class OutlineRow(Row):
    """The flat face of both faces, board frame."""

    first: Ring = Field(alias="1")
    second: Ring = Field(alias="2")


class WarpRow(Row):
    """Warp, mm; positive: face 1 hollow. ``sign_known`` false: either way; null: not measured."""

    bow: Place | None = None
    cup: Place | None = None
    twist: Place | None = None
    crook: Place | None = None
    sign_known: bool = True


class SeenPieceRow(Row):
    """A piece of the board that a later photo showed: where it lay, how thick it was.

    ``lab``: CIELAB of its clear wood against white paper, of the face as it was then.
    """

    face: Literal[1, 2]
    x: Place
    y: Place
    length: Annotated[float, Field(gt=0)]
    width: Annotated[float, Field(gt=0)]
    thickness: ThicknessRow | None = None
    lab: LabRow | None = None


class BoardRow(Row):
    """``board.json``."""

    format: Literal["board"]
    version: Literal[1]
    id: BoardId
    species: str
    thickness: ThicknessRow
    length: MeasuredRow
    widths: Annotated[list[StationRow], Field(min_length=5, max_length=5)]
    quality: Literal["good", "rough"]
    outline: OutlineRow
    outline_u: Reach
    flaws: list[FlawRow]
    ends: EndsRow
    faces: FacesRow
    # From here on a field may be null or missing.
    warp: WarpRow | None = None
    sapwood: dict[FaceName, list[Ring]] | None = None
    only_parts: list[str] | None = None
    keep_whole: bool | None = None
    price: NotNegative | None = None
    moisture: Annotated[float, Field(ge=0, le=200)] | None = None
    bought: str | None = None
    notes: list[str] | None = None
    looks: LooksRow | None = None
    slope_one_in: Annotated[float, Field(gt=0)] | None = None
    pieces: list[SeenPieceRow] | None = None

    @model_validator(mode="after")
    def _flaw_ids_differ(self) -> "BoardRow":
        ids = [flaw.id for flaw in self.flaws]
        twice = sorted({name for name in ids if ids.count(name) > 1})
        if twice:
            raise ValueError(f"flaws has the id {twice[0]} twice (give each flaw its own id)")
        return self

    @model_validator(mode="after")
    def _faces_lie_over_each_other(self) -> "BoardRow":
        first, second = polygon_of(self.outline.first), polygon_of(self.outline.second)
        least = _LEAST_SHARED * min(first.area, second.area)
        if first.intersection(second).area < least:
            raise ValueError(
                "the outlines of the faces do not lie over each other (give both as seen from"
                " face 1, from one corner)"
            )
        return self

    @model_validator(mode="after")
    def _length_is_the_outline_s(self) -> "BoardRow":
        shape = polygon_of(self.outline.first)
        x0, _, x1, _ = shape.bounds
        length = self.length.value
        may = self.length.u + self.outline_u + max(_OTHER_TAPE_MM, _OTHER_TAPE * length)
        whole, middle = x1 - x0, _midwise_mm(shape)
        if not min(whole, middle) - may <= length <= max(whole, middle) + may:
            raise ValueError(
                f"length is {length:.0f} mm, but the outline of face 1 is {whole:.0f} mm long"
            )
        return self
