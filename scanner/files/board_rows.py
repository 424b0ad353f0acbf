"""What ``board.json`` may hold, field by field."""

import unicodedata
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, model_validator
from shapely import make_valid
from shapely.geometry import Polygon

from scanner.board.flaw import FlawKind, FlawState
from scanner.board.volume import LONGEST_MM, WIDEST_MM
from scanner.files.looks_row import LabRow, LooksRow
from scanner.files.rows import Row
from scanner.geometry.polygons import polygon_of

Point = tuple[float, float]
NotNegative = Annotated[float, Field(ge=0)]
Positive = Annotated[float, Field(gt=0)]
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


Ring = Annotated[list[Point], Field(min_length=3), AfterValidator(ring_with_area)]


class MeasuredRow(Row):
    """A length and its U, mm."""

    value: Positive
    u: NotNegative


class StationRow(Row):
    """Width at a place."""

    x: float
    value: Positive
    u: NotNegative


class FlawRow(Row):
    """One flaw; ``outlines`` by face."""

    id: Annotated[str, Field(min_length=1)]
    kind: FlawKind
    sound: bool | None
    through: bool
    outlines: Annotated[dict[FaceName, Ring], Field(min_length=1)]
    reach: NotNegative | None
    state: FlawState
    score: Annotated[float, Field(ge=0, le=1)] | None
    reason: str | None
    u: NotNegative


class EndRow(Row):
    """An end; ``trim`` only where the user set it."""

    looked_over: bool
    trim: NotNegative | None


class EndsRow(Row):
    """Both ends."""

    A: EndRow
    B: EndRow


class FaceRow(Row):
    """How a face was photographed."""

    looked_over: bool
    photos: list[str]
    picture: str | None
    mm_per_px: Positive | None
    picture_origin: Point | None
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
    """Warp, mm; positive: face 1 hollow. ``sign_known`` false: either way."""

    bow: float = 0.0
    cup: float = 0.0
    twist: float = 0.0
    crook: float = 0.0
    sign_known: bool = True


class SeenPieceRow(Row):
    """A piece of the board that a later photo showed: where it lay, how thick it was.

    ``lab``: CIELAB of its clear wood against white paper, of the face as it was then.
    """

    face: Literal[1, 2]
    x: float
    y: float
    length: Annotated[float, Field(gt=0)]
    width: Annotated[float, Field(gt=0)]
    thickness: MeasuredRow | None = None
    lab: LabRow | None = None


class BoardRow(Row):
    """``board.json``."""

    format: Literal["board"]
    version: Literal[1]
    id: BoardId
    species: str
    thickness: MeasuredRow
    length: MeasuredRow
    widths: Annotated[list[StationRow], Field(min_length=5, max_length=5)]
    quality: Literal["good", "rough"]
    outline: OutlineRow
    outline_u: NotNegative
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
