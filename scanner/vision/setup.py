"""What the person at the board said: reference, thickness, taped sizes."""

from dataclasses import dataclass
from typing import Literal

from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.vision.evidence.lens_evidence import LensEvidence


@dataclass(frozen=True, slots=True)
class RuleSize:
    """A plain rule's length, width and thickness in mm; width and thickness may be unknown."""

    length_mm: float
    width_mm: float | None = None
    thickness_mm: float | None = None


# Of a rough board that a person would still take for a straight one (see `Setup.most_bow_mm`).
USUAL_MOST_BOW_MM = 5.0

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Setup:
    """How one face was photographed.

    Attributes
    ----------
    thickness
        Of the board; the face lies this high over the floor.
    rule, rule2
        Plain rules in the picture; None: look for the coded strip.
    rule_on
        Where the strip or rule lies.
    batten_mm
        Thickness of the batten under the strip (None: on the floor itself).
    strip_taped
        Strip length from zero to the last joint line as taped after gluing.
    taped
        The board's length as taped along its mid-width.
    warp
        Bow, cup, twist as entered, or None.
    most_bow_mm
        What a bow that nobody measured is at most; U answers for it.
    bow_known
        False where ``warp`` tells of cup or twist only.
    lenses
        What former scans taught of some phones' lenses.
    corners
        Four tapped corners of the plain rule, photo px, round the rule from its zero end.
    """

    thickness: Measured
    rule: RuleSize | None = None
    rule2: RuleSize | None = None
    rule_on: Literal["floor", "face"] = "floor"
    batten_mm: float | None = None
    strip_taped: Measured | None = None
    taped: Measured | None = None
    warp: Warp | None = None
    corners: Corners | None = None
    most_bow_mm: float = USUAL_MOST_BOW_MM
    bow_known: bool = True
    lenses: tuple[LensEvidence, ...] = ()
