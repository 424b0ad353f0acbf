"""What passes between the stages of vision: `Photo`, `FacePicture`, `SawMarks`, `FaceScan` ..."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import RuleKind
from scanner.board.reading import FaceReading
from scanner.vision.evidence.lens_evidence import LensEvidence
from scanner.vision.evidence.told_length import ToldLength


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
    is_cropped
        True where the centre of the picture need not be the centre of the lens.
    """

    name: str
    pixels: NDArray[np.uint8]
    sha256: str
    focal_px: float | None
    camera: str
    is_original: bool
    doubts: tuple[str, ...] = ()
    is_cropped: bool = False

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
        U of where a well seen edge or flaw lies on the face, mm.
    seen
        (H, W) bool: pixels that some photo shows.
    grass
        (H, W) bool: pixels that show grass or lie right beside it; None where no lawn is.
    rule
        (H, W) bool: pixels that a photo shows, the rule or its batten in them, and so not `seen`;
        None where that is not known.
    foot_mm, side_share
        The point straight below the (first) camera, and thickness over camera height: the foot of a
        board's square side shows ``side_share`` times its distance from ``foot_mm`` nearer to that
        point than its arris. So a side shows beyond an arris that faces the foot, and only there.
    """

    pixels: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]
    u_scale: float
    u_point_mm: float
    seen: NDArray[np.bool_]
    foot_mm: tuple[float, float] | None = None
    side_share: float = 0.0
    grass: NDArray[np.bool_] | None = None
    rule: NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        self.pixels.setflags(write=False)
        self.seen.setflags(write=False)


@dataclass(frozen=True, slots=True)
class WoodColour:
    """The colour of a face's clear wood, rough as it lies, with the paper as white.

    Attributes
    ----------
    lab
        CIELAB: lightness (paper has 100), red against green, yellow against blue.
    spread
        How much the wood varies: the middle distance (delta E 1976) of 8 mm patches from ``lab``.
    """

    lab: tuple[float, float, float]
    spread: float


@dataclass(frozen=True, slots=True)
class SawMarks:
    """Stripes that a saw left across a face.

    Attributes
    ----------
    is_bowed
        True as a round saw leaves them, False straight; None where the face does not say which.
    bow_mm
        How far a stripe's middle lies off its ends along the board, over the face's width.
    lean
        Millimetres along the board per millimetre across.
    strong_mm
        From where to where along the face they stand out most, mm from the left in its own view.
    """

    is_bowed: bool | None
    bow_mm: float
    lean: float
    strong_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class FaceScan:
    """All that was read off one face: its flat picture, its reading, how it was scaled.

    Attributes
    ----------
    reading
        Outline, flaws, length, widths, crook in the face's own view.
    rule
        What gave the scale.
    photos
        Names of the photographs.
    doubts
        What the user should know, one sentence each.
    lens
        What the scan taught of the phone's lens.
    card
        Board number and face that the card at end A says; None where there was none.
    colour
        Of the clear wood of this rough face, against the strip's paper; None where no strip showed.
    sap_colour
        Of its sapwood where the face has both kinds.
    raking
        The face under a low lamp (or damp), pixel by pixel over ``picture``; None without one.
    saw_marks
        How saw marks run under the low lamp; None says nothing of whether there are any.
    told
        The length with what the other face shares of it; None where a tape told it.
    """

    picture: FacePicture
    reading: FaceReading
    rule: RuleKind
    photos: tuple[str, ...]
    u_scale: float
    quality: Literal["good", "rough"]
    doubts: tuple[str, ...] = ()
    lens: LensEvidence | None = None
    card: tuple[int, int] | None = None
    colour: WoodColour | None = None
    sap_colour: WoodColour | None = None
    raking: FacePicture | None = None
    saw_marks: SawMarks | None = None
    told: ToldLength | None = None
