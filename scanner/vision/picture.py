"""What passes between the stages of vision: `Photo`, `FacePicture`, `FaceScan`."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.board import RuleKind, Station
from scanner.board.flaw import Flaw
from scanner.board.measured import Measured


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photograph, upright.

    Attributes
    ----------
    name
        File name, for messages.
    pixels
        (H, W, 3) uint8 RGB, after the EXIF turn, full size.
    sha256
        Of the file's bytes.
    focal_px
        Focal length from EXIF in pixels of this picture, or None.
    camera
        "make model lens" as EXIF has it, or "".
    is_original
        False where sizes in EXIF disprove it, EXIF is missing or the picture was zoomed.
    """

    name: str
    pixels: NDArray[np.uint8]
    sha256: str
    focal_px: float | None
    camera: str
    is_original: bool
    doubts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self.pixels.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class FacePicture:
    """A face square on, at true scale, in the face's own view (as the person saw it).

    Attributes
    ----------
    pixels
        (H, W, 3) uint8 RGB; x of the face runs along columns.
    mm_per_px
        Millimetres per pixel, both ways.
    origin_mm
        Face mm of the centre of the first pixel.
    u_scale
        Relative U of lengths.
    u_point_mm
        U of a well seen point (an edge) next to the reference, mm.
    seen
        (H, W) bool: pixels that some photo shows.
    """

    pixels: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]
    u_scale: float
    u_point_mm: float
    seen: NDArray[np.bool_]

    def __post_init__(self) -> None:
        self.pixels.setflags(write=False)
        self.seen.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class FaceScan:
    """All that was read off one face, in the face's own view; x from its left (or zero) end.

    ``wane`` lies in ``flaws``; flaw outlines are keyed by 1 whatever the face will be.
    """

    picture: FacePicture
    outline: Polygon
    length: Measured
    widths: tuple[Station, ...]
    crook_mm: float
    flaws: tuple[Flaw, ...]
    rule: RuleKind
    photos: tuple[str, ...]
    outline_u_mm: float
    quality: Literal["good", "rough"]
    zero_end_known: bool
    doubts: tuple[str, ...] = ()
