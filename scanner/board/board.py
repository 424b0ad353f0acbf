"""`Face`, `End` and `Board`: two faces in one frame (the board frame of `geometry.frames`, mm)."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.board.form import Warp
from scanner.board.looks import Looks
from scanner.board.measured import Measured
from scanner.board.seen_piece import SeenPiece

Turned = Literal["sideways", "end_over_end"]
RuleKind = Literal["strip", "plain", "tapped", "given"]


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a board, in the board frame (face 2 as seen through the board).

    Attributes
    ----------
    outline
        The flat face to the arris, wane excluded.
    picture
        File name of the flat picture, or None for a board given without photos.
    picture_origin
        Board mm of the centre of the picture's first pixel.
    u_scale
        Relative U of the scale: of places along the board by their x, across it by their y.
    """

    outline: Polygon
    looked_over: bool = False
    photos: tuple[str, ...] = ()
    picture: str | None = None
    mm_per_px: float | None = None
    picture_origin: tuple[float, float] | None = None
    rule: RuleKind = "given"
    u_scale: float = 0.0


@dataclass(frozen=True, slots=True)
class End:
    """An end of the board: whether the user looked at it, and the trim the user set (mm)."""

    looked_over: bool = False
    trim_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Station:
    """A width at a place: x from end A in mm, and the width there."""

    x_mm: float
    width: Measured


@dataclass(frozen=True, slots=True)
class Board:
    """A board with both faces laid over each other.

    ``faces`` has the keys 1 and 2; a board of which one face was seen has that face twice in
    geometry but only one ``looked_over``. Lengths are mm, board frame. ``grain_deg`` is the course
    of the grain, from x towards y; no file holds it, it is read when a part asks to follow it.
    ``looks`` are those of the rough faces. ``slope_one_in`` is N of the steepest slope, 1 in N,
    that the grain may have through the board, as a photo of an edge told it. ``pieces`` are those
    that a photo showed again after they were cut or planed.
    """

    id: str
    species: str
    thickness: Measured
    length: Measured
    widths: tuple[Station, ...]
    faces: Mapping[int, Face]
    flaws: tuple[Flaw, ...] = ()
    ends: Mapping[str, End] = field(default_factory=lambda: {"A": End(), "B": End()})
    outline_u_mm: float = 1.0
    quality: Literal["good", "rough"] = "good"
    turned: Turned = "sideways"
    warp: Warp | None = None
    sapwood: Mapping[int, tuple[Polygon, ...]] | None = None
    only_parts: tuple[str, ...] | None = None
    keep_whole: bool = False
    price: float | None = None
    moisture: float | None = None
    bought: str | None = None
    notes: tuple[str, ...] = ()
    grain_deg: float | None = None
    looks: Looks | None = None
    slope_one_in: float | None = None
    pieces: tuple[SeenPiece, ...] = ()

    @property
    def is_looked_over(self) -> bool:
        """Whether the user has looked over both faces."""
        return all(face.looked_over for face in self.faces.values())

    def flaws_on(self, face: int) -> tuple[Flaw, ...]:
        """Return the flaws that show on a face, struck ones too."""
        return tuple(flaw for flaw in self.flaws if face in flaw.outlines)

    def wood(self, face: int) -> Polygon:
        """Return the wood of a face: outline plus the wane of that face."""
        shape = self.faces[face].outline
        for flaw in self.flaws:
            if flaw.kind is FlawKind.WANE and flaw.counts and face in flaw.outlines:
                shape = shape.union(flaw.outlines[face].buffer(0.01))
        if shape.geom_type != "Polygon":
            shape = max(shape.geoms, key=lambda piece: piece.area)
        return Polygon(shape.exterior)

    def with_flaws(self, flaws: tuple[Flaw, ...]) -> "Board":
        """Return the same board with other flaws."""
        return replace(self, flaws=flaws)
